"""Work that was turned says so, in words and with an arrow up; upright work says nothing."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
from PIL import Image

from assembler.drawing.camera import direction
from assembler.drawing.drawnstep import DrawnStep, Solids
from assembler.drawing.keyfigure import Key, key_figure, key_view
from assembler.drawing.overlay import text_width
from assembler.drawing.scenes import Role
from assembler.drawing.stage import staged
from assembler.drawing.stepview import WORDS_MM, ShownStep, step_picture
from assembler.drawing.studio import Studio
from assembler.drawing.style import px
from assembler.drawing.turning import turn_of
from assembler.drawing.viewpoints import Choice, measured
from assembler.figure.parts import Vector
from assembler.figure.plan import Plan, StepKind
from tests.drawing.specimens import skittle

LYING = (0.0, -1.0, 0.0)
PLAN = skittle().plan


def drawn(plan: Plan) -> tuple[DrawnStep, ...]:
    return replace(skittle(), plan=plan).drawn


def key_of(room: Studio, step: DrawnStep, eye: Vector) -> Key:
    solids = Solids(PLAN, skittle().meshes)
    view = key_view(step, eye, solids.of(solids.known))
    assert view is not None
    return key_figure(room, view)


def turned_plan() -> Plan:
    """The third step is carried out lying down, the fourth too, the fifth upside down, the sixth upright again."""
    ups = {"3": LYING, "4": LYING, "5": (0.0, 0.0, -1.0)}
    return replace(PLAN, steps=tuple(replace(step, up=ups.get(step.number, step.up)) for step in PLAN.steps))


def test_words_say_what_changed_and_what_is_on_top(room):
    plan = turned_plan()
    boxes = {part: room.box(part) for part in room.names}
    turns = {step.number: turn_of(step, boxes) for step in drawn(plan)}
    assert turns["1"] is None
    assert turns["2"] is None
    # From the front all middles are level; the lowest number is named.
    assert turns["3"].words == "Work turned by 90°: it lies, P01 on top."
    assert turns["4"].words == "Work stays turned: it lies, P01 on top."
    assert turns["5"].words == "Work turned by 90°: it stands upside down."
    assert turns["6"].words == "Work turned by 180°: it stands upright."


def test_a_step_that_only_turns_says_so(room):
    boxes = {part: room.box(part) for part in room.names}
    turn = replace(PLAN.steps[3], kind=StepKind.TURN, moves=(), path=(), joints=(), stacks=(), up=(1.0, 0.0, 0.0))
    plan = replace(PLAN, steps=(*PLAN.steps[:3], turn))
    # P01 and P03 are the halves at x > 0, equally far out.
    assert turn_of(drawn(plan)[3], boxes).words == "Work turned by 90°: it lies, P01 on top."
    other = replace(drawn(plan)[3], up=(-1.0, 0.0, 0.0))
    assert turn_of(other, boxes).words == "Work turned by 90°: it lies, P02 on top."


def test_the_picture_has_an_arrow_up_the_words_and_a_bench_below(room):
    for step, is_turned in ((drawn(turned_plan())[2], True), (drawn(PLAN)[2], False)):
        eye = tuple(float(v) for v in direction(30.0, 25.0, step.up))
        stage = staged(room, step)
        shown = measured(stage.subject(), room.rasteriser, eye)
        choice = Choice(eye=eye, up=step.up, shown=shown, changed_deg=0.0)
        picture = step_picture(room, ShownStep(step=step, choice=choice, key=None))
        texts = re.findall(r"<text[^>]*>([^<]*)</text>", picture.overlay_svg)
        assert ("UP" in texts) == is_turned
        assert ("Work turned by 90°: it lies, P01 on top." in " ".join(texts)) == is_turned
        for x, text in re.findall(r'<text x="([\d.]+)"[^>]*font-weight="bold">(Work[^<]*)<', picture.overlay_svg):
            assert float(x) + text_width(text, px(WORDS_MM), bold=True) <= picture.width_px
        ground = next(item for item in stage.items if item.role is Role.GROUND)
        others = np.vstack([room.box(part) for part in step.onto])
        up = np.asarray(step.up)
        assert (room.rasteriser.box(ground) @ up).max() <= (others @ up).min()


def test_key_figure_shows_the_whole_figure_from_the_side_where_the_new_part_is(room):
    """P02 lies at x < 0, behind P01 seen from +x: the key figure is turned round; P01 is in sight."""
    from_x = (1.0, 0.0, 0.2)
    near, far = (key_of(room, step, from_x) for step in drawn(PLAN)[:2])
    assert not near.is_behind
    assert far.is_behind
    assert "other side" in far.marks((0.0, 0.0), "other side")
    assert "other side" not in near.marks((0.0, 0.0), "other side")
    for key in (near, far):
        with Image.open(room.out_dir / key.file) as image:
            raster = np.asarray(image.convert("RGB"))
        inked = (raster < 250).any(axis=2)
        rows = np.flatnonzero(inked.any(axis=1))
        # The whole figure of 900 mm is there, not only the 300 mm that stand.
        assert np.ptp(rows) > 0.75 * raster.shape[0]
        dark = (raster[..., 2] > 120) & (raster[..., 0] < 60)
        assert dark.mean() > 0.02


def test_key_figure_of_turned_work_points_up(room):
    step = drawn(turned_plan())[2]
    assert key_of(room, step, (1.0, 0.2, 0.2)).up is not None
    # Seen along the direction that is up there is nothing to point at.
    assert key_of(room, step, (0.0, -1.0, 0.0)).up is None
    assert key_of(room, drawn(PLAN)[2], (1.0, 0.2, 0.2)).up is None
