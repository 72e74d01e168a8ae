"""The scene of a step as data, and what its main picture says of it."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from assembler.drawing.camera import direction, framed, unit
from assembler.drawing.drawnstep import DrawnStep
from assembler.drawing.explode import LEAST_MM, length_along, way_back
from assembler.drawing.parting import GAP_MM, MOST_SHARE, overlap_px, parted, parting_mm
from assembler.drawing.scenes import Role
from assembler.drawing.stage import staged
from assembler.drawing.stepview import ShownStep, step_picture
from assembler.drawing.studio import Studio
from assembler.drawing.style import MAIN_MM
from assembler.drawing.viewpoints import LOW_PX, Choice, choose, measured
from assembler.figure.plan import Move, Stand, StatedBase, StepKind
from tests.drawing.specimens import skittle

UP = (0.0, 0.0, 1.0)
STEPS = skittle().drawn
JOINING = [step for step in STEPS if step.onto]


def seen_from(studio: Studio, step: DrawnStep, azimuth: float, elevation: float) -> Choice:
    eye = tuple(float(v) for v in direction(azimuth, elevation, step.up))
    shown = measured(staged(studio, step).subject(), studio.rasteriser, eye)
    return Choice(eye=eye, up=step.up, shown=shown, changed_deg=0.0)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.number)
def test_each_piece_of_each_bolt_is_drawn_once(room, step):
    stage = staged(room, step)
    drawn = Counter(item.name for item in stage.items if item.role is Role.HARDWARE)
    wanted: Counter[str] = Counter()
    for stack in step.stacks:
        wanted.update({f"{stack.bolt} screw": 1, f"{stack.bolt} nut": 1, f"{stack.bolt} washer": 2})
    assert drawn == wanted


@pytest.mark.parametrize("step", JOINING, ids=lambda step: step.number)
def test_new_parts_slide_across_the_picture_along_their_real_path(room, step):
    """The picture apart and the picture in place differ by the projected path and nothing else."""
    stage = staged(room, step)
    camera = framed(stage.focus_mm, direction(30.0, 30.0, UP), UP, 400, 300, margin=0.1)
    new = [item for item in stage.items if item.role is Role.NEW]
    there = room.rasteriser.draw(new, camera).ids > 0
    home = room.rasteriser.draw([replace(item, shift_mm=(0.0, 0.0, 0.0)) for item in new], camera).ids > 0
    moved = np.array([np.mean(np.nonzero(mask), axis=1)[::-1] for mask in (home, there)])
    back = -stage.explode_mm * unit(step.path[-1].direction)
    flat = camera.project(np.array([(0.0, 0.0, 0.0), back]))[:, :2]
    assert moved[1] - moved[0] == pytest.approx(flat[1] - flat[0], abs=0.6)
    assert stage.explode_mm >= min(LEAST_MM, step.path[-1].travel_mm)


def test_the_way_back_follows_both_legs_round_the_corner():
    path = (Move(direction=(1.0, 0.0, 0.0), travel_mm=200.0), Move(direction=(0.0, 0.0, -1.0), travel_mm=50.0))
    assert way_back(path, 30.0) == ((0.0, 0.0, 30.0), (0.0, 0.0, 0.0))
    assert way_back(path, 120.0) == ((-70.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 0.0, 0.0))
    assert way_back(path, 9999.0)[0] == (-200.0, 0.0, 50.0)
    assert way_back(path, 0.0) == ((0.0, 0.0, 0.0),)


def test_a_path_of_two_legs_is_drawn_with_its_corner(room):
    legs = (Move(direction=(-1.0, 0.0, 0.0), travel_mm=150.0), Move(direction=(0.0, 0.0, -1.0), travel_mm=90.0))
    step = replace(STEPS[2], path=legs)
    choice = parted(room, staged(room, step), seen_from(room, step, 20.0, 25.0))
    assert choice.explode_mm >= 90.0 + LEAST_MM
    picture = step_picture(room, ShownStep(step=step, choice=choice, key=None))
    shafts = re.findall(r'<polyline points="([^"]*)"[^>]*stroke="#1a1a1e" stroke-width="8.3"', picture.overlay_svg)
    corners = [np.array([[float(v) for v in pair.split(",")] for pair in line.split()]) for line in shafts]
    ways = [line[-1] - line[0] for line in corners]
    assert len(ways) == 2
    # One leg runs across the picture, the other straight down.
    assert any(abs(way[0]) > 3.0 * abs(way[1]) for way in ways)
    assert any(way[1] > 3.0 * abs(way[0]) for way in ways)


@pytest.mark.parametrize("step", JOINING, ids=lambda step: step.number)
def test_what_is_new_and_what_stands_part_company_on_paper(room, step):
    """At the measured distance the new part's front clears what it is joined to by the stated gap, or the path ends."""
    guess = staged(room, step)
    choice = choose(guess.subject(), partial(measured, guess.subject(), room.rasteriser), None)
    distance = parting_mm(guess, room, choice)
    assert LEAST_MM <= distance <= step.path[-1].travel_mm
    camera = framed(guess.subject().focus_mm, choice.eye, UP, *LOW_PX)
    flat = camera.project(np.array([(0.0, 0.0, 0.0), staged(room, step, distance).shift_mm]))[:, :2]
    apart = float(np.hypot(*(flat[1] - flat[0])))
    overlap = overlap_px(guess.subject(), room.rasteriser, camera, (flat[0] - flat[1]) / apart)
    gap_mm = (apart - max(overlap, 0.0)) * MAIN_MM[0] / LOW_PX[0]
    most = max(MOST_SHARE * length_along(step, {part: room.box(part) for part in room.names}), LEAST_MM)
    if LEAST_MM < distance < min(most, step.path[-1].travel_mm) - 0.1:
        assert gap_mm == pytest.approx(GAP_MM, abs=0.3)
    elif distance == LEAST_MM:
        assert gap_mm >= GAP_MM - 0.3


