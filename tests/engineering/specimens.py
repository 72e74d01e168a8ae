"""Small joints and settings that the tests of this room share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from assembler.figure.ids import BoltId, JointId, PartId
from assembler.figure.joints import Bolt, Joint, Method, Place
from assembler.figure.settings import Adhesive, Material, Settings

UP = (0.0, 0.0, 1.0)
PARTS = (PartId("P01"), PartId("P02"))
PLASTIC = Material(name="plastic", density_kg_m3=950.0, bearing_mpa=15.0, source="made up")
MATERIALS = {part: PLASTIC for part in PARTS}


def glue(**changes: Any) -> Adhesive:
    values: dict[str, Any] = {
        "name": "two-part epoxy, slow",
        "bond_line_mm": 0.3,
        "waste": 0.3,
        "cartridge_ml": 400.0,
        "open_min": 25.0,
        "working_life_min": 30.0,
        "fixture_min": 240.0,
        "handling_min": 480.0,
        "full_cure_min": 7200.0,
        "sheet_c": 23.0,
        "lowest_c": 10.0,
        "highest_c": 35.0,
        "strength_mpa": 5.0,
        "spacer": "0.3 mm glass beads",
        "source": "made up",
    }
    return Adhesive(**(values | changes))


def settings(**changes: Any) -> Settings:
    values: dict[str, Any] = {
        "name": "specimen",
        "adhesive": glue(),
        "materials": {"plastic": PLASTIC},
        "default_material": "plastic",
    }
    return Settings(**(values | changes))


def bolt(name: str = "J01.1", **changes: Any) -> Bolt:
    values: dict[str, Any] = {
        "id": BoltId(name),
        "at_mm": (0.0, 0.0, 0.0),
        "axis": UP,
        "hole_mm": 9.0,
        "grip_mm": 20.0,
        "through": PARTS,
    }
    return Bolt(**(values | changes))


def joint(bolts: Sequence[Bolt] = (), **changes: Any) -> Joint:
    values: dict[str, Any] = {
        "id": JointId("J01"),
        "parts": PARTS,
        "method": Method.BOLTED,
        "made": Place.SHOP,
        "bond_area_mm2": 40000.0,
        "seam_mm": 1600.0,
        "normal": UP,
        "centre_mm": (0.0, 0.0, 0.0),
        "bolts": tuple(bolts),
    }
    return Joint(**(values | changes))


def ring(count: int, radius_mm: float = 100.0, **changes: Any) -> tuple[Bolt, ...]:
    turns = [2.0 * math.pi * place / count for place in range(count)]
    return tuple(
        bolt(f"J01.{place}", at_mm=(radius_mm * math.cos(turn), radius_mm * math.sin(turn), 0.0), **changes)
        for place, turn in enumerate(turns, start=1)
    )
