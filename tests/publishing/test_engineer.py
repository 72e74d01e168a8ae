"""The engineer's file: every joint once, each derivation once, no rounding noise, and fields for who decides."""

from __future__ import annotations

from dataclasses import replace

from assembler.catalogue.tables import references
from assembler.engineering.calculation import WorksheetRow
from assembler.engineering.loads import CarriedLoad
from assembler.publishing.engineer import HEADS, engineers_file
from assembler.publishing.source import Source
from tests.publishing import sample
from tests.publishing.conftest import Written


def test_every_joint_is_one_row_with_all_its_numbers(source: Source) -> None:
    rows = engineers_file(source).joints
    assert [row.joint for row in rows] == [joint.id for joint in sample.JOINTS]
    bolted = next(row for row in rows if row.joint == "J02")
    cells = dict(zip(HEADS, bolted.cells, strict=True))
    assert cells["bolts"] == "6 × M8 × 40"
    assert cells["torque"].endswith("N·m")
    assert cells["preload"].endswith("N")
    assert cells["area"] == f"{sample.BY_ID['J02'].bond_area_mm2 / 100:.0f} cm²"


def test_what_is_calculated_alike_is_derived_once(source: Source) -> None:
    def row(about: str, quantity: str, result: str) -> WorksheetRow:
        return WorksheetRow(
            code=quantity,
            about=about,
            quantity=quantity,
            formula="",
            inputs="",
            result=result,
            unit="",
            source=quantity,
        )

    sheets = {
        joint.id: (
            *(row(bolt.id, "length", f"{bolt.grip_mm:g}") for bolt in joint.bolts[:1]),
            *([row(joint.id, "open_time", "21")] if joint.method.is_bonded else []),
        )
        for joint in sample.JOINTS
    }
    file = engineers_file(replace(source, worksheets=sheets))
    shown = [tuple((row.quantity, row.inputs, row.result) for row in one.rows) for one in file.derivations]
    assert len(shown) == len(set(shown))
    grips = {joint.bolts[0].grip_mm for joint in sample.JOINTS if joint.bolts}
    assert len(file.derivations) == len(grips) + 1
    numbers = {number for number, _ in file.sources}
    assert {row.source for one in file.derivations for row in one.rows} <= numbers


def test_stress_that_is_rounding_noise_is_not_printed(source: Source) -> None:
    noise = WorksheetRow(
        code="peel",
        about="J01",
        quantity="greatest peel",
        formula="",
        inputs="",
        result="3.7e-11",
        unit="MPa",
        source="none",
    )
    joint = next(joint for joint in sample.JOINTS if joint.method.is_bonded)
    sheets = {joint.id: (*sample.WORKSHEETS[joint.id], replace(noise, about=joint.id))}
    above = CarriedLoad(joint=joint.id, parts=("P01",), mass_kg=0.001, centre_mm=joint.centre_mm)  # type: ignore[arg-type]
    file = engineers_file(replace(source, worksheets=sheets, loads={joint.id: above}))
    assert not any("3.7e-11" in row.result for one in file.derivations for row in one.rows)
    cells = dict(zip(HEADS, next(row for row in file.joints if row.joint == joint.id).cells, strict=True))
    assert (cells["shear"], cells["peel"], cells["used"]) == ("", "", "")


def test_wind_and_people_stand_there_with_what_the_numbers_are_not(source: Source) -> None:
    file = engineers_file(source)
    light, strong, person = file.pushes
    assert light[1:3] == ("140\u00a0N", "150\u00a0N·m")
    assert strong[1:5] == ("1.3\u00a0kN", "1.4\u00a0kN·m", "0.3", "0.3")
    assert "person" in person[0]
    assert "engineer" in file.push_notes[-1]
    unanchored = tuple(replace(row, anchor_tension_n=None, anchor_shear_n=None) for row in source.exposure)
    stated = replace(source.settings, base=replace(source.settings.base, anchors=4, anchors_at_mm=()))
    page = engineers_file(replace(source, exposure=unanchored, settings=stated))
    assert {row[5] for row in page.pushes} == {""}
    assert source.words("push.no_places") in page.push_notes
    bare = engineers_file(replace(source, exposure=()))
    assert (bare.pushes, bare.push_notes) == ((), ())


def test_an_address_stands_beside_its_source_with_the_day_it_was_read(source: Source) -> None:
    file = engineers_file(source)
    known = {row.address: row.read for row in references() if row.address}
    assert known
    printed = {where.replace("\u200b", "") for _, _, where, _ in file.references if where}
    assert printed == {f"{address} ({read})" if read else address for address, read in known.items()}
    assert not any("http" in what for what, _, _, _ in file.references)


def test_the_file_is_landscape_and_leaves_a_field_for_who_decides(all_written: dict[str, Written]) -> None:
    document = all_written["engineer"]
    for page in document.reader.pages:
        assert page.mediabox.width > page.mediabox.height
    assert "Engineer responsible" in document.texts[0]
    assert len(document.reader.pages) <= 10
