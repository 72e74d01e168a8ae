"""The main picture of a step.

In: a studio, a step, the view chosen for it. Out: a `Picture`: raster of surfaces and lines, and over it real text,
leaders, bolt axes and the arrow of the movement.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.annotations import Marks, axis_lines, hidden_hardware, motion_marks
from assembler.drawing.callouts import Callout, Label, drawn, overlaps, placed
from assembler.drawing.camera import Camera, Point, framed
from assembler.drawing.composition import Box, Composition, composed
from assembler.drawing.drawnstep import DrawnStep
from assembler.drawing.image import closed, drawn_box, faded, inner_spot
from assembler.drawing.keyfigure import Key
from assembler.drawing.linework import Hatch, drawing
from assembler.drawing.mating import marked
from assembler.drawing.scenes import Role
from assembler.drawing.shot import Shot
from assembler.drawing.stage import Stage, staged
from assembler.drawing.studio import Studio, studio_of
from assembler.drawing.style import BOND_TINT, DRY_TINT, MAIN_MM, look_of, pixels, px
from assembler.drawing.turning import MARK_MM, Turn, turn_of, up_mark
from assembler.drawing.viewpoints import Choice, mating_share
from assembler.figure.ids import PartId
from assembler.figure.pictures import Picture
from assembler.figure.plan import StepKind, View
from assembler.figure.titles import closing_movement
from assembler.words import Said, say

MARGIN = (0.17, 0.05)
"""Free on the left and right for references, and above and below."""
CROWDED_MM, SEEN_WELL = 6.0, 0.6
"""References keep this far apart if another piece of their kind is seen nearly as well as the best."""
FADE_MM = 9.0
"""Towards the border of the sheet the picture of a part of the figure turns white."""
WORDS_MM = 4.2
"""Height of letters: 8 pt where a page shows the picture at two thirds."""


def main_camera(stage: Stage, choice: Choice) -> Camera:
    """Where the main picture of a step is taken from."""
    return framed(stage.focus_mm, choice.eye, choice.up, *pixels(MAIN_MM), margin=MARGIN)


def taken(studio: Studio, stage: Stage, choice: Choice) -> Shot:
    """What the camera of the main picture sees."""
    camera = main_camera(stage, choice)
    buffers = studio.rasteriser.draw(stage.items, camera)
    return Shot(stage=stage, camera=camera, buffers=buffers, subject=_subject_box(buffers.ids, stage))


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownStep:
    """All that the main picture of a step is drawn from.

    Parameters
    ----------
    step
        What is done.
    choice
        The view, with the distance of its parts.
    key
        The key figure, which lies in a file of its own; None: there is none.
    """

    step: DrawnStep
    choice: Choice
    key: Key | None


def draw_step(figure: Path, shown: ShownStep) -> tuple[Picture]:
    """The main picture of a step, `step-<number>.png`, written beside the file that holds the bodies of the figure.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """
    return (step_picture(studio_of(figure), shown),)


def step_picture(studio: Studio, shown: ShownStep) -> Picture:
    """The same in a studio that is open."""
    step, choice, key = shown.step, shown.choice, shown.key
    shot = taken(studio, staged(studio, step, choice.explode_mm), choice)
    stage, camera, buffers = shot.stage, shot.camera, shot.buffers
    width, height = pixels(MAIN_MM)
    kinds = _hardware_kinds(step)
    raster = drawing(buffers, [look_of(item) for item in stage.items], camera.mm_per_px, _hatches(shot))
    if not stage.is_whole:
        raster = faded(raster, px(FADE_MM))
    labels = [*_part_labels(shot), *_hardware_labels(shot, kinds)]
    callouts = placed(labels, shot.subject, width, height)
    motion = motion_marks(shot, callouts)
    turn = turn_of(step, studio.boxes(step.parts))
    foot = px(MARK_MM[1] + 1.0) if turn else 0.0
    sheet = composed(raster, [*_boxes(callouts), *_arrow_box(motion)], key.room if key else None, foot)
    file = f"step-{step.number}.png"
    studio.save(sheet.raster, file)
    over = hidden_hardware(shot) + axis_lines(shot) + motion.svg + drawn(callouts)
    pieces = [overlay.shifted(over, sheet.shift_px), key.marks(sheet.key_px, step.said("other_side")) if key else ""]
    if turn:
        pieces.append(_turned(step, turn, camera, sheet))
    legend = [(label.text, label.text) for label in labels if not label.text.isdigit() or label.text in step.parts]
    return Picture(
        file=file,
        width_px=sheet.raster.shape[1],
        height_px=sheet.raster.shape[0],
        overlay_svg="".join(pieces),
        legend=(*legend, *((kind.reference, kind.name) for kind in kinds)),
        alt=_alt(step),
        view=_view(stage, choice, shot, overlaps(callouts, width, height)),
        corner_px=(-sheet.shift_px[0], -sheet.shift_px[1]),
        is_turn_told=turn is not None,
    )


def _boxes(callouts: Sequence[Callout]) -> list[Box]:
    """Boxes of references, and of their leaders in short pieces."""
    boxes = []
    for one in callouts:
        x, y = one.centre
        boxes.append((x - one.half_width, y - one.half_height, x + one.half_width, y + one.half_height))
        line = np.linspace(one.foot, one.label.anchor, 12)
        boxes += [
            (min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])) for a, b in itertools.pairwise(line)
        ]
    return [(float(a), float(b), float(c), float(d)) for a, b, c, d in boxes]


def _arrow_box(motion: Marks) -> list[Box]:
    """Box of the arrow of the movement, with its width."""
    if not motion.arrow:
        return []
    corners = np.asarray(motion.arrow)
    low, high = corners.min(axis=0) - px(1.2), corners.max(axis=0) + px(1.2)
    return [(float(low[0]), float(low[1]), float(high[0]), float(high[1]))]


def _turned(step: DrawnStep, turn: Turn, camera: Camera, sheet: Composition) -> str:
    """Mark and words below the picture."""
    corner = (0.0, float(sheet.foot_px))
    left = px(MARK_MM[0] + 1.0)
    lines = overlay.wrapped(turn.words, px(WORDS_MM), sheet.raster.shape[1] - left - px(1.0))
    top = corner[1] + px(MARK_MM[1] / 2.0 - WORDS_MM * 0.65 * (len(lines) - 1))
    rows = [
        overlay.words((left, top + px(WORDS_MM * 1.3 * row)), line, WORDS_MM, bold=True)
        for row, line in enumerate(lines)
    ]
    return up_mark(step, turn, camera, corner) + "".join(rows)


def _view(stage: Stage, choice: Choice, shot: Shot, faults: int) -> View:
    mating = mating_share(stage.subject(), shot.camera, shot.buffers) if stage.maps else choice.shown.mating
    return View(
        eye=choice.eye,
        up=choice.up,
        explode_mm=round(stage.explode_mm, 1),
        new_visible=round(choice.shown.new, 3),
        mating_visible=round(mating, 3),
        mating_searched=round(choice.shown.mating, 3),
        label_overlaps=faults,
        turned_deg=round(choice.changed_deg, 1),
    )


def _subject_box(ids: NDArray[np.uint16], stage: Stage) -> tuple[float, float, float, float]:
    """Box of everything but the bench top, px."""
    is_body = np.array([False, *(item.role is not Role.GROUND for item in stage.items)])
    return drawn_box(is_body[ids])


def _hatches(shot: Shot) -> list[Hatch]:
    """Mating faces in sight: tinted and hatched where adhesive goes, hatched wider where none does."""
    found = []
    for index, area in enumerate(shot.stage.maps):
        mask = np.zeros(shot.buffers.ids.shape, dtype=np.bool_)
        for part in area.joint.parts:
            mask |= marked(shot.buffers, shot.camera, list(shot.stage.items), area, part)
        mask = closed(mask)
        bonded = area.joint.method.is_bonded
        found.append(
            Hatch(
                mask=mask,
                tint=BOND_TINT if bonded else DRY_TINT,
                angle_deg=45.0 if index % 2 == 0 else -45.0,
                spacing_mm=1.5 if bonded else 2.6,
            )
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One item of hardware of a step: its number in the picture, its designation, and what tells its pieces."""

    reference: str
    name: str
    kind: str
    size: str
    length_mm: float


