"""A figure whose files have another axis up than z, set upright for drawing; and its views, turned back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembler.figure.frames import plan_frame, upright_box
from assembler.figure.ids import PartId
from assembler.figure.joints import Bolt, Joint
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part, Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Section, Step, View

Z: Vector = (0.0, 0.0, 1.0)

Frame = NDArray[np.float64]


def set_upright(plan: Plan, meshes: Mapping[PartId, Mesh]) -> tuple[Plan, dict[PartId, Mesh]]:
    """The plan and its meshes in a frame whose third axis is up: all that is drawn from.

    Parameters
    ----------
    plan, meshes
        In the frame of the files.
    """
    if plan.up == Z:
        return plan, dict(meshes)
    frame = plan_frame(plan.up)
    turned = replace(
        plan,
        up=Z,
        parts=tuple(_part(part, frame, plan.up) for part in plan.parts),
        joints=tuple(_joint(joint, frame) for joint in plan.joints),
        steps=tuple(_step(step, frame) for step in plan.steps),
        sections=tuple(_section(section, frame) for section in plan.sections),
        base=replace(plan.base, top_mm=_turned(plan.base.top_mm, frame)) if plan.base else None,
    )
    return turned, {
        name: Mesh(vertices=mesh.vertices @ frame.T, faces=mesh.faces) for name, mesh in sorted(meshes.items())
    }


def view_upright(view: View, up: Vector) -> View:
    """A view in the frame of the files, for the upright figure."""
    if up == Z:
        return view
    frame = plan_frame(up)
    return replace(view, eye=_turned(view.eye, frame), up=_turned(view.up, frame))


def view_in_files(view: View, up: Vector) -> View:
    """A view of the upright figure, in the frame of the files."""
    if up == Z:
        return view
    back = plan_frame(up).T
    return replace(view, eye=_turned(view.eye, back), up=_turned(view.up, back))


def picture_in_files(picture: Picture, up: Vector) -> Picture:
    """A picture of the upright figure, with its view in the frame of the files."""
    return replace(picture, view=view_in_files(picture.view, up))


def _turned(vector: Vector, frame: Frame) -> Vector:
    # Adding 0 turns -0 into 0.
    x, y, z = (frame @ np.asarray(vector) + 0.0).tolist()
    return (x, y, z)


def _part(part: Part, frame: Frame, up: Vector) -> Part:
    low, high = upright_box(part.low_mm, part.high_mm, up)
    return replace(
        part, centre_mm=_turned(part.centre_mm, frame), fingerprint=replace(part.fingerprint, low_mm=low, high_mm=high)
    )


def _joint(joint: Joint, frame: Frame) -> Joint:
    return replace(
        joint,
        normal=_turned(joint.normal, frame),
        centre_mm=_turned(joint.centre_mm, frame),
        bolts=tuple(_bolt(bolt, frame) for bolt in joint.bolts),
    )


def _bolt(bolt: Bolt, frame: Frame) -> Bolt:
    return replace(bolt, at_mm=_turned(bolt.at_mm, frame), axis=_turned(bolt.axis, frame))


def _step(step: Step, frame: Frame) -> Step:
    return replace(
        step,
        up=_turned(step.up, frame),
        path=tuple(replace(leg, direction=_turned(leg.direction, frame)) for leg in step.path),
        stands=tuple(replace(stand, at_mm=_turned(stand.at_mm, frame)) for stand in step.stands),
        lift=replace(step.lift, centre_mm=_turned(step.lift.centre_mm, frame)) if step.lift else None,
    )


def _section(section: Section, frame: Frame) -> Section:
    x, y, z = np.abs(frame @ np.asarray(section.size_mm)).tolist()
    return replace(section, centre_mm=_turned(section.centre_mm, frame), size_mm=(x, y, z))
