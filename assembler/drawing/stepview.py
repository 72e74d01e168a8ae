"""The main picture of a step.

In: a studio, a step, the view chosen for it. Out: a `Picture`: raster of surfaces and lines, and over it real text,
leaders, bolt axes and the arrow of the movement.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.axislines import axis_lines, hidden_hardware
from assembler.drawing.callouts import Label, drawn, overlaps, placed
from assembler.drawing.camera import Camera, as_vector, framed, unit
from assembler.drawing.keyfigure import key_figure
from assembler.drawing.linework import Hatch, drawing
from assembler.drawing.mating import marked
from assembler.drawing.motion import motion_marks
from assembler.drawing.overlay import Point
from assembler.drawing.scenes import Role
from assembler.drawing.shot import Shot
from assembler.drawing.spots import closed, drawn_box, faded, inner_spot
from assembler.drawing.stage import Stage
from assembler.drawing.studio import Studio
from assembler.drawing.style import BOND_TINT, DRY_TINT, MAIN_MM, look_of, pixels, px
from assembler.drawing.viewpoints import Choice, mating_share
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Step, View

MARGIN = (0.17, 0.05)
"""Free on the left and right for references, and above and below."""
ROW_MM = 4.4
"""Of the list of hardware at the foot."""


def step_picture(studio: Studio, stage: Stage, choice: Choice) -> Picture:
    """Main picture of a step, written to `step-<number>.png`."""
    step = stage.step
    width, height = pixels(MAIN_MM)
    kinds = _hardware_kinds(step)
    lines = _words(step)
    foot = px(ROW_MM) * (len(lines) + _rows(kinds)) + px(1.0)
    camera = _camera(stage, choice, foot)
    buffers = studio.rasteriser.draw(stage.items, camera)
    shot = Shot(stage=stage, camera=camera, buffers=buffers, subject=_subject_box(buffers.ids, stage))
    raster = drawing(buffers, [look_of(item) for item in stage.items], camera.mm_per_px, _hatches(shot))
    if not stage.is_whole:
        raster = faded(raster, px(9.0), foot)
    labels = [*_part_labels(shot), *_hardware_labels(shot, kinds)]
    callouts = placed(labels, shot.subject, width, height - foot)
    key = key_figure(studio, step, choice.eye, raster, callouts)
    file = f"step-{step.number}.png"
    studio.save(key.raster, file)
    pieces = [
        hidden_hardware(shot),
        axis_lines(shot),
        motion_marks(shot, callouts),
        _foot(lines, kinds, key.left_px, height),
        drawn(callouts),
        key.svg,
    ]
    legend = [(label.text, label.text) for label in labels if not label.text.isdigit() or label.text in studio.names]
    return Picture(
        file=file,
        width_px=width,
        height_px=height,
        overlay_svg="".join(pieces),
        legend=(*legend, *((kind.reference, kind.name) for kind in kinds)),
        alt=_alt(step),
        view=_view(stage, choice, shot, overlaps(callouts, width, height - foot)),
    )


def _view(stage: Stage, choice: Choice, shot: Shot, faults: int) -> View:
    mating = mating_share(stage.subject(), shot.camera, shot.buffers) if stage.maps else choice.shown.mating
    return View(
        eye=choice.eye,
        up=choice.up,
        explode_mm=round(stage.explode_mm, 1),
        new_visible=round(choice.shown.new, 3),
        mating_visible=round(mating, 3),
        label_overlaps=faults,
        turned_deg=round(choice.changed_deg, 1),
    )


def _camera(stage: Stage, choice: Choice, foot: float) -> Camera:
    """The scene above the list at the foot of the picture."""
    width, height = pixels(MAIN_MM)
    above = framed(stage.focus_mm, choice.eye, choice.up, width, height - round(foot), margin=MARGIN)
    down = above.axes[1] * above.mm_per_px * round(foot) / 2.0
    return replace(above, height_px=height, centre_mm=as_vector(np.asarray(above.centre_mm) - down))


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


def _hardware_kinds(step: Step) -> list[Kind]:
    """Items of hardware of a step, each designation once: screws, washers, nuts."""
    order = {"screw": 0, "washer": 1, "nut": 2}
    seen = {(order.get(line.kind, 3), line.item): line for line in step.hardware}
    return [
        Kind(reference=str(number), name=line.item, kind=line.kind, size=line.size, length_mm=line.length_mm)
        for number, (_, line) in enumerate(sorted(seen.items(), key=lambda pair: pair[0]), start=1)
    ]


def _part_labels(shot: Shot) -> list[Label]:
    """References of the new parts and of those they are joined to."""
    labels = []
    for number, item in enumerate(shot.stage.items, start=1):
        if item.role in (Role.NEW, Role.NEIGHBOUR):
            spot = inner_spot(shot.buffers.ids == number)
            if spot is not None:
                labels.append(Label(text=item.name, anchor=spot, heavy=item.role is Role.NEW))
    return labels


def _hardware_labels(shot: Shot, kinds: list[Kind]) -> list[Label]:
    """Each item of hardware once, on the piece that is seen best."""
    spots = [(kind, _hardware_spot(shot, kind)) for kind in kinds]
    return [Label(text=kind.reference, anchor=spot) for kind, spot in spots if spot is not None]


def _hardware_spot(shot: Shot, kind: Kind) -> Point | None:
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
    best = max(range(len(pieces)), key=lambda i: (counts[i], abs(where[i, 0] - middle), -i))
    return (float(where[best, 0]), float(where[best, 1]))


def _rows(kinds: list[Kind]) -> int:
    """Rows of the list of hardware: one column up to three items, then two."""
    return len(kinds) if len(kinds) <= 3 else (len(kinds) + 1) // 2


def _foot(lines: list[str], kinds: list[Kind], left: float, height: int) -> str:
    """The list of hardware and what the picture cannot show, at the foot."""
    rows = _rows(kinds)
    top = height - px(ROW_MM) * (rows + len(lines)) + px(2.4)
    second = max((overlay.text_width(kind.name, px(2.7)) for kind in kinds[:rows]), default=0.0) + px(10.0)
    pieces = []
    for row, text in enumerate(lines):
        pieces.append(_on_white((left, top + row * px(ROW_MM)), text))
    for index, kind in enumerate(kinds):
        x = left + (index // max(rows, 1)) * second
        y = top + px(ROW_MM) * (len(lines) + index % max(rows, 1))
        pieces.append(_on_white((x + px(6.0), y), kind.name))
        pieces.append(overlay.circle((x + px(2.2), y - px(1.0)), px(1.9), "#ffffff", "#1a1a1e", 0.2))
        pieces.append(overlay.words((x + px(2.2), y), kind.reference, 2.7, "middle"))
    return "".join(pieces)


def _on_white(at: Point, text: str) -> str:
    """A line of words on white paper, whatever is drawn there."""
    size = px(2.7)
    wide = overlay.text_width(text, size) + px(1.0)
    band = overlay.rectangle((at[0] - px(0.5), at[1] - size * 1.1), wide, size * 1.5, "#ffffff")
    return band + overlay.words(at, text, 2.7)


def _words(step: Step) -> list[str]:
    """What the picture cannot show: that the work was turned."""
    up = unit(step.up)
    return [f"Turned: {_lying(step.up)}."] if float(up[2]) < 0.99 else []


def _lying(up: Vector) -> str:
    """How the work lies, in words, from what is up on the bench."""
    if up[2] < -0.9:
        return "upside down"
    if abs(up[1]) >= abs(up[0]):
        return "the back is up" if up[1] > 0.0 else "the front is up"
    return "the figure's left-hand side is up" if up[0] > 0.0 else "the figure's right-hand side is up"


def _alt(step: Step) -> str:
    new = ", ".join(step.moves)
    if not step.moves:
        return f"Step {step.number}: {step.title}."
    if not step.onto:
        return f"Step {step.number}: {new} stands alone on the bench."
    return (
        f"Step {step.number}: {new} shown apart from what stands, moved back along its path, with bolts on their axes."
    )
