"""Detail pictures of a step: flanges square on, and a section through one bolt of each kind.

In: a studio and a step. Out: `Picture`s.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from assembler.drawing.cutview import cut_picture
from assembler.drawing.explode import Axis, axes_of
from assembler.drawing.faceview import face_picture
from assembler.drawing.stacksection import Flanges, stack_section
from assembler.drawing.studio import Studio
from assembler.drawing.style import SECTION_MM, pixels
from assembler.figure.ids import BoltId, JointId, PartId, natural_key
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Step

MOST_CUTS = 2


Pictures = tuple[Picture, ...]
Keep = Callable[[str, Sequence[PartId], Callable[[], Pictures]], Pictures]
"""Gives pictures of some parts by a name: of an earlier run, or drawn now."""


def _always(_name: str, _parts: Sequence[PartId], draw: Callable[[], Pictures]) -> Pictures:
    return draw()


def step_details(
    studio: Studio,
    step: Step,
    orders: Mapping[JointId, Sequence[BoltId]],
    eye: Vector | None = None,
    keep: Keep = _always,
) -> Pictures:
    """Flange views first, in the order of the joints, then cuts, then sections, one for each kind of stack.

    Parameters
    ----------
    studio, step
        What to draw.
    orders
        Bolts of each joint in the order of tightening.
    eye
        Of the main picture, which words in the details refer to.
    keep
        Asked for the pictures of each joint; those of a step's other joints hold when one of its parts is cut again.
    """
    pictures: list[Picture] = []
    for name in step.joints:
        if name in studio.joints:
            joint = studio.joints[name]
            face = partial(face_picture, studio, step, joint, orders.get(name), eye)
            pictures += keep(f"face {name}", joint.parts, partial(_some, face))
    pictures += _cuts(studio, step, keep)
    kinds: dict[tuple[object, ...], list[tuple[Axis, Flanges]]] = {}
    for axis in axes_of(step, studio.plan):
        flanges = flange_thickness(axis)
        kinds.setdefault(_kind(axis, flanges), []).append((axis, flanges))
    for number, alike in enumerate(kinds.values(), start=1):
        pictures.append(_section(studio, step, alike, number))
    return tuple(pictures)


def _some(draw: Callable[[], Picture | None]) -> Pictures:
    picture = draw()
    return () if picture is None else (picture,)


def _cuts(studio: Studio, step: Step, keep: Keep) -> list[Picture]:
    """A cut for each joint with bolts, at most `MOST_CUTS`, joints with most bolts first."""
    by_joint: dict[JointId, list[Axis]] = {}
    for axis in axes_of(step, studio.plan):
        by_joint.setdefault(axis.stack.joint, []).append(axis)
    chosen = sorted(by_joint, key=lambda name: (-len(by_joint[name]), natural_key(name)))[:MOST_CUTS]
    pictures: list[Picture] = []
    for name in sorted(chosen, key=natural_key):
        number = len(pictures) + 1
        cut = partial(cut_picture, studio, step, by_joint[name], number)
        pictures += keep(f"cut {number} {name}", studio.joints[name].parts, partial(_some, cut))
    return pictures


def _kind(axis: Axis, flanges: Flanges) -> tuple[object, ...]:
    """What makes two bolts look alike in section: pieces to the last number, flanges to half a millimetre."""
    stack = replace(axis.stack, bolt=BoltId(""), joint=JointId(""), torque_rule="")
    return (stack, axis.nut_seat, round(flanges.head_mm * 2.0), round(flanges.nut_mm * 2.0), flanges.is_measured)


def _section(studio: Studio, step: Step, alike: Sequence[tuple[Axis, Flanges]], number: int) -> Picture:
    axis, flanges = alike[0]
    joints = list(dict.fromkeys(str(one.stack.joint) for one, _ in alike))
    pairs = {(one.head_part, one.nut_part) for one, _ in alike}
    names = ("flange, head", "flange, nut")
    if len(pairs) == 1:
        names = (f"flange of {axis.head_part}", f"flange of {axis.nut_part}")
    svg, scale = stack_section(axis, flanges, ", ".join(joints), names)
    width, height = pixels(SECTION_MM)
    file = f"step-{step.number}-bolt-{number}.png"
    studio.save(np.full((height, width, 3), 255, dtype=np.uint8), file)
    bolts = ", ".join(one.bolt.id for one, _ in alike)
    return Picture(
        file=file,
        width_px=width,
        height_px=height,
        overlay_svg=svg,
        alt=f"Section through bolt {axis.bolt.id} at scale {scale}; the same for {bolts}.",
    )


def flange_thickness(axis: Axis) -> Flanges:
    """Thickness of both flanges at a bolt, from the bond plane to the seats that were measured on the meshes."""
    bolt = axis.bolt
    head, nut = (float(np.linalg.norm(np.subtract(seat, bolt.at_mm))) for seat in (axis.head_at_mm, axis.nut_at_mm))
    return Flanges(head_mm=head, nut_mm=nut, is_measured=bolt.seats_mm is not None)