def test_overlap_of_a_part_that_is_lowered_is_the_depth_of_the_flange_it_lands_on(room):
    """Seen from 30 degrees above, a ring of radius R lies R sin(30) deep in the picture before its middle."""
    stage = staged(room, STEPS[2])
    camera = framed(stage.focus_mm, direction(0.0, 30.0, UP), UP, *LOW_PX)
    ring = overlap_px(stage.subject(), room.rasteriser, camera, np.array([0.0, 1.0]))
    flat = overlap_px(
        stage.subject(),
        room.rasteriser,
        framed(stage.focus_mm, direction(0.0, 0.1, UP), UP, *LOW_PX),
        np.array([0.0, 1.0]),
    )
    assert abs(flat) <= 2.0
    assert ring > flat + 10.0


def test_the_arrow_points_along_the_path_and_stays_clear_of_references(room):
    for step in JOINING[1:3]:
        choice = parted(room, staged(room, step), seen_from(room, step, 30.0, 30.0))
        picture = step_picture(room, ShownStep(step=step, choice=choice, key=None))
        heads = re.findall(r'<polygon points="([^"]*)" fill="#1a1a1e" stroke="none"', picture.overlay_svg)
        tip, left, right = (np.array([float(v) for v in pair.split(",")]) for pair in heads[0].split())
        pointed = unit(np.array([*(tip - (left + right) / 2.0), 0.0]))[:2]
        axes = framed(np.zeros((1, 3)), choice.eye, UP, 100, 100).axes
        flat = axes @ unit(step.path[-1].direction)
        assert pointed == pytest.approx(unit(np.array([flat[0], -flat[1], 0.0]))[:2], abs=0.03)


