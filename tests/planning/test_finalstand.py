"""The finished figure against wind and people, from its meshes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from assembler.engineering.constants import AIR_KG_M3, GRAVITY_M_S2
from assembler.engineering.exposure import DRAG, PERSON_PUSH_N
from assembler.figure.exposure import ExposureRow
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.settings import Base
from assembler.planning.finalstand import final_exposure
from tests.specimens import Assembly, box, part_of

COLUMN = Assembly(
    solids={"P01": box((-450, -350, 0), (450, 350, 100)), "P02": box((-150, -150, 100), (150, 150, 2100))}, base="P01"
)
MASS_KG = 900 * 700 * 100 / 1e6 + 300 * 300 * 2000 / 1e6


def _rows(made: Assembly, base: Base | None = None) -> tuple[ExposureRow, ...]:
    given = made.given
    settings = replace(given["settings"], base=base) if base else given["settings"]
    return final_exposure(given["parts"], given["meshes"], settings)


def _tip_safety(speed_m_s: float) -> float:
    """Oracle: two boxes one on the other, blown at from every 15 degrees, about the edge in question."""
    pressure = 0.5 * AIR_KG_M3 * speed_m_s**2 * DRAG / 1e6
    safeties = []
    for k in range(24):
        c, s = abs(math.cos(k * math.pi / 12)), abs(math.sin(k * math.pi / 12))
        column, plate = 300 * (c + s) * 2000, (700 * c + 900 * s) * 100
        moment = pressure * (column * 1100 + plate * 50)
        safeties += [MASS_KG * GRAVITY_M_S2 * half / (moment * share) for half, share in ((450, c), (350, s)) if share]
    return min(one for one in safeties if one > 0)


def test_a_column_on_a_plate_against_the_wind() -> None:
    rows = _rows(COLUMN)
    for row in rows[:-1]:
        assert row.tip_safety == pytest.approx(_tip_safety(row.wind_m_s), rel=0.01)
    assert rows[-1].moment_nm == pytest.approx(PERSON_PUSH_N * 1.553)
    assert rows[-1].tip_safety == pytest.approx(MASS_KG * GRAVITY_M_S2 * 0.35 / rows[-1].moment_nm)


def test_which_way_is_up_does_not_matter() -> None:
    # The same figure exported with y up: (x, y, z) becomes (z, x, y), which keeps the axes of the plan in order.
    given = COLUMN.given
    turned = {
        name: Mesh(vertices=mesh.vertices[:, [1, 2, 0]], faces=mesh.faces) for name, mesh in given["meshes"].items()
    }
    parts = tuple(part_of(part.id, turned[part.id]) for part in given["parts"])
    rows = final_exposure(parts, turned, replace(given["settings"], up=(0.0, 1.0, 0.0)))
    for one, other in zip(rows, _rows(COLUMN), strict=True):
        assert one.tip_safety == pytest.approx(other.tip_safety, rel=0.01)
        assert one.slide_safety == pytest.approx(other.slide_safety, rel=0.01)


def test_anchors_are_asked_for_their_places() -> None:
    assert _rows(COLUMN)[0].anchor_tension_n is None
    corners = ((-400.0, -300.0, 0.0), (400.0, -300.0, 0.0), (400.0, 300.0, 0.0), (-400.0, 300.0, 0.0))
    held = _rows(COLUMN, Base(part=PartId("P01"), anchors=4, anchors_at_mm=corners))
    person = held[-1]
    # Over the narrow side: the moment over two pairs 0.6 m apart, less a quarter of the weight; skew is never less.
    least = person.moment_nm / (2 * 0.6) - MASS_KG * GRAVITY_M_S2 / 4
    assert person.anchor_tension_n is not None
    assert person.anchor_tension_n >= least - 1e-6
    assert person.anchor_shear_n == pytest.approx(PERSON_PUSH_N / 4)


def test_a_base_without_a_mesh_carries_the_column() -> None:
    column = Assembly(solids={"P02": COLUMN.solids["P02"].translate((0, 0, -100))})
    boxed = _rows(column, Base(size_mm=(900.0, 700.0, 100.0), mass_kg=63.0))
    for one, other in zip(boxed, _rows(COLUMN), strict=True):
        assert one.tip_safety == pytest.approx(other.tip_safety, rel=0.01)


def test_a_figure_without_masses_gets_no_rows() -> None:
    given = COLUMN.given
    weightless = tuple(replace(part, mass_kg=0.0) for part in given["parts"])
    assert final_exposure(weightless, given["meshes"], given["settings"]) == ()
    assert np.isfinite(_rows(COLUMN)[0].tip_safety)
