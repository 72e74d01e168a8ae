"""Assemblies that need more than one straight movement downwards, each with its answer in its docstring."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from manifold3d import Manifold

from assembler.figure.joints import Method, Seat
from tests.specimens import Assembly, box, rod

OPEN = (Seat.OPEN, Seat.OPEN)


def two_leg_keeper() -> Assembly:
    """A key that goes down a shaft and then sideways under a lip; once the lid is on, not at all."""
    body = box((-40, -60, 0), (200, 60, 100)) - box((0, -30, 20), (140, 30, 60)) - box((0, -30, 60), (60, 30, 101))
    made = Assembly({"A": body, "K": box((85, -30, 20), (140, 30, 60)), "L": box((-40, -60, 100), (200, 60, 110))})
    made.base = "A"
    made.join("A", "K", (110, 0, 20), (0, 0, 1), method=Method.DRY)
    made.join("A", "L", (150, 0, 100), (0, 0, 1), method=Method.BONDED)
    return made


def oblique_pin() -> Assembly:
    """A pin in a hole at 35 degrees: in along its own axis only."""
    axis = (math.sin(math.radians(35)), 0.0, math.cos(math.radians(35)))
    along = np.asarray(axis)
    bore = rod(tuple((np.asarray((0, 0, 60)) + 25.0 * along).tolist()), axis, 20.0, 75.0)
    body = box((-150, -60, 0), (150, 60, 100)) - bore
    foot = np.asarray((0, 0, 60)) - 50.0 * np.asarray(axis)
    pin = rod(tuple((np.asarray((0, 0, 60)) + 20.0 * np.asarray(axis)).tolist()), axis, 20.0, 70.0)
    made = Assembly({"A": body, "S": pin}, base="A")
    x, y, z = foot.tolist()
    made.join("A", "S", (x, y, z), axis, method=Method.BONDED)
    return made


def tilted_dovetail() -> Assembly:
    """A slider in a dovetail that rises at 25 degrees, its joint known by the groove's floor only: in along it."""
    made = Assembly({}, base="A")
    profile = [(-30.0, 20.0), (30.0, 20.0), (20.0, 60.0), (-20.0, 60.0)]
    groove = Manifold.hull_points(np.array([(x, y, z) for x in (-100.0, 130.0) for y, z in profile]))
    slider = Manifold.hull_points(np.array([(x, y, z) for x in (-100.0, 100.0) for y, z in profile]))
    turn = (0, -25, 0)
    made.solids["A"] = (box((-130, -80, -40), (100, 80, 60)) - groove).rotate(turn)
    made.solids["S"] = slider.rotate(turn)
    normal = (-math.sin(math.radians(25)), 0.0, math.cos(math.radians(25)))
    made.join("A", "S", (20.0 * normal[0], 0, 20.0 * normal[2]), normal, method=Method.DRY)
    return made


def hood() -> Assembly:
    """A hood, open below, and a cap bolted on from above, nuts inside: its nuts are reached from below only."""
    shell = box((-200, -200, 0), (200, 200, 400)) - box((-192, -192, -1), (192, 192, 390))
    shell -= box((-120, -120, 380), (120, 120, 401))
    made = Assembly({"H": shell, "K": box((-200, -200, 400), (200, 200, 410))})
    places = [(x, y, 400.0) for x in (-150.0, 150.0) for y in (-150.0, 150.0)]
    made.join("K", "H", (0, 160, 400), (0, 0, -1), bolts=places, seats=OPEN)
    return made


def hood_on_base() -> Assembly:
    """The same hood bonded to a base that comes first: its cap can no longer be bolted."""
    made = hood()
    made.solids["B"] = box((-250, -250, -30), (250, 250, 0))
    made.base = "B"
    made.join("B", "H", (0, 196, 0), (0, 0, 1), method=Method.BONDED)
    return made


def gate() -> Assembly:
    """Two piers and a lintel, without a base: both piers are set down before the lintel lies on them."""
    made = Assembly(
        {
            "L": box((-100, -50, 0), (0, 50, 300)),
            "R": box((300, -50, 0), (400, 50, 300)),
            "T": box((-100, -50, 300), (400, 50, 380)),
        }
    )
    made.join("L", "T", (-50, 0, 300), (0, 0, 1), method=Method.BONDED)
    made.join("R", "T", (350, 0, 300), (0, 0, 1), method=Method.BONDED)
    return made