def _hardware_kinds(step: DrawnStep) -> list[Kind]:
    """Items of hardware of a step, each designation once: screws, washers, nuts."""
    order = {"screw": 0, "washer": 1, "nut": 2}
    seen = {(order.get(line.kind, 3), str(line.item)): line for line in step.hardware}
    return [
        Kind(reference=str(number), name=str(line.item), kind=line.kind, size=line.size, length_mm=line.length_mm)
        for number, (_, line) in enumerate(sorted(seen.items(), key=lambda pair: pair[0]), start=1)
    ]


def _part_labels(shot: Shot) -> list[Label]:
    """References of the new parts and of those they are joined to."""
    labels = []
    for number, item in enumerate(shot.stage.items, start=1):
        if item.role in (Role.NEW, Role.NEIGHBOUR):
            spot = inner_spot(shot.buffers.ids == number)
            if spot is not None:
                mark = shot.stage.step.marks.get(PartId(item.name), "")
                labels.append(Label(text=item.name, anchor=spot, heavy=item.role is Role.NEW, mark=mark))
    return labels


def _hardware_labels(shot: Shot, kinds: list[Kind]) -> list[Label]:
    """Each item of hardware once, on a piece that is seen well and does not crowd the anchors before it."""
    labels: list[Label] = []
    for kind in kinds:
        spot = _hardware_spot(shot, kind, [label.anchor for label in labels])
        if spot is not None:
            labels.append(Label(text=kind.reference, anchor=spot))
    return labels


def _hardware_spot(shot: Shot, kind: Kind, used: Sequence[Point]) -> Point | None:
    """Point on the piece of this kind that is seen best; a hidden one if none is seen."""
    pieces = [
        piece
        for piece in shot.stage.hung
        if piece.kind == kind.kind
        and piece.axis.stack.size == kind.size
        and (kind.kind != "screw" or piece.axis.stack.length_mm == kind.length_mm)
    ]
    if not pieces:
        return None
    where = shot.camera.project(np.array([piece.middle_mm for piece in pieces]))
    middle = (shot.subject[0] + shot.subject[2]) / 2.0
    counts = [shot.pixels_of(piece) for piece in pieces]
    well = SEEN_WELL * max(counts)

    def rank(i: int) -> tuple[bool, int, float, int]:
        crowded = any(np.hypot(where[i, 0] - x, where[i, 1] - y) < px(CROWDED_MM) for x, y in used)
        return (counts[i] >= well and not crowded, counts[i], abs(where[i, 0] - middle), -i)

    best = max(range(len(pieces)), key=rank)
    return (float(where[best, 0]), float(where[best, 1]))


def _alt(step: DrawnStep) -> Said:
    if not step.moves or step.kind is StepKind.TURN:
        return say("alt.turn", number=step.number, title=step.title)
    if not step.onto:
        return say("alt.alone", number=step.number, parts=step.moves)
    if step.kind is StepKind.OPEN:
        return say("alt.open", number=step.number, parts=step.moves)
    way = say(f"alt.way.{closing_movement(step) or 'none'}")
    return say("alt.step", number=step.number, parts=step.moves, way=way)
