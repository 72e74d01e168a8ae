"""A step as a scene: what stands, what is new and moved out, hardware on its axes, the bench top below.

In: a studio and a step. Out: a `Stage`, data that a test can read without drawing anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import unit, view_axes
from assembler.drawing.carriers import BOX_FACES, carriers
from assembler.drawing.drawnstep import DrawnStep
from assembler.drawing.explode import Axis, Hung, axes_of, explode_mm, hang, shift_of_new
from assembler.drawing.mating import MatingMap
from assembler.drawing.scenes import Item, Role
from assembler.drawing.studio import Studio, coarse
from assembler.drawing.viewpoints import Subject
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.plan import StepKind

Floats = NDArray[np.float64]

WHOLE_SHARE = 0.36
"""New parts smaller than this share of everything are drawn closer, with their neighbourhood only."""
FEW_PARTS = 12
"""Turned work of more parts is drawn without their references."""
SLAB_MM = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """The scene of a step.

    Parameters
    ----------
    step
        What is done.
    items
        Bodies: standing, new, hardware, bench top; the drawing order.
    axes, hung
        Bolts of the step, and their pieces in the picture.
    maps
        Mating faces of the joints that the step closes.
    shift_mm, explode_mm
        Of the new parts.
    focus_mm : (n, 3) float64
        Points the main view has to hold.
    is_whole
        Whether the main view shows all that stands.
    """

    step: DrawnStep
    items: tuple[Item, ...]
    axes: tuple[Axis, ...]
    hung: tuple[Hung, ...]
    maps: Sequence[MatingMap]
    shift_mm: Vector
    explode_mm: float
    focus_mm: Floats
    is_whole: bool

    def subject(self) -> Subject:
        """What a view has to show, with coarse copies of the parts."""
        rough = tuple(
            replace(item, shape=coarse(item.shape)) if item.role in (Role.STANDING, Role.NEIGHBOUR, Role.NEW) else item
            for item in self.items
            if item.role is not Role.HARDWARE
        )
        motion = self.step.path[-1].direction if self.step.path and self.explode_mm > 0.0 else None
        return Subject(
            items=rough,
            focus_mm=self.focus_mm,
            maps=self.maps,
            axes_mm=_along_axes(self.hung),
            motion=motion,
            up=self.step.up,
        )


def staged(studio: Studio, step: DrawnStep, distance_mm: float | None = None) -> Stage:
    """The scene of a step.

    Parameters
    ----------
    studio, step
        What to show.
    distance_mm
        Way that the new parts have still to go, from `parting`; None: a first guess.
    """
    boxes = studio.boxes(step.parts)
    distance = explode_mm(step, boxes) if distance_mm is None else distance_mm
    shift = shift_of_new(step, distance)
    # Work that is turned is neither new nor joined to anything: all of it is meant, and named if it is not much.
    is_turn = step.kind is StepKind.TURN
    arriving = () if is_turn else step.moves or step.set_up
    moves = [part for part in arriving if part in boxes]
    still = (*step.onto, *step.moves) if is_turn else step.onto
    onto = [part for part in dict.fromkeys(still) if part in boxes and part not in moves]
    partners = set(still) if is_turn and len(still) <= FEW_PARTS else step.partners
    new = studio.items(moves, Role.NEW, shift)
    near = studio.items([part for part in onto if part in partners], Role.NEIGHBOUR)
    rest = studio.items([part for part in onto if part not in partners], Role.STANDING)
    axes = axes_of(step)
    shifts = {part: shift for part in moves}
    hung = tuple(piece for axis in axes for piece in hang(axis, shifts))
    studio.upload_hardware(hung)
    under = _under(studio, step)
    new += [item for item in under if item.role is Role.NEW]
    rest += [item for item in under if item.role is not Role.NEW]
    ground = _ground(studio, step, rest + near + new)
    focus, is_whole = _focus(studio, new, near, rest, hung)
    if is_whole:
        focus = np.vstack([focus, *(studio.rasteriser.box(item) for item in ground)])
    return Stage(
        step=step,
        items=(*rest, *near, *new, *(piece.item for piece in hung), *ground),
        axes=axes,
        hung=hung,
        maps=_maps(studio, step),
        shift_mm=shift,
        explode_mm=distance,
        focus_mm=focus,
        is_whole=is_whole,
    )


def _maps(studio: Studio, step: DrawnStep) -> tuple[MatingMap, ...]:
    return tuple(found for joint in step.closed if (found := studio.mating(joint)) is not None and found.mask.any())


def _focus(
    studio: Studio, new: list[Item], near: list[Item], rest: list[Item], hung: tuple[Hung, ...]
) -> tuple[Floats, bool]:
    """Points to frame: everything, or the neighbourhood where the new part would be too small."""
    box = studio.rasteriser.box
    middle = new or near or rest
    if not middle:
        return np.zeros((1, 3)), True
    inner = [box(item) for item in [*new, *(replace(item, shift_mm=(0.0, 0.0, 0.0)) for item in new), *near]]
    inner += [np.asarray([piece.middle_mm]) for piece in hung]
    everything = np.vstack([*inner, *(box(item) for item in rest)])
    subject = np.vstack([box(item) for item in middle])
    share = float(np.ptp(subject, axis=0).max()) / max(float(np.ptp(everything, axis=0).max()), 1e-6)
    if share >= WHOLE_SHARE or not inner:
        return everything, True
    return np.vstack(inner), False


def _under(studio: Studio, step: DrawnStep) -> list[Item]:
    """What the work stands on and has no mesh; new where the step sets it down."""
    is_set = step.kind is StepKind.BASE and not step.moves
    items = []
    for kind, shape, mesh in carriers(step):
        for key in (shape, coarse(shape)):
            studio.rasteriser.add(key, mesh)
        items.append(Item(name=kind, shape=shape, role=Role.NEW if is_set else Role.STANDING, is_printed=False))
    return items


def _ground(studio: Studio, step: DrawnStep, items: list[Item]) -> list[Item]:
    """Bench top below everything; none where something comes from below what stands there."""
    still = [item for item in items if item.role is not Role.NEW or not item.is_moved] or items
    if not still:
        return []
    up = unit(step.up)
    frame = _frame(up)
    inside = np.vstack([studio.rasteriser.box(item) for item in still]) @ frame.T
    every = np.vstack([studio.rasteriser.box(item) for item in items]) @ frame.T
    low, high = inside.min(axis=0), inside.max(axis=0)
    if every[:, 2].min() < low[2] - 1.0:
        return []
    margin = 0.10 * float((high - low)[:2].max()) + 30.0
    name = f"ground {step.number} {step.up} {low[2]:.1f}"
    corners = np.array(
        [
            [x, y, z]
            for x in (low[0] - margin, high[0] + margin)
            for y in (low[1] - margin, high[1] + margin)
            for z in (low[2] - SLAB_MM - 0.5, low[2] - 0.5)
        ]
    )
    studio.rasteriser.add(name, Mesh(vertices=corners @ frame, faces=BOX_FACES))
    return [Item(name=name, shape=name, role=Role.GROUND)]


def _frame(up: Floats) -> Floats:
    """Orthonormal rows: two directions on the bench, and up."""
    aside = view_axes(up, (0.0, 1.0, 0.0))
    return np.stack([aside[0], aside[1], up])


def _along_axes(hung: tuple[Hung, ...]) -> Floats:
    """Points along each bolt axis between its outermost pieces, (k, 3)."""
    ends: dict[str, list[Vector]] = {}
    for piece in hung:
        ends.setdefault(piece.axis.bolt.id, []).append(piece.middle_mm)
    share = np.linspace(0.0, 1.0, 9)[:, None]
    lines = [
        np.asarray(places[0]) * (1.0 - share) + np.asarray(places[-1]) * share for _, places in sorted(ends.items())
    ]
    return np.vstack(lines) if lines else np.zeros((0, 3))
