"""Volume, centre and inertia against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from assembler.catalogue import tables
from assembler.engineering.weights import stack_mass_kg, together
from assembler.figure.hardware import Stack
from assembler.figure.ids import BoltId, JointId
from assembler.figure.mesh import Mesh
from assembler.geometry.solids import mass_properties
from tests.published.reading import source


def _revolved(profile: list[tuple[float, float]], count: int) -> Mesh:
    """Solid of revolution about z from (radius, height) points; the first and last lie on the axis."""
    turns = 2.0 * math.pi * np.arange(count) / count
    rings = [np.column_stack((r * np.cos(turns), r * np.sin(turns), np.full(count, z))) for r, z in profile[1:-1]]
    vertices = np.vstack([[[0.0, 0.0, profile[0][1]]], *rings, [[0.0, 0.0, profile[-1][1]]]])
    faces, last = [], len(vertices) - 1
    for k in range(count):
        n = (k + 1) % count
        faces.append((0, 1 + n, 1 + k))
        for ring in range(len(rings) - 1):
            a, b = 1 + ring * count, 1 + (ring + 1) * count
            faces += [(a + k, a + n, b + n), (a + k, b + n, b + k)]
        top = 1 + (len(rings) - 1) * count
        faces.append((top + k, top + n, last))
    return Mesh(vertices=vertices.astype(np.float64), faces=np.array(faces, dtype=np.int64))


def _box(size: tuple[float, float, float]) -> Mesh:
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=np.float64) * size
    faces = [
        (0, 1, 3),
        (0, 3, 2),
        (4, 6, 7),
        (4, 7, 5),
        (0, 4, 5),
        (0, 5, 1),
        (2, 3, 7),
        (2, 7, 6),
        (0, 2, 6),
        (0, 6, 4),
        (1, 5, 7),
        (1, 7, 3),
    ]
    return Mesh(vertices=corners, faces=np.array(faces, dtype=np.int64))


@source("solids")
def test_closed_forms() -> None:
    # C: box a x b x c: V = abc, I = V (b2 + c2) / 12; 2 x 3 x 4 has 24 and 50, 40, 26.
    box = mass_properties(_box((2.0, 3.0, 4.0)))
    assert box.volume_mm3 == pytest.approx(24.0, rel=1e-12)
    assert box.area_mm2 == pytest.approx(52.0, rel=1e-12)
    np.testing.assert_allclose(box.centre_mm, (1.0, 1.5, 2.0), atol=1e-12)
    np.testing.assert_allclose(np.diag(box.inertia_mm5), (50.0, 40.0, 26.0), rtol=1e-12)
    # C: corner tetrahedron with unit legs: V = 1/6, A = 2.366025, centre 1/4, I = 1/80 each, product -1/480.
    tetra = mass_properties(
        Mesh(
            vertices=np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=np.float64),
            faces=np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]], dtype=np.int64),
        )
    )
    assert tetra.volume_mm3 == pytest.approx(1 / 6, rel=1e-12)
    assert tetra.area_mm2 == pytest.approx(2.366025, abs=1e-6)
    np.testing.assert_allclose(tetra.centre_mm, (0.25, 0.25, 0.25), atol=1e-12)
    np.testing.assert_allclose(np.diag(tetra.inertia_mm5), 0.0125, rtol=1e-12)
    # The tensor holds minus the product: -(-1/480).
    assert tetra.inertia_mm5[0, 1] == pytest.approx(1 / 480, rel=1e-12)


@source("solids")
def test_frustum() -> None:
    # C (computed with sympy): R 2, r 1, h 3: V = 7 pi, centre 33/28 above the large end, axis inertia 93 pi / 10.
    count = 2048
    frustum = mass_properties(_revolved([(0, 0), (2, 0), (1, 3), (0, 3)], count))
    # An inscribed polygon of n corners has sin(2 pi / n) n / 2 pi of the circle's area: 1.6e-6 less.
    assert frustum.volume_mm3 == pytest.approx(7 * math.pi, rel=3e-6)
    assert frustum.centre_mm[2] == pytest.approx(33 / 28, rel=1e-9)
    assert frustum.inertia_mm5[2, 2] == pytest.approx(93 * math.pi / 10, rel=1e-5)


@source("solids")
def test_sphere_and_shell() -> None:
    # C: 4/3 pi r3 and 2/5 m r2; shell R 100, t 3: 365 794.48 mm3 as the difference of two spheres.
    steps = 256
    profile = [(math.sin(math.pi * k / steps), -math.cos(math.pi * k / steps)) for k in range(steps + 1)]
    sphere = mass_properties(_revolved(profile, 256))
    # Inscribed in both directions: 1e-4 less for 256 steps each way, and never more.
    assert sphere.volume_mm3 == pytest.approx(4.18879, rel=2e-4)
    assert sphere.volume_mm3 < 4.18879
    np.testing.assert_allclose(np.diag(sphere.inertia_mm5), 1.675516, rtol=3e-4)
    shell = sphere.volume_mm3 * (100.0**3 - 97.0**3)
    assert shell == pytest.approx(365794.48, rel=2e-4)


@source("solids")
def test_composite_centre() -> None:
    # C: cylinder r 50, h 80 with a hemisphere r 50 on top: centre 57.2794 mm above the base (hemisphere 3r/8).
    cylinder, dome = math.pi * 50**2 * 80, 2 / 3 * math.pi * 50**3
    _, centre = together([(cylinder, (0.0, 0.0, 40.0)), (dome, (0.0, 0.0, 80.0 + 3 / 8 * 50))])
    assert centre[2] == pytest.approx(57.279412, abs=1e-6)


@pytest.mark.parametrize(
    ("size", "length_mm", "grams"),
    [("M6", 30, 8.3), ("M6", 50, 13.2), ("M8", 40, 20.9), ("M8", 80, 37.0), ("M10", 40, 32.9), ("M12", 60, 63.4)],
)
@source("screw-weights")
def test_screws_weigh_what_a_supplier_lists(size: str, length_mm: float, grams: float) -> None:
    # V2: weight table of hexagon socket head screws to ISO 4762, kg per 1000, on a supplier's page.
    screw = tables.screw("ISO 4762", size)
    stack = Stack(
        bolt=BoltId("J01.1"),
        joint=JointId("J01"),
        size=size,
        screw="ISO 4762",
        nut="",
        washer="",
        length_mm=length_mm,
        needed_mm=length_mm,
        grip_mm=length_mm,
        washers=0,
        washer_mm=0.0,
        washer_outer_mm=0.0,
        head_mm=screw.head_mm,
        nut_mm=0.0,
        across_flats_mm=0.0,
        nut_across_flats_mm=0.0,
        key_mm=screw.key_mm,
        head_outer_mm=screw.head_outer_mm,
        protrusion_mm=0.0,
        torque_nm=0.0,
        torque_rule="",
    )
    # Prisms without chamfers, thread by its stress area.
    assert 1000.0 * stack_mass_kg(stack) == pytest.approx(grams, rel=0.06)