def mortise_in_pocket(extra: int = 0) -> Assembly:
    """Two parts, tenon and mortise, in a pocket: each locks the other, both leave it together only.

    Some more plates lie beside it, so that the figure is no longer small.
    """
    body = box((-20, -20, -20), (220, 120, 100)) - box((0, 0, 0), (200, 100, 101))
    tenon = box((40, 50, 40), (160, 80, 60))
    made = Assembly(
        {"A": body, "P": box((0, 0, 0), (200, 50, 100)) + tenon, "Q": box((0, 50, 0), (200, 100, 100)) - tenon},
        base="A",
    )
    made.join("A", "P", (100, 25, 0), (0, 0, 1), method=Method.DRY)
    made.join("A", "Q", (100, 75, 0), (0, 0, 1), method=Method.DRY)
    made.join("P", "Q", (100, 50, 20), (0, 1, 0), method=Method.DRY)
    for k in range(extra):
        name = f"X{k}"
        made.solids[name] = box((220 + 40.0 * k, -20, -20), (260 + 40.0 * k, 120, 20))
        made.join("A" if k == 0 else f"X{k - 1}", name, (220 + 40.0 * k, 50, 0), (1, 0, 0), method=Method.DRY)
    return made


def bayonet() -> Assembly:
    """A plug with a lug: straight in, then a quarter turn under a ledge."""
    socket = Manifold.cylinder(80, 70, 70, 64) - Manifold.cylinder(81, 30, 30, 64).translate((0, 0, 10))
    quarter = Manifold.cylinder(22, 48, 48, 64).translate((0, 0, 29)) ^ (
        box((0, 0, 20), (60, 60, 60)) + box((0, -12, 20), (60, 12, 60)) + box((-12, 0, 20), (12, 60, 60))
    )
    socket -= quarter + box((0, -12, 29), (48, 12, 100))
    plug = Manifold.cylinder(110, 29, 29, 64).translate((0, 0, 10)) + box((-10, 0, 30), (10, 46, 50))
    made = Assembly({"A": socket, "S": plug}, base="A")
    made.join("A", "S", (0, 0, 10), (0, 0, 1), method=Method.DRY)
    return made


def cantilever(*, on_post: Sequence[tuple[float, float]] = ((-60, -60), (60, -60), (-60, 60), (60, 60))) -> Assembly:
    """A post, an arm bonded and bolted to its side, and a block bonded and bolted on the end of the arm."""
    made = Assembly(
        {
            "A": box((-200, -100, 0), (0, 100, 600)),
            "M": box((0, -100, 400), (300, 100, 410)) + box((0, -100, 400), (20, 100, 600)),
            "N": box((200, -50, 410), (300, 50, 430)),
        },
        base="A",
    )
    places = [(0.0, y, 500.0 + z) for y, z in on_post]
    made.join("M", "A", (0, 0, 500), (-1, 0, 0), bolts=places, method=Method.BOLTED_AND_BONDED, grip_mm=40.0)
    places = [(250.0 + x, y, 410.0) for x in (-30.0, 30.0) for y in (-30.0, 30.0)]
    made.join("N", "M", (250, 0, 410), (0, 0, -1), bolts=places, method=Method.BOLTED_AND_BONDED, grip_mm=30.0)
    return made


def slotted_box(slot_mm: tuple[float, float], depth_mm: float = 60.0) -> Assembly:
    """A closed box whose lid is bolted, nuts inside, beside a slot in the front wall near the nuts.

    Parameters
    ----------
    slot_mm
        Width and height of the slot.
    depth_mm
        Distance of the nuts behind the front wall.
    """
    body = box((-250, -200, 0), (250, 200, 300)) - box((-242, -192, 8), (242, 192, 290))
    body -= box((-150, -100, 280), (150, 100, 301))
    wide, high = slot_mm
    for x in (-190.0, 190.0):
        body -= box((x - wide / 2, -201, 280 - high), (x + wide / 2, -191, 280))
    made = Assembly({"A": body, "K": box((-250, -200, 300), (250, 200, 310))}, base="A")
    places = [(x, -192.0 + depth_mm, 300.0) for x in (-190.0, 190.0)]
    made.join("K", "A", (0, 150, 300), (0, 0, -1), bolts=places, seats=OPEN)
    return made
