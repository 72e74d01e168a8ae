"""The demo figure at a coarse sampling: is it a set of parts that could be printed and bolted together?"""

import json
from itertools import combinations

import numpy as np
import pytest
from manifold3d import Error, Manifold

from demo.figure import posture, timber
from demo.figure.build import Figure, build_figure
from demo.figure.export import stl_bytes, write_figure
from demo.figure.frames import Plane, circle
from demo.figure.truth import Joint

PRINTER_MM = 398.0  # a 400 mm printer with a margin for the brim


@pytest.fixture(scope="module")
def figure() -> Figure:
    return build_figure(skin_cell_mm=14.0, head_cell_mm=12.0, cavity_cell_mm=14.0)


def extents_mm(solid: Manifold) -> np.ndarray:
    low, high = np.split(np.asarray(solid.bounding_box()), 2)
    return high - low


def plane_of(joint: Joint) -> Plane:
    return Plane.through(joint.bolts[0].at, joint.bolts[0].axis)


def test_there_are_twenty_to_thirty_parts_and_every_one_has_a_joint(figure: Figure) -> None:
    assert 20 <= len(figure.parts) <= 30
    assert {name for joint in figure.joints for name in joint.parts} == set(figure.parts)


def test_all_joints_together_hold_the_figure_in_one_piece(figure: Figure) -> None:
    reached, front = {timber.NAME}, [timber.NAME]
    while front:
        part = front.pop()
        near = {name for joint in figure.joints if part in joint.parts for name in joint.parts}
        front += sorted(near - reached)
        reached |= near
    assert reached == set(figure.parts)


def test_every_part_is_one_closed_body(figure: Figure) -> None:
    for name, solid in figure.parts.items():
        assert solid.status() == Error.NoError, name
        assert solid.volume() > 0.0, name
        assert len(solid.decompose()) == 1, name


def test_every_printed_part_fits_the_printer(figure: Figure) -> None:
    too_big = {
        name: extents_mm(solid).round(1).tolist()
        for name, solid in figure.parts.items()
        if name != timber.NAME and extents_mm(solid).max() > PRINTER_MM
    }
    assert too_big == {}


def test_the_figure_stands_on_its_deck_and_is_two_metres_ten_tall(figure: Figure) -> None:
    assert figure.parts["torso 1 left"].bounding_box()[2] == pytest.approx(0.0, abs=1e-9)
    assert figure.parts[timber.NAME].bounding_box()[5] == pytest.approx(0.0, abs=1e-9)
    # The coarse sampling rounds the top of the head off by a few millimetres.
    assert max(solid.bounding_box()[5] for solid in figure.parts.values()) == pytest.approx(2100.0, abs=8.0)


def test_the_floor_is_open_inside_the_foot_flange_and_the_neck_inside_its_own(figure: Figure) -> None:
    for height_mm, radius_mm in ((0.5, 60.0), (1733.0, 90.0)):
        room = Plane.through((0.0, 5.0, height_mm), (0.0, 0.0, 1.0)).prism(circle(radius_mm), 0.0, 10.0)
        assert sum((part ^ room).volume() for part in figure.parts.values()) == pytest.approx(0.0, abs=1e-6)


def test_no_two_parts_overlap(figure: Figure) -> None:
    for (a, first), (b, second) in combinations(sorted(figure.parts.items()), 2):
        assert (first ^ second).volume() < 0.5, (a, b)


def test_bonded_faces_are_flush(figure: Figure) -> None:
    """A hair's breadth (0.02 mm) on either side of the bond plane, each part fills its face and nothing beyond it."""
    for joint in figure.joints:
        if not joint.bolts:
            continue
        plane = plane_of(joint)
        front, back = (figure.parts[name] for name in joint.parts)
        facing = plane.section(front, 0.02) ^ plane.section(back, -0.02)
        assert facing.area() == pytest.approx(joint.bond_area_mm2, rel=2e-3), joint.parts


def test_every_bolt_pierces_both_flanges_and_nothing_else_blocks_it(figure: Figure) -> None:
    for joint in figure.joints:
        for bolt in joint.bolts:
            plane = Plane.through(bolt.at, bolt.axis)
            shank = circle(bolt.hole_mm / 2.0 - 0.05)
            collar = circle(bolt.hole_mm / 2.0 + 2.0) - circle(bolt.hole_mm / 2.0 + 0.05)
            below = -bolt.grip_mm + 4.0 if timber.NAME in joint.parts else -4.0
            for name in joint.parts:
                assert (figure.parts[name] ^ plane.prism(shank, below, 4.0)).volume() < 0.1, (joint.parts, name)
            front, back = (figure.parts[name] for name in joint.parts)
            ring_mm3 = collar.area() * 4.0
            assert (front ^ plane.prism(collar, 0.0, 4.0)).volume() == pytest.approx(ring_mm3, rel=1e-3), joint.parts
            assert (back ^ plane.prism(collar, -4.0, 0.0)).volume() == pytest.approx(ring_mm3, rel=1e-3), joint.parts


