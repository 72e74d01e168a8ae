"""How large are hand, arm and body? The shop's own sizes, or those of published tables."""

from __future__ import annotations

import math

from assembler.catalogue import tables
from assembler.figure.settings import Crew

BODY_MM = 225.0
"""Radius of the ball that stands for head and shoulders: 450 mm across (common practice, no source)."""

FINGERS_MM = 110.0
"""From the middle of the palm to what the fingertips hold (common practice, no source)."""

WRIST_MM = 80.0
"""From the wrist to the middle of the palm (common practice, no source)."""


def arm_width_mm(crew: Crew) -> float:
    """Width of the opening that hand and forearm need; the shop's own value beats the table's."""
    own = max(crew.hand_opening_mm, crew.forearm_opening_mm)
    if own > 0.0:
        return own
    hand, arm = tables.opening("hand", crew.glove.value), tables.opening("forearm", crew.glove.value)
    return max(min(hand.width_mm, hand.height_mm), min(arm.width_mm, arm.height_mm))


def upper_arm_width_mm(crew: Crew) -> float:
    """Width of the opening that an arm needs beyond its elbow, never less than the forearm's."""
    arm = tables.opening("shoulder", crew.glove.value)
    return max(crew.upper_arm_opening_mm or min(arm.width_mm, arm.height_mm), arm_width_mm(crew))


def forearm_mm() -> float:
    """From the elbow of a small person to the fingertips: deeper than this the upper arm enters too."""
    return tables.body_measure("elbow-fingertip length").small_mm


def flat_hand_mm(crew: Crew) -> tuple[float, float]:
    """Width and height of the opening that a flat hand needs; the shop's own value beats the table's."""
    if crew.hand_opening_mm > 0.0:
        return crew.hand_opening_mm, crew.hand_opening_mm
    flat = tables.opening("flat hand", crew.glove.value)
    return max(flat.width_mm, flat.height_mm), min(flat.width_mm, flat.height_mm)


def pair_width_mm(crew: Crew) -> float:
    """Width of a round opening that takes two arms: as large as the table's oblong one."""
    return _pair_mm("both hands", arm_width_mm(crew))


def upper_pair_width_mm(crew: Crew) -> float:
    """The same for two arms beyond their elbows."""
    return _pair_mm("both arms to the shoulder", upper_arm_width_mm(crew))


def _pair_mm(measure: str, arm_mm: float) -> float:
    both = tables.opening(measure, "bare or light")
    return max(math.sqrt(both.width_mm * both.height_mm), 1.5 * arm_mm)
