"""The tables are whole, sourced, and grow with size."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files

import pytest

from assembler.catalogue import tables
from assembler.catalogue.records import Row, Sureness

SIZES = ["M3", "M4", "M5", "M6", "M8", "M10", "M12", "M14", "M16", "M18", "M20"]
WHOLE_TABLES: list[Callable[[], tuple[Row, ...]]] = [
    tables.threads,
    tables.clearance_holes,
    tables.inch_holes,
    tables.screws,
    tables.nuts,
    tables.washers,
    tables.typical_materials,
    tables.adhesive_families,
    tables.transport_accelerations,
    tables.team_shares,
    tables.prevailing_torques,
    tables.frequency_multipliers,
]


@pytest.mark.parametrize("table", WHOLE_TABLES, ids=lambda table: table.__name__)
def test_every_row_has_a_source_and_a_sureness(table: Callable[[], tuple[Row, ...]]) -> None:
    rows = table()
    assert rows
    assert len(set(rows)) == len(rows), "a row stands twice"
    for row in rows:
        assert row.source in tables.sources().values()
        assert isinstance(row.how, Sureness)
        assert str(row.how.label) in str(row.tag)


def test_every_row_names_a_source() -> None:
    folder = files("assembler.catalogue").joinpath("data")
    for entry in folder.iterdir():
        if entry.name.endswith(".csv") and entry.name != "sources.csv":
            used = {line.rsplit(",", 1)[1] for line in entry.read_text(encoding="utf-8").splitlines()[1:]}
            assert used <= set(tables.sources()), entry.name


def test_threads_grow() -> None:
    rows = tables.threads()
    assert [row.size for row in rows] == SIZES
    for small, large in zip(rows, rows[1:], strict=False):
        assert small.diameter_mm < large.diameter_mm
        assert small.stress_area_mm2 < large.stress_area_mm2
        assert small.pitch_mm <= large.pitch_mm


@pytest.mark.parametrize("row", tables.clearance_holes(), ids=lambda row: row.size)
def test_holes_clear_their_bolts(row: Row) -> None:
    hole = row
    assert tables.thread(hole.size).diameter_mm < hole.fine_mm < hole.medium_mm < hole.coarse_mm  # type: ignore[attr-defined]


@pytest.mark.parametrize("row", tables.screws(), ids=lambda row: f"{row.standard} {row.size}")
def test_screws_are_driven_one_way_and_have_lengths(row: Row) -> None:
    screw = tables.screw(row.standard, row.size)  # type: ignore[attr-defined]
    assert (screw.across_flats_mm > 0) != (screw.key_mm > 0)
    assert screw.head_outer_mm > tables.thread(screw.size).diameter_mm
    assert tables.bearing_face(screw.standard, screw.size).diameter_mm < screw.head_outer_mm
    series = tables.lengths(screw.standard, screw.size)
    assert series[0] == screw.shortest_mm
    assert list(series) == sorted(set(series))
    assert series[-1] <= screw.longest_mm


@pytest.mark.parametrize("row", tables.nuts(), ids=lambda row: f"{row.standard} {row.size}")
def test_nuts_fit_their_sockets_and_washers(row: Row) -> None:
    nut = tables.nut(row.standard, row.size)  # type: ignore[attr-defined]
    assert nut.across_corners_mm > nut.across_flats_mm
    assert tables.tool("socket", nut.across_flats_mm).outer_mm > nut.across_corners_mm
    assert tables.tool("open-end spanner", nut.across_flats_mm).outer_mm > nut.across_corners_mm
    washer = tables.washer("ISO 7089", nut.size)
    assert tables.bearing_face(nut.standard, nut.size).diameter_mm <= washer.outer_mm
    assert tables.thread(nut.size).diameter_mm < washer.inner_mm < washer.outer_mm
    assert washer.nominal_mm < washer.greatest_mm


def test_prevailing_torque_nuts_are_higher() -> None:
    for nut in tables.nuts():
        if nut.standard == "ISO 7040":
            assert nut.height_mm > tables.nut("ISO 4032", nut.size).height_mm


def test_every_key_of_a_screw_has_a_tool() -> None:
    for screw in tables.screws():
        kind, width = ("hexagon key", screw.key_mm) if screw.key_mm else ("socket", screw.across_flats_mm)
        assert tables.tool(kind, width).length_mm > 0


def test_gloves_need_larger_openings() -> None:
    for measure in ("hand", "flat hand", "forearm", "shoulder"):
        bare, heavy = tables.opening(measure, "bare or light"), tables.opening(measure, "heavy")
        assert bare.width_mm < heavy.width_mm
        assert bare.height_mm < heavy.height_mm


def test_people_differ() -> None:
    reach = tables.body_measure("functional reach")
    assert reach.small_mm < reach.large_mm


def test_a_missing_entry_names_the_choices() -> None:
    with pytest.raises(KeyError, match="no screw for ISO 7380-1, M14; the table has .*ISO 7380-1, M12"):
        tables.screw("ISO 7380-1", "M14")
    with pytest.raises(KeyError, match="no thread for M7"):
        tables.thread("M7")
