"""Beads on faces of closed form: a ring with bolts, a disc without."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from assembler.drawing.beads import GAP_MM, MOST_INSET_MM, NEXT_MM, OFF_HOLE_MM, bead_plan, press_points
from assembler.drawing.faceview import face_picture
from assembler.figure.joints import Method
from tests.drawing.specimens import skittle

PX = 0.5
"""mm in a pixel."""
WIDTH = 6.0
OUTER, INNER, HOLE = 120.0, 80.0, 9.0
CENTRE = (300.0, 300.0)


def ring(bolts: int):
    y, x = np.indices((600, 600)) + 0.5
    away = np.hypot(x - CENTRE[0], y - CENTRE[1]) * PX
    face = (away < OUTER) & (away > INNER)
    turns = 2.0 * np.pi * np.arange(bolts) / max(bolts, 1)
    places = np.column_stack([np.cos(turns), np.sin(turns)]) * (OUTER + INNER) / 2.0 / PX + CENTRE
    for bx, by in places:
        face &= np.hypot(x - bx, y - by) * PX > HOLE / 2.0
    return face, places, away


def plan_of(face, places):
    return bead_plan(face, PX, places, [HOLE] * len(places), CENTRE, WIDTH, 0.0)


def test_beads_follow_both_edges_a_quarter_in_and_the_holes():
    face, places, away = ring(8)
    plan = plan_of(face, places)
    assert plan.inset_mm == pytest.approx(MOST_INSET_MM)
    # Bands drawn 3 mm wide round radii 112 and 88.
    radii = away[plan.edge]
    near_outer, near_inner = np.abs(radii - (OUTER - 8.0)) < 2.5, np.abs(radii - (INNER + 8.0)) < 2.5
    assert (near_outer | near_inner).all()
    assert near_outer.any()
    assert near_inner.any()
    rings = np.column_stack(np.nonzero(plan.rings)[::-1]) + 0.5
    nearest = np.min([np.hypot(*(rings - place).T) for place in places], axis=0) * PX
    assert nearest.mean() == pytest.approx(HOLE / 2.0 + OFF_HOLE_MM, abs=0.3)


def test_length_is_that_of_the_circles_less_the_openings():
    face, places, _ = ring(8)
    circles = 2.0 * np.pi * (112.0 + 88.0) + 8.0 * 2.0 * np.pi * (HOLE / 2.0 + OFF_HOLE_MM)
    openings = 8.0 * GAP_MM
    assert plan_of(face, places).length_mm == pytest.approx(circles - openings, rel=0.06)


def test_the_bead_is_open_on_the_hollow_side_only_midway_between_bolts():
    face, places, _ = ring(8)
    plan = plan_of(face, places)

    def share(radius_mm: float) -> np.ndarray:
        turns = np.radians(np.arange(720) / 2.0)
        x = (CENTRE[0] + radius_mm / PX * np.cos(turns)).astype(int)
        y = (CENTRE[1] + radius_mm / PX * np.sin(turns)).astype(int)
        return plan.edge[y, x]

    assert share(112.0).all()
    inner = share(88.0)
    runs = np.flatnonzero(np.diff(np.concatenate([[inner[-1]], inner]).astype(int)) == -1)
    assert len(runs) == 8
    # Bolts stand at multiples of 45 degrees, so the middles lie at 22.5.
    closed_at = inner[np.arange(8) * 90]
    open_at = inner[45 + np.arange(8) * 90]
    assert closed_at.all()
    assert not open_at.any()


def test_narrow_flanges_get_their_bead_a_quarter_in():
    y, x = np.indices((100, 500)) + 0.5
    face = (np.abs(y - 50.0) < 20.0) & (np.abs(x - 250.0) < 220.0)
    plan = bead_plan(face, PX, np.zeros((0, 2)), [], (250.0, 500.0), WIDTH, 0.0)
    # 20 mm wide: a band's area over half its border, a little less for its short ends.
    assert plan.inset_mm == pytest.approx(5.0, rel=0.08)


def test_wide_faces_get_further_beads_inside():
    y, x = np.indices((600, 600)) + 0.5
    away = np.hypot(x - 300.0, y - 300.0) * PX
    plan = bead_plan(away < 100.0, PX, np.zeros((0, 2)), [], (300.0, 300.0), WIDTH, 0.0)
    radii = 100.0 - away[plan.edge]
    for level in (MOST_INSET_MM, MOST_INSET_MM + NEXT_MM, MOST_INSET_MM + 2.0 * NEXT_MM):
        assert (np.abs(radii - level) < 2.0).sum() > 200


def test_diameter_of_a_bead_lays_its_volume():
    face, places, _ = ring(8)
    plan = plan_of(face, places)
    volume_ml = 12.0
    radius_mm = plan.bead_mm(volume_ml) / 2.0
    assert np.pi * radius_mm**2 * plan.length_mm == pytest.approx(volume_ml * 1000.0)


def test_press_marks_lie_on_the_face_and_apart():
    face, _, _ = ring(0)
    points = press_points(face)
    assert len(points) == 4
    for x, y in points:
        assert face[int(y), int(x)]
    gaps = [np.hypot(a[0] - b[0], a[1] - b[1]) * PX for i, a in enumerate(points) for b in points[:i]]
    # Four points spread on a circle of 100 mm: at best 141 mm apart, greedily never nearer than 70.
    assert min(gaps) > 70.0


def words_of(picture) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", picture.overlay_svg)


def _joint(step, name):
    return next(joint for joint in step.records if joint.id == name)


def test_face_says_order_bead_and_hold(room):
    step = skittle().drawn[2]
    joint = _joint(step, "J03")
    bolts = tuple(bolt.id for bolt in joint.bolts)
    words = words_of(face_picture(room, step, joint, bolts, (0.0, -1.0, 0.3)))
    assert "J03 on P01, from above" in words
    assert "Numbers: order of tightening." in words
    assert "Hold 12 h before loading." in words
    bead = next(re.fullmatch(r"Bead about ([\d.]+) mm, ([\d.]+) m long\.", text) for text in words if "Bead" in text)
    # 8 ml in a round bead of that length, given to half a millimetre.
    radius_mm = np.sqrt(8000.0 / (np.pi * float(bead[2]) * 1000.0))
    assert float(bead[1]) == pytest.approx(2.0 * radius_mm, abs=0.3)


def test_face_without_bolts_shows_where_to_press_and_without_adhesive_no_bead(room):
    step = skittle().drawn[2]
    joint = _joint(step, "J03")
    glued = face_picture(room, step, replace(joint, bolts=(), method=Method.BONDED), ())
    assert "Crosses: clamp or weigh down." in words_of(glued)
    assert glued.overlay_svg.count("<circle") == 4
    dry = face_picture(room, step, replace(joint, method=Method.BOLTED), ())
    assert not any("Bead" in text or "clamp" in text for text in words_of(dry))


def test_where_a_face_is_seen_from_needs_no_front(room):
    """J01 of the halves stands upright with normal +x, shown on P02, which stands at x < 0 and is seen from +x."""
    step = replace(skittle().drawn[1], moves=("P01",))
    joint = _joint(step, "J01")
    eyes = {
        "seen as in the main picture": (1.0, 0.1, 0.2),
        "from behind the main picture": (-1.0, 0.1, 0.2),
        "from the right of the main picture": (0.1, -1.0, 0.2),
        "from the left of the main picture": (0.1, 1.0, 0.2),
    }
    for words, eye in eyes.items():
        texts = " ".join(words_of(face_picture(room, step, joint, (), eye)))
        assert f"J01 on P02, {words}" in texts