def test_a_socket_finds_eighty_millimetres_of_room_on_one_side_of_every_bolt(figure: Figure) -> None:
    sockets_mm = {6.6: 15.0, 9.0: 20.0, 11.0: 24.0}
    for joint in figure.joints:
        for bolt in joint.bolts:
            plane = Plane.through(bolt.at, bolt.axis)
            thick = 12.05 if timber.NAME in joint.parts else 10.05
            socket = circle(sockets_mm[bolt.hole_mm] / 2.0)
            rooms = [plane.prism(socket, thick, thick + 80.0), plane.prism(socket, -thick - 80.0, -thick)]
            met = [sum((part ^ room).volume() for part in figure.parts.values()) for room in rooms]
            assert min(met) < 3.0, (joint.parts, bolt.at)


def test_captive_nuts_keep_six_millimetres_of_flange_under_them(figure: Figure) -> None:
    flats_mm = {6.6: 10.2, 9.0: 13.3}
    checked = 0
    for joint in figure.joints:
        for bolt in joint.bolts:
            if bolt.captive is None:
                continue
            sign = 1.0 if bolt.captive == joint.parts[0] else -1.0
            plane = Plane.through(bolt.at, bolt.axis)
            part = figure.parts[bolt.captive]
            nut = circle(flats_mm[bolt.hole_mm] / 2.0 - 0.01)
            seat = nut - circle(bolt.hole_mm / 2.0 + 0.01)
            assert bolt.grip_mm == pytest.approx(16.0)
            assert (part ^ plane.prism(nut, *sorted((sign * 6.01, sign * 9.9)))).volume() < 0.1, joint.parts
            filled = (part ^ plane.prism(seat, *sorted((0.0, sign * 5.99)))).volume()
            assert filled == pytest.approx(seat.area() * 5.99, rel=1e-3), joint.parts
            checked += 1
    assert checked > 50


def test_the_hatch_panel_is_bonded_only_and_comes_out_from_outside(figure: Figure) -> None:
    (joint,) = [j for j in figure.joints if "hatch panel" in j.parts]
    assert joint.method == "bonded"
    assert joint.bolts == ()
    torso = figure.parts[joint.parts[1]]
    outwards = np.array([0.56, 0.828, 0.0])
    for travel_mm in (0.5, 5.0, 20.0, 60.0):
        moved = figure.parts["hatch panel"].translate(tuple(outwards * travel_mm))
        assert (moved ^ torso).volume() < 1.0, travel_mm
    pushed_in = figure.parts["hatch panel"].translate(tuple(-outwards * 1.0))
    assert (pushed_in ^ torso).volume() > 1000.0


def test_the_centre_of_mass_lies_over_the_feet(figure: Figure) -> None:
    volumes, centres = [], []
    for name, solid in figure.parts.items():
        if name == timber.NAME:
            continue
        mesh = solid.to_mesh64()
        corners = np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts).astype(np.int64)]
        sixths = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6.0
        volumes.append(sixths.sum())
        centres.append((corners.sum(axis=1) / 4.0 * sixths[:, None]).sum(axis=0) / sixths.sum())
    centre = np.average(centres, axis=0, weights=volumes)
    assert abs(centre[0]) < 100.0
    assert -250.0 < centre[1] < 120.0


def test_the_same_numbers_give_the_same_bytes(figure: Figure, tmp_path) -> None:
    again = build_figure(skin_cell_mm=14.0, head_cell_mm=12.0, cavity_cell_mm=14.0)
    assert again.joints == figure.joints
    assert {n: stl_bytes(n, s) for n, s in again.parts.items()} == {n: stl_bytes(n, s) for n, s in figure.parts.items()}
    write_figure(tmp_path, figure.parts, figure.joints, figure.materials)
    truth = json.loads((tmp_path / "truth.json").read_text(encoding="utf-8"))
    assert truth["units"] == "mm"
    assert {p["file"] for p in truth["parts"]} == {p.name for p in (tmp_path / "parts").iterdir()}


def test_lantern_base_stands_on_the_paw(figure: Figure) -> None:
    assert figure.parts["lantern base"].bounding_box()[2] == pytest.approx(posture.SEAT_Z)
