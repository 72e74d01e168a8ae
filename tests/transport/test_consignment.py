"""Beds, crates and loads whose answers are known by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from assembler.engineering.crating import inner_mm, outer_mm, sheets_to_buy, timber_kg, timber_list
from assembler.figure.consignment import Crate
from assembler.figure.ids import PartId, SectionId
from assembler.figure.joints import Place
from assembler.figure.parts import Vector
from assembler.figure.plan import Section
from assembler.figure.settings import Crew, Envelopes, Passage, Vehicle
from assembler.planning.order import plan_build
from assembler.transport.bedding import bed_of
from assembler.transport.consignment import consignment_of
from assembler.transport.crates import crate_of
from assembler.transport.loading import fits, loads, tipping
from tests.planning.test_division import _column, _divided
from tests.specimens import Assembly, box, mesh_of

UP: Vector = (0.0, 0.0, 1.0)
VAN = Vehicle(length_mm=3000.0, width_mm=1700.0, height_mm=1800.0, payload_kg=900.0)


def _anything(size_mm: Vector) -> bool:
    return bool(size_mm)


def _crate(size_mm: Vector, mass_kg: float, centre_mm: Vector | None = None) -> Crate:
    """A crate round a block, its centre of mass where it is said to be."""
    middle = (size_mm[0] / 2.0, size_mm[1] / 2.0, size_mm[2] / 2.0)
    bed = bed_of([mesh_of(box((0, 0, 0), size_mm))], mass_kg, middle, UP, lambda size: abs(size[2] - size_mm[2]) < 1.0)
    bed = replace(bed, centre_mm=centre_mm or bed.centre_mm)
    section = Section(
        id=SectionId("S1"), parts=(PartId("P1"),), mass_kg=mass_kg, size_mm=size_mm, centre_mm=centre_mm or middle
    )
    return crate_of(1, section, bed, Crew())


def test_a_plinth_lies_as_low_as_it_bears() -> None:
    """A plank of 1000 by 400 by 100 mm that stands on its end lies on its widest side."""
    bed = bed_of([mesh_of(box((0, 0, 0), (100, 400, 1000)))], 20.0, (50.0, 200.0, 500.0), UP, _anything)
    assert bed.size_mm == pytest.approx((1000.0, 400.0, 100.0))
    assert not bed.is_standing
    assert bed.borne_mm2 == pytest.approx(400_000.0)
    assert bed.shares == pytest.approx((0.5, 0.5))


def test_it_never_rests_on_an_ear() -> None:
    """A flat body with thin horns on both broad sides is lowest on the horns; they bear too little."""
    body = box((-300, -300, 0), (300, 300, 200))
    for x in (-250.0, 250.0):
        for y in (-250.0, 250.0):
            body += Manifold.cylinder(100.0, 8.0, 8.0, 16).translate((x, y, 200.0))
            body += Manifold.cylinder(100.0, 8.0, 8.0, 16).translate((x, y, -100.0))
    bed = bed_of([mesh_of(body)], 60.0, (0.0, 0.0, 100.0), UP, _anything)
    assert abs(bed.up[2]) < 0.01
    assert bed.borne_mm2 > 100_000.0
    upright = bed_of([mesh_of(body)], 0.01, (0.0, 0.0, 100.0), UP, _anything)
    assert abs(upright.up[2]) > 0.99


def test_what_the_vehicle_does_not_take_is_no_position() -> None:
    column = mesh_of(Manifold.cylinder(1500.0, 200.0, 200.0, 48))
    bed = bed_of([column], 50.0, (0.0, 0.0, 750.0), UP, lambda size: size[0] < 900.0)
    assert bed.is_standing


def test_a_crate_is_larger_than_what_is_in_it_and_weighs_what_its_pieces_weigh() -> None:
    crate = _crate((800.0, 600.0, 500.0), 40.0)
    assert crate.inner_mm == pytest.approx((900.0, 700.0, 580.0))
    assert crate.outer_mm == pytest.approx((1014.0, 814.0, 754.0))
    assert crate.gross_kg == pytest.approx(40.0 + timber_kg(crate.timber))
    # By hand: 2 sides and 2 ends 580 mm high, and the lid: 2.95 m2 with 15 % waste are 3.4 m2, two sheets of 3.1 m2.
    area = 2 * 1.014 * 0.58 + 2 * 0.814 * 0.58 + 1.014 * 0.814
    assert sheets_to_buy(timber_list(inner_mm((800.0, 600.0, 500.0)))) == int(-(-area * 1.15 // 3.125))
    assert crate.forces_n == pytest.approx(tuple(crate.gross_kg * 9.80665 * g for g in (0.8, 0.5, 0.6)))


def test_a_crate_that_tips_in_one_direction_of_four() -> None:
    """Its centre of mass is 1 m up and near the front end: braking tips it, nothing else does."""
    crate = _crate((1600.0, 1400.0, 1000.0), 400.0)
    low, high = crate.centre_mm[2], 1000.0
    assert low < 700.0
    crate = replace(crate, centre_mm=(700.0, crate.outer_mm[1] / 2.0, high))
    rows = {row.direction: row for row in tipping(crate, is_turned=False)}
    assert [name for name, row in rows.items() if not row.is_safe] == ["forward"]
    assert rows["forward"].stands_g == pytest.approx(0.7)
    turned = {row.direction: row.is_safe for row in tipping(crate, is_turned=True)}
    assert turned["forward"]
    (trip,) = loads([crate], replace(VAN, width_mm=1900.0))
    assert trip.stowed[0].straps.tipping >= 1 or trip.stowed[0].is_turned


def test_two_crates_go_side_by_side_and_a_third_on_a_second_trip() -> None:
    crate = _crate((1200.0, 600.0, 500.0), 100.0)
    crates = [replace(crate, id=f"C{number}") for number in range(1, 4)]
    small = replace(VAN, length_mm=crate.outer_mm[0] + 10.0, width_mm=2 * crate.outer_mm[1] + 10.0)
    trips = loads(crates, small)
    assert [len(trip.stowed) for trip in trips] == [2, 1] or [len(trip.stowed) for trip in trips] == [1, 2]
    heavy = replace(VAN, payload_kg=1.5 * crate.gross_kg)
    assert len(loads(crates, heavy)) == 3
    assert not fits(crate, replace(VAN, payload_kg=50.0))


def test_crates_do_not_overlap_and_stay_inside() -> None:
    sizes = [(1200.0, 600.0, 500.0), (500.0, 500.0, 900.0), (900.0, 800.0, 400.0), (700.0, 300.0, 300.0)]
    crates = [replace(_crate(size, 50.0), id=f"C{k}") for k, size in enumerate(sizes)]
    by_id = {crate.id: crate for crate in crates}
    for trip in loads(crates, VAN):
        boxes = []
        for one in trip.stowed:
            length, width, _ = by_id[one.crate].outer_mm
            if one.is_turned:
                length, width = width, length
            x, y = one.at_mm
            assert x >= 0.0
            assert y >= 0.0
            assert x + length <= VAN.length_mm
            assert y + width <= VAN.width_mm
            boxes.append((x, y, x + length, y + width))
        for number, a in enumerate(boxes):
            for b in boxes[number + 1 :]:
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_mass_and_centre_of_sections_against_merged_meshes() -> None:
    made = _column(4)
    door = (Passage(name="door", width_mm=700.0, height_mm=700.0, turn_mm=700.0),)
    found = _divided(made, passages=door, vehicle=VAN)
    given = made.given
    plan = plan_build(**{**given, "joints": found.joints})
    consignment = consignment_of(plan, given["meshes"], given["settings"])
    assert consignment is not None
    assert [crate.id for crate in consignment.crates] == ["C1", "C2"]
    for crate in consignment.crates:
        solids = [given["meshes"][part] for part in crate.parts]
        counts = np.cumsum([0, *(len(mesh.vertices) for mesh in solids)])
        merged = trimesh.Trimesh(
            np.vstack([mesh.vertices for mesh in solids]),
            np.vstack([mesh.faces + first for mesh, first in zip(solids, counts, strict=False)]),
        )
        assert crate.net_kg == pytest.approx(merged.volume * 1e-6, rel=1e-3)
        rise, along = np.asarray(crate.bed.up), np.asarray(crate.bed.along)
        frame = np.array([along, np.cross(rise, along), rise])
        low = (merged.vertices @ frame.T).min(axis=0)
        assert crate.bed.centre_mm == pytest.approx(frame @ merged.center_mass - low, abs=1.0)
    assert sum(len(trip.stowed) for trip in consignment.trips) == 2
    assert outer_mm(inner_mm(consignment.crates[0].bed.size_mm)) == consignment.crates[0].outer_mm


def test_a_light_single_part_travels_in_the_crate_of_what_it_is_joined_to() -> None:
    """A lid of 1 kg that is closed on site needs no crate of its own; one of 3 kg does."""
    for density, crates in ((1.0, 1), (3.0, 2)):
        made = Assembly({"P1": box((0, 0, 0), (400, 400, 400)), "P2": box((0, 0, 400), (400, 400, 406.5))})
        made.density = density
        made.join("P1", "P2", (200, 200, 400), (0, 0, 1), bolts=[(50, 50, 400)], made=Place.SITE)
        made.changes["envelopes"] = Envelopes(section_max_kg=900.0)
        given = made.given
        plan = plan_build(**given)
        consignment = consignment_of(plan, given["meshes"], given["settings"])
        assert consignment is not None
        assert len(consignment.crates) == crates
        packed = [part for crate in consignment.crates for part in (*crate.parts, *crate.loose)]
        assert sorted(packed) == ["P1", "P2"]
        assert sum(crate.net_kg for crate in consignment.crates) == pytest.approx(
            sum(part.mass_kg for part in given["parts"])
        )
