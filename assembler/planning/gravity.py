"""What has to leave the ground in a step? Sets and what is up in; what is lifted, how far, by whom out.

At every moment everything stands on the ground, on a bench, in a bed, on stands or hangs on a hoist. Whether the one
side moves or the other is a matter of words; which of them is lifted follows from where the lower end of each comes to
lie: what stands keeps its place only where nothing that arrives reaches below it.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum

from assembler.engineering.lifting import lift_for
from assembler.figure.joints import Joint
from assembler.figure.parts import Vector
from assembler.figure.plan import Lift, LiftedBy
from assembler.figure.titles import LEVEL
from assembler.planning.scene import FLOOR_MM, PartSet, Scene
from assembler.planning.support import UPRIGHT, Support

BED_MM = 250.0
"""Height up to which a piece lies on sandbags, blocks or in a cradle on its own bench (common practice, no source)."""


MORE = 1.001
"""A set is heavier than another where rounding does not decide it."""


class Side(StrEnum):
    """What leaves the ground when a set arrives at what stands."""

    ARRIVING = "arriving"
    """What arrives; what stands keeps its place."""
    BEDDED = "bedded"
    """What arrives, at a piece that has lain in its bed from the start."""
    BROUGHT = "brought"
    """What stood: it is lighter, lies beside what arrives by name, and comes to that."""
    LOWERED = "lowered"
    """What stood: it is lifted and set down on what arrives."""
    RAISED = "raised"
    """What stood: it is lifted on stands or by a hoist, and what arrives goes in under it."""


EXCHANGED = (Side.BROUGHT, Side.LOWERED)
"""Sides in which what stood moves, and what arrives by name stands."""


def rise_mm(scene: Scene, moving: PartSet, standing: PartSet, up: Vector) -> float:
    """How far what stands has to come up because what arrives reaches below it; 0 where it keeps its place."""
    rise = scene.lowest_mm(standing, up) - scene.lowest_mm(moving | standing, up)
    return rise if rise > FLOOR_MM else 0.0


def lifted_side(
    scene: Scene,
    moving: PartSet,
    standing: PartSet,
    up: Vector,
    closing: Vector | None,
    *,
    below_mm: float,
    is_held: bool,
    is_main: bool,
) -> tuple[Side, float]:
    """Which side leaves the ground, and how far what stands has to come up for what goes in under it.

    Parameters
    ----------
    scene
        The figure.
    moving, standing
        What arrives by name, and at what.
    up
        What is up on the bench.
    closing
        Direction of the last movement of what arrives; None where there is none.
    below_mm
        How far the way in leads below the ground that both stand on when it is done.
    is_held
        Whether what stands keeps its place: on a base, or where it is put up.
    is_main
        Whether it is the main bench, where nothing lies in beds.
    """
    rise = rise_mm(scene, moving, standing, up)
    if not rise and below_mm > FLOOR_MM:
        return Side.RAISED, below_mm
    if not rise:
        is_swapped = not is_held and _is_beside(scene, moving, standing, up, closing) and moving.bit_count() > 1
        is_lighter = scene.mass_kg(moving) > MORE * scene.mass_kg(standing)
        return (Side.BROUGHT if is_swapped and is_lighter else Side.ARRIVING), 0.0
    if not is_main and rise <= BED_MM:
        return Side.BEDDED, 0.0
    comes_up = closing is not None and sum(a * b for a, b in zip(closing, up, strict=True)) > UPRIGHT
    if comes_up or (standing.bit_count() == 1 and closing is not None):
        return Side.LOWERED, 0.0
    return Side.RAISED, rise


def _is_beside(scene: Scene, moving: PartSet, standing: PartSet, up: Vector, closing: Vector | None) -> bool:
    """Whether two sets lie on one ground and meet sideways, so that either may come to the other."""
    if closing is None or rise_mm(scene, standing, moving, up):
        return False
    return abs(sum(a * b for a, b in zip(closing, up, strict=True))) < LEVEL


def team_lift(scene: Scene, lifted: PartSet) -> Lift:
    """People that a set takes, or a hoist."""
    lift = lift_for(scene.mass_kg(lifted), scene.stance_mm(lifted), scene.size_mm(lifted), scene.settings.crew)
    return replace(
        lift,
        centre_mm=scene.centre_mm(lifted),
        parts=scene.names(lifted),
        by=LiftedBy.HANDS if lift.people else LiftedBy.HOIST,
    )


def peeled(support: Support, moving: PartSet, lifted: PartSet, up: Vector, on_stands: PartSet = 0) -> tuple[Joint, ...]:
    """Bonded joints without bolts on which part of what is lifted hangs, where slings or stands hold it elsewhere.

    What arrives takes the faces below; so what it meets, where no stand is under it, is held by nothing but its joints
    to the parts above. Bolts carry that, and glue on an upright face does in shear; glue alone on a level face peels.
    """
    scene, met = support.scene, 0
    for number in scene.joints_between(moving, lifted):
        for part in scene.pairs[number]:
            met |= 1 << part & lifted & ~on_stands
    carrying = scene.joints_between(met, lifted & ~met)
    joints = tuple(scene.joints[number] for number in carrying)
    if any(joint.bolts or support.lower(number, up) is None for number, joint in zip(carrying, joints, strict=True)):
        return ()
    return tuple(joint for joint in joints if joint.method.is_bonded)
