"""The survey against sets whose joints are known: nothing missed, nothing invented, numbers within the bars."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from manifold3d import Manifold

from assembler.figure.ids import PartId
from assembler.figure.joints import Bolt, Joint, Method
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.survey.joints import Survey, in_numbers, survey_joints
from tests.survey.part_sets import (
    PartSet,
    TrueBolt,
    flanged_tubes,
    mesh_of,
    noisy,
    plug_and_cone,
    quartered_tower,
    remeshed,
    seat_zoo,
    three_layers,
    tongued_blocks,
    turned,
)

ELSEWHERE = ((31.0, 17.0, 50.0), (300.0, -120.0, 900.0))
SETS: dict[str, Callable[[], PartSet]] = {
    "tower": flanged_tubes,
    "low tower": lambda: flanged_tubes(levels=2, tall=80.0),
    "low coarse tower": lambda: flanged_tubes(levels=2, tall=60.0, radius=100.0, sides=12, hole=6.6),
    "tower with a modelled bond line": lambda: flanged_tubes(gap=0.3),
    "coarse holes": lambda: flanged_tubes(sides=12, hole=6.6),
    "quarters": quartered_tower,
    "oblique quarters": lambda: turned(quartered_tower(), *ELSEWHERE),
    "every kind of seat": seat_zoo,
    "oblique seats": lambda: turned(seat_zoo(), *ELSEWHERE),
    "three layers": three_layers,
    "tongue and step": tongued_blocks,
    "tongue with a bond line": lambda: tongued_blocks(gap=0.3),
    "cone": plug_and_cone,
}


def surveyed(meshes: dict[str, Mesh]) -> Survey:
    return survey_joints(meshes, Tolerances())  # type: ignore[arg-type]


def offset_mm(bolt: Bolt, true: TrueBolt) -> float:
    arm = np.subtract(bolt.at_mm, true.at_mm)
    return float(np.linalg.norm(arm - np.dot(arm, true.axis) * np.array(true.axis)))


def joints_by_pair(survey: Survey) -> dict[frozenset[str], Joint]:
    return {frozenset(joint.parts): joint for joint in survey.joints}


def paired(part_set: PartSet, survey: Survey) -> list[tuple[Bolt, TrueBolt]]:
    """Every true bolt with the surveyed one on its axis; fails where one is missed or invented."""
    found = joints_by_pair(survey)
    assert set(found) == set(part_set.joints)
    pairs = []
    for pair, joint in part_set.joints.items():
        rest = list(found[pair].bolts)
        for true in joint.bolts:
            nearest = min(rest, key=lambda bolt: offset_mm(bolt, true))
            assert offset_mm(nearest, true) < 1.0
            rest.remove(nearest)
            pairs.append((nearest, true))
        assert not rest
    return pairs


def angle_deg(bolt: Bolt, true: TrueBolt) -> float:
    sine = float(np.linalg.norm(np.cross(bolt.axis, true.axis)))
    return math.degrees(math.asin(min(1.0, sine)))


@pytest.mark.parametrize("name", SETS)
def test_clean_sets_come_out_exactly(name: str) -> None:
    part_set = SETS[name]()
    survey = surveyed(part_set.meshes())
    for bolt, true in paired(part_set, survey):
        assert offset_mm(bolt, true) <= 0.1
        assert angle_deg(bolt, true) <= 0.2
        assert bolt.hole_mm == pytest.approx(true.hole_mm, abs=0.1)
        assert bolt.grip_mm == pytest.approx(true.grip_mm, abs=0.05)
        assert set(bolt.through) == set(true.through)
        assert sorted(seat.value for seat in bolt.seats) == sorted(true.seats)
    for pair, joint in joints_by_pair(survey).items():
        true_joint = part_set.joints[pair]
        assert joint.bond_area_mm2 == pytest.approx(true_joint.area_mm2, rel=0.005)
        if true_joint.seam_mm is not None:
            assert joint.seam_mm == pytest.approx(true_joint.seam_mm, rel=0.01)


@pytest.mark.parametrize("name", ["tower", "coarse holes", "oblique quarters", "every kind of seat", "three layers"])
@pytest.mark.parametrize("seed", [1, 2])
def test_noise_on_every_vertex_is_survived(name: str, seed: int) -> None:
    part_set = SETS[name]()
    meshes = {part: noisy(mesh, seed + 10 * k) for k, (part, mesh) in enumerate(part_set.meshes().items())}
    survey = surveyed(meshes)  # type: ignore[arg-type]
    for bolt, true in paired(part_set, survey):
        assert offset_mm(bolt, true) <= 0.1
        assert angle_deg(bolt, true) <= 0.2
        assert bolt.hole_mm == pytest.approx(true.hole_mm, abs=0.1)
        assert bolt.grip_mm == pytest.approx(true.grip_mm, abs=0.15)
    for pair, joint in joints_by_pair(survey).items():
        assert joint.bond_area_mm2 == pytest.approx(part_set.joints[pair].area_mm2, rel=0.01)


@pytest.mark.parametrize(("name", "hole_mm"), [("low tower", 9.0), ("low coarse tower", 6.6), ("three layers", 6.6)])
def test_meshing_again_changes_nothing(name: str, hole_mm: float) -> None:
    part_set = SETS[name]()
    survey = surveyed(remeshed(part_set, hole_mm / 3).meshes())  # type: ignore[arg-type]
    for bolt, true in paired(part_set, survey):
        assert offset_mm(bolt, true) <= 0.1
        # The new vertices on the chords must not shrink the circle.
        assert bolt.hole_mm == pytest.approx(true.hole_mm, abs=0.02)
        assert bolt.grip_mm == pytest.approx(true.grip_mm, abs=0.15)
    for pair, joint in joints_by_pair(survey).items():
        assert joint.bond_area_mm2 == pytest.approx(part_set.joints[pair].area_mm2, rel=0.01)


def test_spherical_seat_is_measured_by_sampling() -> None:
    part_set = plug_and_cone(is_curved=True)
    (joint,) = surveyed(part_set.meshes()).joints  # type: ignore[arg-type]
    (true,) = part_set.joints.values()
    assert joint.bond_area_mm2 == pytest.approx(true.area_mm2, rel=0.01)


def test_cone_with_noise_is_measured() -> None:
    part_set = plug_and_cone()
    meshes = {part: noisy(mesh, k) for k, (part, mesh) in enumerate(part_set.meshes().items())}
    (joint,) = surveyed(meshes).joints  # type: ignore[arg-type]
    (true,) = part_set.joints.values()
    assert joint.bond_area_mm2 == pytest.approx(true.area_mm2, rel=0.01)


def test_order_of_parts_and_faces_changes_nothing() -> None:
    meshes = quartered_tower().meshes()
    shuffled = {}
    random = np.random.default_rng(3)
    for part in reversed(list(meshes)):
        mesh = meshes[part]
        order = random.permutation(len(mesh.vertices))
        faces = np.argsort(order)[mesh.faces][random.permutation(len(mesh.faces))]
        shuffled[part] = Mesh(vertices=mesh.vertices[order], faces=faces)
    first, second = surveyed(meshes), surveyed(shuffled)  # type: ignore[arg-type]
    assert [(joint.id, joint.parts) for joint in first.joints] == [(joint.id, joint.parts) for joint in second.joints]
    for one, two in zip(first.joints, second.joints, strict=True):
        assert [bolt.id for bolt in one.bolts] == [bolt.id for bolt in two.bolts]
        for a, b in zip(one.bolts, two.bolts, strict=True):
            assert a.at_mm == pytest.approx(b.at_mm, abs=1e-3)
            assert a.grip_mm == pytest.approx(b.grip_mm, abs=1e-3)


def test_inputs_are_not_changed() -> None:
    meshes = flanged_tubes().meshes()
    before = {part: (mesh.vertices.copy(), mesh.faces.copy()) for part, mesh in meshes.items()}
    surveyed(meshes)  # type: ignore[arg-type]
    for part, mesh in meshes.items():
        np.testing.assert_array_equal(mesh.vertices, before[part][0])
        np.testing.assert_array_equal(mesh.faces, before[part][1])


def test_opening_in_the_base_does_not_make_the_cavity_a_seam() -> None:
    part_set = flanged_tubes(levels=2, tall=120.0)
    (joint,) = surveyed(part_set.meshes()).joints  # type: ignore[arg-type]
    (true,) = part_set.joints.values()
    assert true.seam_mm is not None
    assert joint.seam_mm == pytest.approx(true.seam_mm, rel=0.01)


@pytest.fixture(scope="module")
def survey() -> Survey:
    return surveyed(seat_zoo().meshes())  # type: ignore[arg-type]


class TestSeats:
    def bolt_at(self, survey: Survey, x: float) -> Bolt:
        (joint,) = survey.joints
        return min(joint.bolts, key=lambda bolt: abs(bolt.at_mm[0] - x))

    @pytest.mark.parametrize(
        ("x", "through"),
        [
            (-120.0, ("above", "below")),
            (-80.0, ("below", "above")),
            (0.0, ("below", "above")),
            (40.0, ("above", "below")),
        ],
    )
    def test_head_side_comes_first(self, survey: Survey, x: float, through: tuple[str, str]) -> None:
        bolt = self.bolt_at(survey, x)
        assert bolt.through == through
        assert bolt.axis[2] == pytest.approx(1.0 if through[0] == "below" else -1.0)

    def test_room_in_the_counterbore_is_its_diameter(self, survey: Survey) -> None:
        assert self.bolt_at(survey, -120.0).seat_room_mm[0] == pytest.approx(18.0, abs=1.0)

    def test_room_in_the_pocket_is_at_most_its_width(self, survey: Survey) -> None:
        room = self.bolt_at(survey, -80.0).seat_room_mm[1]
        assert 12.0 <= room <= 13.3

    def test_pin_and_dowel_are_no_bolts(self, survey: Survey) -> None:
        pins = [str(finding.message) for finding in survey.findings if finding.code == "alignment-pin"]
        assert len(pins) == 2
        assert any("pin in a socket" in message for message in pins)
        assert any("loose dowel" in message for message in pins)

    def test_drain_hole_is_a_finding(self, survey: Survey) -> None:
        (finding,) = [finding for finding in survey.findings if finding.code == "hole-without-partner"]
        assert "12.0 mm" in str(finding.message)
        assert "below" in finding.about


def test_a_part_that_is_called_like_a_joint_keeps_its_name_in_what_the_survey_says() -> None:
    meshes = {PartId({"below": "J01-below"}.get(name, name)): mesh for name, mesh in seat_zoo().meshes().items()}
    survey = survey_joints(meshes, Tolerances())
    names = {"J01": "J07"} | {bolt.id: f"J07.{bolt.id}" for bolt in survey.joints[0].bolts}
    (finding,) = [one for one in in_numbers(survey, names).findings if one.code == "hole-without-partner"]
    assert finding.about == ("J07", "J01-below")
    assert str(finding.message).startswith("J07: one side has a hole without partner: J01-below has")
    assert in_numbers(survey, names).joints[0].id == "J07"


def test_bolt_through_three_parts_is_listed_once() -> None:
    survey = surveyed(three_layers().meshes())  # type: ignore[arg-type]
    long = [bolt for joint in survey.joints for bolt in joint.bolts if len(bolt.through) == 3]
    assert len(long) == 3
    assert {bolt.also for bolt in long} == {("J02",)}
    assert all(joint.method is Method.BOLTED_AND_BONDED for joint in survey.joints)
    # Holes of the short bolts end on the deck: they are no holes without a partner.
    assert not [finding for finding in survey.findings if finding.code == "hole-without-partner"]


def test_play_beside_the_bond_line_is_not_bond_area() -> None:
    # A lid on a ledge: the ledge is flush, the sides stand off by 0.4 mm.
    frame = Manifold.cube((200, 200, 40), True) - Manifold.cube((140, 140, 60), True)
    frame -= Manifold.cube((160.8, 160.8, 20), True).translate((0, 0, 20))
    lid = Manifold.cube((160, 160, 10), True).translate((0, 0, 15))
    survey = surveyed({"frame": mesh_of(frame), "lid": mesh_of(lid)})
    (joint,) = survey.joints
    assert joint.bond_area_mm2 == pytest.approx(160**2 - 140**2, rel=1e-3)
    # The visible line is the gap between lid and frame, on the upper edge of the sides.
    assert joint.seam_mm == pytest.approx(4 * 160, rel=0.01)
    (finding,) = survey.findings
    assert finding.code == "play-beside-joint"
