"""Sections whose number is known by hand: rings under a door, what is bonded, what lies, what does not get round."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from manifold3d import Manifold

from assembler.engineering.passing import longest_round_corner_mm
from assembler.figure.ids import PartId
from assembler.figure.joints import Method, Place, Seat
from assembler.figure.settings import Envelopes, OwnSection, Passage, Vehicle
from assembler.geometry.orientedboxes import lying_directions, standing_boxes
from assembler.geometry.solids import hull_points
from assembler.planning.division import Divided, divided
from assembler.planning.order import plan_build
from tests.planning.figures import around, disc, ring
from tests.specimens import CAPTIVE, Assembly, box

OPEN = (Seat.OPEN, Seat.OPEN)


def _column(count: int, method: Method = Method.BOLTED, *, seats: tuple[Seat, Seat] = CAPTIVE) -> Assembly:
    """Rings of 600 mm across and 300 mm high, one on the other, bolted over inner flanges."""
    made = Assembly({f"P{k + 1}": ring(300.0, 300.0 * k, 300.0 * (k + 1)) for k in range(count)})
    for k in range(count - 1):
        at = 300.0 * (k + 1)
        bolts = () if method is Method.BONDED else around(270.0, at, 4)
        made.join(f"P{k + 1}", f"P{k + 2}", (0, 0, at), (0, 0, 1), bolts=bolts, seats=seats, method=method)
    return made


def _divided(made: Assembly, **way: Any) -> Divided:
    made.changes |= way
    given = {name: value for name, value in made.given.items() if name != "bondings"}
    return divided(**given)


def _ids(names: str) -> tuple[PartId, ...]:
    return tuple(PartId(name) for name in names.split())


def _door(width_mm: float, height_mm: float, turn_mm: float = 0.0) -> tuple[Passage, ...]:
    return (Passage(name="door", width_mm=width_mm, height_mm=height_mm, turn_mm=turn_mm),)


CORNER = _door(700.0, 700.0, 700.0)
"""Clear 660 mm and a corner: what is 600 mm wide goes round with 667 mm of length, two rings but not three."""


def test_two_rings_pass_the_door_at_a_time() -> None:
    found = _divided(_column(5), passages=CORNER)
    assert found.division is not None
    assert [len(way.parts) for way in found.division.sections].count(2) == 2
    assert len(found.division.sections) == 3
    assert found.division.is_fewest
    assert len(found.division.cuts) == 2
    site = [joint.id for joint in found.joints if joint.made is Place.SITE]
    assert site == list(found.division.cuts)
    assert not found.findings


def test_what_passes_whole_is_one_section() -> None:
    found = _divided(_column(5), passages=_door(2000.0, 2000.0, 2000.0))
    assert found.division is not None
    assert len(found.division.sections) == 1
    assert found.division.cuts == ()
    assert all(passing.is_standing for passing in found.division.sections[0].passings)


def test_a_column_passes_a_low_door_lying_only() -> None:
    found = _divided(_column(5), passages=_door(700.0, 700.0))
    assert found.division is not None
    (section,) = found.division.sections
    (passing,) = section.passings
    assert not passing.is_standing
    assert passing.size_mm == pytest.approx((1500.0, 600.0, 600.0), rel=0.01)
    assert abs(passing.up[2]) < 0.01


def test_straight_through_but_not_round_the_corner() -> None:
    straight, round_it = (_divided(_column(3), passages=_door(700.0, 700.0, turn)) for turn in (0.0, 700.0))
    assert straight.division is not None
    assert round_it.division is not None
    assert (len(straight.division.sections), len(round_it.division.sections)) == (1, 2)


def test_a_figure_whose_only_cut_is_bonded_says_so_with_the_remedy() -> None:
    found = _divided(_column(3, Method.BONDED), passages=CORNER)
    assert found.division is None
    assert {finding.code for finding in found.findings} == {"no-sections"}
    (finding,) = found.findings
    assert "bonded" in str(finding.message)
    assert finding.about[0] in str(finding.remedy)
    assert "bolted joint" in str(finding.remedy)
    assert all(joint.made is Place.SHOP for joint in found.joints)


def test_bolts_inside_a_closed_body_are_no_site_joint() -> None:
    made = _column(2, seats=OPEN)
    made.solids["P1"] += disc(299.0, 0.0, 8.0)
    made.solids["P2"] += disc(299.0, 592.0, 600.0)
    found = _divided(made, passages=_door(700.0, 400.0, 700.0))
    assert found.division is None
    (finding,) = found.findings
    assert finding.code == "no-sections"
    assert "nobody reaches" in str(finding.message)
    assert "hatch" in str(finding.remedy)


def test_a_part_that_passes_nowhere_is_named_with_its_least_box() -> None:
    found = _divided(_column(2), passages=_door(500.0, 2000.0))
    assert found.division is not None
    found = _divided(_column(2), passages=_door(300.0, 2000.0))
    assert {finding.about for finding in found.findings} == {("P1",), ("P2",)}
    assert "599 x 300 x 599 mm" in str(found.findings[0].message)


def test_payload_and_section_mass_bind() -> None:
    made = _column(2)
    each_kg = made.given["parts"][0].mass_kg
    light = Envelopes(section_max_kg=1.5 * each_kg)
    found = _divided(made, envelopes=light)
    assert found.division is not None
    assert len(found.division.sections) == 2
    small = Vehicle(length_mm=5000.0, width_mm=5000.0, height_mm=5000.0, payload_kg=0.5 * each_kg)
    found = _divided(_column(2), vehicle=small)
    assert {finding.code for finding in found.findings} == {"part-stuck"}
    assert "kg at most" in str(found.findings[0].message)


def test_stated_sections_are_held_against_everything() -> None:
    made = _column(4)
    own = (OwnSection(name="feet", parts=_ids("P1 P3")), OwnSection(name="rest", parts=_ids("P2 P4")))
    found = _divided(made, own_sections=own)
    assert [finding.code for finding in found.findings] == ["section-apart", "section-apart"]
    own = (OwnSection(name="feet", parts=_ids("P1")), OwnSection(name="rest", parts=_ids("P2 P3 P4")))
    found = _divided(_column(4), own_sections=own, passages=CORNER)
    assert [finding.code for finding in found.findings] == ["section-stuck"]
    found = _divided(_column(4, Method.BONDED), own_sections=own)
    assert [finding.code for finding in found.findings] == ["section-cut"]
    found = _divided(_column(4), own_sections=own)
    assert found.division is not None
    assert [way.name for way in found.division.sections] == ["feet", "rest"]
    assert found.division.cuts == ("J01",)


def test_sections_become_the_plan() -> None:
    made = _column(4)
    found = _divided(made, passages=CORNER)
    plan = plan_build(**{**made.given, "joints": found.joints})
    assert found.division is not None
    assert {section.parts for section in plan.sections} == {way.parts for way in found.division.sections}
    site = [step for step in plan.steps if step.place is Place.SITE and step.joints]
    assert [step.joints for step in site] == [found.division.cuts]


def test_a_figure_of_many_bolted_parts_is_divided_without_trying_every_set() -> None:
    """A shelf of 8 by 4 boxes open in front, all bolted: 32 units have far more connected sets than are tried."""
    made = Assembly({})
    for row in range(4):
        for column in range(8):
            low = (200.0 * column, 0.0, 200.0 * row)
            made.solids[f"P{row * 8 + column + 1}"] = box(low, (low[0] + 200.0, 200.0, low[2] + 200.0)) - box(
                (low[0] + 10.0, -1.0, low[2] + 10.0), (low[0] + 190.0, 190.0, low[2] + 190.0)
            )
    for row in range(4):
        for column in range(8):
            here, x, z = row * 8 + column + 1, 200.0 * column, 200.0 * row
            if column < 7:
                at = (x + 200.0, 100.0, z + 100.0)
                made.join(f"P{here}", f"P{here + 1}", at, (1, 0, 0), bolts=[at])
            if row < 3:
                at = (x + 100.0, 100.0, z + 200.0)
                made.join(f"P{here}", f"P{here + 8}", at, (0, 0, 1), bolts=[at])
    mass_kg = sum(part.mass_kg for part in made.given["parts"])
    found = _divided(made, envelopes=Envelopes(section_max_kg=mass_kg / 2.0 + 0.1))
    assert found.division is not None
    assert len(found.division.sections) == 2
    assert found.division.is_fewest


@pytest.mark.parametrize("way", [600.0, 900.0, 1500.0])
def test_a_ladder_round_a_corner(way: float) -> None:
    """2 sqrt(2) times the way, without width; nothing that is wider than the way."""
    assert longest_round_corner_mm(way, way, 0.0) == pytest.approx(2.0 * math.sqrt(2.0) * way, rel=1e-4)
    assert longest_round_corner_mm(way, way, way + 1.0) == 0.0


def test_a_box_round_a_corner_by_turning_it_in_small_steps() -> None:
    """Brute force: the box slides along both outer walls; its outer side has to keep its width from the corner."""
    way, behind, width = 800.0, 1100.0, 350.0
    longest = longest_round_corner_mm(way, behind, width)
    angles = np.radians(np.linspace(0.01, 89.99, 20_000))
    for length, is_free in ((longest - 2.0, True), (longest + 2.0, False)):
        ends = np.column_stack((length * np.cos(angles), length * np.sin(angles)))
        # Distance of the inner corner (way, behind) from the line through (x, 0) and (0, y).
        gap = (ends[:, 1] * way + ends[:, 0] * behind - ends[:, 0] * ends[:, 1]) / length
        assert bool((gap >= width).all()) is is_free


def test_boxes_against_brute_force_over_directions() -> None:
    """The least cross-section of an oblique slab among 20,000 random positions is not below that of the boxes."""
    body = Manifold.cube((900.0, 300.0, 120.0), True).rotate((25.0, 40.0, 10.0))
    points = hull_points(np.array(body.to_mesh64().vert_properties[:, :3]))
    up = (0.0, 0.0, 1.0)
    boxes = [one for way in (up, *lying_directions(points, up)) for one in standing_boxes(points, way)]
    best = min(one.size_mm[1] * one.size_mm[2] for one in boxes)
    random = np.random.default_rng(5)
    frames = np.linalg.qr(random.normal(size=(20_000, 3, 3)))[0]
    turned = np.einsum("fij,nj->fni", frames, points)
    sizes = np.sort(np.ptp(turned, axis=1), axis=1)
    assert best <= (sizes[:, 0] * sizes[:, 1]).min() * 1.001
    assert best == pytest.approx(300.0 * 120.0, rel=0.01)
