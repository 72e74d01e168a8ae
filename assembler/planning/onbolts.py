"""May a fresh joint be loaded because its bolts alone carry it? Only where the shop says so and numbers show it."""

from __future__ import annotations

from assembler.engineering.boltsalone import BoltsAlone, bolts_alone
from assembler.figure.parts import Vector
from assembler.planning.scene import PartSet, Scene


def carried_on_bolts(
    scene: Scene, number: int, carried: PartSet, up: Vector, *, is_asked: bool = False
) -> BoltsAlone | None:
    """Safety of a bonded joint on its bolts alone; None where they may not or do not carry it.

    Parameters
    ----------
    scene
        The figure.
    number
        Of the joint.
    carried
        Parts whose weight goes through it.
    up
        What is up while it is loaded.
    is_asked
        Whether only the numbers count, although the shop does not work on bolts.
    """
    joint = scene.joints[number]
    stacks = [scene.stacks[bolt.id] for bolt in joint.bolts if bolt.id in scene.stacks]
    if not (is_asked or scene.settings.work_on_bolts) or not stacks or len(stacks) < len(joint.bolts):
        return None
    found = bolts_alone(
        joint, stacks, scene.mass_kg(carried), scene.centre_mm(carried), up, scene.settings.hardware.nut_factor
    )
    return found if found.is_enough else None
