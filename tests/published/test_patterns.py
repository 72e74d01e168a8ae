"""Tightening orders."""

from __future__ import annotations

import math

from assembler.engineering.patterns import tightening_order
from assembler.figure.ids import BoltId, JointId, PartId
from assembler.figure.joints import Bolt, Joint, Method, Place
from tests.published.reading import source


def _ring(count: int) -> Joint:
    turns = [2.0 * math.pi * place / count for place in range(count)]
    bolts = tuple(
        Bolt(
            id=BoltId(f"J1.{place}"),
            at_mm=(100.0 * math.cos(turn), 100.0 * math.sin(turn), 0.0),
            axis=(0.0, 0.0, 1.0),
            hole_mm=9.0,
            grip_mm=20.0,
            through=(PartId("P1"), PartId("P2")),
        )
        for place, turn in enumerate(turns, start=1)
    )
    return Joint(
        id=JointId("J1"),
        parts=(PartId("P1"), PartId("P2")),
        method=Method.BOLTED,
        made=Place.SHOP,
        bond_area_mm2=1e4,
        seam_mm=600.0,
        normal=(0.0, 0.0, 1.0),
        centre_mm=(0.0, 0.0, 0.0),
        bolts=bolts,
    )


def _places(count: int) -> list[int]:
    return [int(bolt.split(".")[1]) for bolt in tightening_order(_ring(count))]


@source("star-12")
def test_star_pattern_of_twelve_bolts() -> None:
    # V2: the sequence printed for a 12-bolt flange on a maintenance page ('1 7 4 10 2 8 5 11 3 9 6 12').
    assert _places(12) == [1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12]


@source("pcc-1")
def test_star_patterns_from_memory() -> None:
    # M: star patterns of ASME PCC-1 for four and eight bolts.
    assert _places(4) == [1, 3, 2, 4]
    assert _places(8) == [1, 5, 3, 7, 2, 6, 4, 8]
