"""Detail pictures of a step: flanges square on, and a section through one bolt of each kind.

In: a studio and a step. Out: `Picture`s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from assembler.drawing.cutview import cut_picture
from assembler.drawing.drawnstep import DrawnStep
from assembler.drawing.explode import Axis, axes_of
from assembler.drawing.faceview import face_picture
from assembler.drawing.stacksection import Flanges, stack_section
from assembler.drawing.studio import Studio, studio_of
from assembler.drawing.style import SECTION_MM, pixels
from assembler.figure.ids import BoltId, JointId, natural_key
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.words import say

MOST_CUTS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class StepDetails:
    """All that the details of a step are drawn from.

    Parameters
    ----------
    step
        Without its background (`DrawnStep.close_up`).
    eye
        Of its main picture, which words in the details refer to.
    """

    step: DrawnStep
    eye: Vector


def draw_details(figure: Path, details: StepDetails) -> tuple[Picture, ...]:
    """Flange views first, in the order of the joints, then cuts, then sections, one for each kind of stack.

    Written beside the file that holds the bodies of the figure.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """
    return step_details(studio_of(figure), details)


def step_details(studio: Studio, details: StepDetails) -> tuple[Picture, ...]:
    """The same in a studio that is open."""
    step = details.step
    faces = [face_picture(studio, step, joint, step.tightening.get(joint.id), details.eye) for joint in step.closed]
    kinds: dict[tuple[object, ...], list[tuple[Axis, Flanges]]] = {}
    for axis in axes_of(step):
        flanges = flange_thickness(axis)
        kinds.setdefault(_kind(axis, flanges), []).append((axis, flanges))
    sections = [_section(studio, step, alike, number) for number, alike in enumerate(kinds.values(), start=1)]
    return (*(face for face in faces if face is not None), *_cuts(studio, step), *sections)


def _cuts(studio: Studio, step: DrawnStep) -> list[Picture]:
    """A cut for each joint with bolts, at most `MOST_CUTS`, joints with most bolts first."""
    by_joint: dict[JointId, list[Axis]] = {}
    for axis in axes_of(step):
        by_joint.setdefault(axis.stack.joint, []).append(axis)
    chosen = sorted(by_joint, key=lambda name: (-len(by_joint[name]), natural_key(name)))[:MOST_CUTS]
    pictures: list[Picture] = []
    for name in sorted(chosen, key=natural_key):
        picture = cut_picture(studio, step, by_joint[name], len(pictures) + 1)
        pictures += [] if picture is None else [picture]
    return pictures


def _kind(axis: Axis, flanges: Flanges) -> tuple[object, ...]:
    """What makes two bolts look alike in section: pieces to the last number, flanges to half a millimetre."""
    stack = replace(axis.stack, bolt=BoltId(""), joint=JointId(""), torque_rule="")
    return (stack, axis.nut_seat, round(flanges.head_mm * 2.0), round(flanges.nut_mm * 2.0), flanges.is_measured)


def _section(studio: Studio, step: DrawnStep, alike: Sequence[tuple[Axis, Flanges]], number: int) -> Picture:
    axis, flanges = alike[0]
    joints = list(dict.fromkeys(str(one.stack.joint) for one, _ in alike))
    pairs = {(one.head_part, one.nut_part) for one, _ in alike}
    names = (step.said("flange_head"), step.said("flange_nut"))
    if len(pairs) == 1:
        names = (step.said("flange_of", part=axis.head_part), step.said("flange_of", part=axis.nut_part))
    svg, scale = stack_section(step, axis, flanges, ", ".join(joints), names)
    width, height = pixels(SECTION_MM)
    file = f"step-{step.number}-bolt-{number}.png"
    studio.save(np.full((height, width, 3), 255, dtype=np.uint8), file)
    bolts = tuple(one.bolt.id for one, _ in alike)
    return Picture(
        file=file,
        width_px=width,
        height_px=height,
        overlay_svg=svg,
        alt=say("alt.stack", bolt=axis.bolt.id, scale=scale, bolts=bolts),
    )


def flange_thickness(axis: Axis) -> Flanges:
    """Thickness of both flanges at a bolt, from the bond plane to the seats that were measured on the meshes."""
    bolt = axis.bolt
    head, nut = (float(np.linalg.norm(np.subtract(seat, bolt.at_mm))) for seat in (axis.head_at_mm, axis.nut_at_mm))
    return Flanges(head_mm=head, nut_mm=nut, is_measured=bolt.seats_mm is not None)