def test_a_view_almost_along_a_face_does_not_count_as_showing_it(room):
    step = STEPS[2]
    level = seen_from(room, step, 30.0, 1.5).shown
    above = seen_from(room, step, 30.0, 30.0).shown
    assert level.mating < 0.2
    assert above.mating > 0.75
    assert above.goal == pytest.approx(above.mating)


def test_a_view_shows_where_the_part_goes_not_only_what_goes_there(room):
    """From below the new ring shows its own face; the face that waits for it is hidden."""
    below = seen_from(room, STEPS[2], 30.0, -30.0).shown
    assert below.mating > 0.75
    assert below.goal == 0.0


def test_first_parts_on_a_bench_are_new_and_work_that_is_only_turned_is_not(room):
    alone = replace(STEPS[0], moves=(), onto=("P01",), set_up=("P01",), path=(), joints=(), stacks=())
    assert [item.role for item in staged(room, alone).items if item.name == "P01"] == [Role.NEW]
    later = replace(STEPS[3], moves=(), path=(), joints=(), stacks=(), onto=("P01", "P02", "P03"))
    turned = replace(later, kind=StepKind.TURN, moves=("P03",), onto=("P01", "P02"))
    for step, role in ((later, Role.STANDING), (turned, Role.NEIGHBOUR)):
        roles = {item.name: item.role for item in staged(room, step).items if item.role is not Role.GROUND}
        assert roles == dict.fromkeys(("P01", "P02", "P03"), role)


BASE = StatedBase(size_mm=(900.0, 700.0, 60.0), mass_kg=30.0, top_mm=(10.0, 20.0, 0.0))


def under(room: Studio, step: DrawnStep) -> dict[str, list]:
    """What the work of a step stands on, by name: role and box of each body."""
    found: dict[str, list] = {}
    for item in staged(room, step).items:
        if item.name in ("base", "stand") or item.role is Role.GROUND:
            box = room.rasteriser.box(item)
            found.setdefault(item.name.split()[0], []).append((item.role, box.min(axis=0), box.max(axis=0)))
    return found


def test_a_base_by_size_is_a_box_under_the_work_and_new_where_it_is_set_down(room):
    (step, *_) = JOINING
    for kind, moves, role in ((step.kind, step.moves, Role.STANDING), (StepKind.BASE, (), Role.NEW)):
        bodies = under(room, replace(step, base=BASE, kind=kind, moves=moves))
        ((drawn, low, high),) = bodies["base"]
        assert drawn is role
        assert low == pytest.approx((-440.0, -330.0, -60.0))
        assert high == pytest.approx((460.0, 370.0, 0.0))
        ((_, _, ground),) = bodies["ground"]
        assert ground[2] < -60.0
    assert "base" not in under(room, step)
    assert "base" not in under(room, replace(step, base=BASE).close_up)


def test_a_base_of_which_only_the_mass_is_stated_is_not_drawn(room):
    assert "base" not in under(room, replace(JOINING[0], base=replace(BASE, size_mm=(0.0, 0.0, 0.0))))


def test_stands_reach_from_the_ground_to_the_work_and_leave_room_between_them(room):
    corners = [(x, y, 5.0) for x in (-200.0, 200.0) for y in (-150.0, 150.0)]
    step = replace(JOINING[0], stands=tuple(Stand(at_mm=at, height_mm=330.0) for at in corners))
    bodies = under(room, step)["stand"]
    assert {role for role, _, _ in bodies} == {Role.STANDING}
    for (_, low, high), at in zip(bodies, corners, strict=True):
        assert (low[2], high[2]) == pytest.approx((5.0 - 330.0, 5.0))
        assert np.all(low[:2] <= np.asarray(at[:2]))
        assert np.all(high[:2] >= np.asarray(at[:2]))
        # Seen from the middle, nearly all of it lies outside.
        assert min(abs(low[0]), abs(high[0])) == pytest.approx(200.0 - 12.0)
        assert min(abs(low[1]), abs(high[1])) == pytest.approx(150.0 - 12.0)
