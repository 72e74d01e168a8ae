"""Figures whose order a builder knows: busts, a standing figure, towers, a lamp, a lid; each with its answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from manifold3d import Manifold

from assembler.figure.ids import PartId
from assembler.figure.joints import Method, Place, Seat
from assembler.figure.parts import Vector
from assembler.figure.settings import Adhesive, Crew, Pins
from tests.specimens import ADHESIVE, Assembly, box, eccentric_tower

OPEN = (Seat.OPEN, Seat.OPEN)
CAPTIVE = (Seat.OPEN, Seat.CAPTIVE)
OVERNIGHT: Adhesive = replace(ADHESIVE, handling_min=780.0)
"""A hold of 13 h: waiting is dear, so that an order which saves it by lifting what stands would show."""

BEYOND = 1000.0


def ring(radius_mm: float, low_mm: float, high_mm: float, wall_mm: float = 6.0, flange_mm: float = 45.0) -> Manifold:
    """A ring of a hollow figure, open above and below, with an inner flange of 8 mm at both ends."""
    rise = high_mm - low_mm
    whole = Manifold.cylinder(rise, radius_mm, radius_mm, 48)
    inner = Manifold.cylinder(rise - 16.0, radius_mm - wall_mm, radius_mm - wall_mm, 48).translate((0, 0, 8.0))
    hole = Manifold.cylinder(rise + 2.0, radius_mm - flange_mm, radius_mm - flange_mm, 48).translate((0, 0, -1.0))
    return (whole - inner - hole).translate((0, 0, low_mm))


def disc(radius_mm: float, low_mm: float, high_mm: float) -> Manifold:
    """A closed floor or crown."""
    return Manifold.cylinder(high_mm - low_mm, radius_mm, radius_mm, 48).translate((0, 0, low_mm))


def dome(radius_mm: float, at_mm: float) -> Manifold:
    """A round crown on which nothing stands upside down."""
    shell = Manifold.sphere(radius_mm, 48) - Manifold.sphere(radius_mm - 6.0, 48)
    half = shell ^ box((-radius_mm, -radius_mm, 0), (radius_mm, radius_mm, radius_mm))
    return half.scale((1.0, 1.0, 0.5)).translate((0, 0, at_mm))


def around(radius_mm: float, height_mm: float, count: int) -> Sequence[Vector]:
    """Places of bolts on a circle, none of them in the planes x = 0 and y = 0."""
    half = radius_mm / 2.0**0.5
    places = [(half, half, height_mm), (-half, half, height_mm), (-half, -half, height_mm), (half, -half, height_mm)]
    return places[:count]


def bust(
    *,
    rings: int = 6,
    height_mm: float = 2000.0,
    is_halved: bool = False,
    seats: tuple[Seat, Seat] = CAPTIVE,
    is_closed: bool = True,
    base: str | None = None,
) -> Assembly:
    """A hollow bust, as made of 2 m in rings of 333 mm, with a closed crown, glued and bolted over inner flanges.

    A builder sets ring on ring from the ground up. In halves each ring is closed on the bench first. With a closed
    floor as well and open nuts, one closure cannot be reached: still from the ground up.
    """
    rise = height_mm / rings
    radii = [300.0, 280.0, 330.0, 310.0, 240.0, 220.0]
    made = Assembly({}, base=base)
    made.changes["adhesive"] = OVERNIGHT
    names: list[tuple[str, ...]] = []
    for k in range(rings):
        radius = radii[k % len(radii)]
        body = ring(radius, k * rise, (k + 1) * rise, flange_mm=radius - 150.0)
        if k == rings - 1:
            body += dome(radius, (k + 1) * rise)
        if k == 0 and is_closed:
            body += disc(radius, 0.0, 8.0)
        if is_halved:
            flange = box((-8, -BEYOND, k * rise), (8, BEYOND, (k + 1) * rise)) ^ disc(radius, k * rise, (k + 1) * rise)
            body += flange - disc(150.0, k * rise + 8.0 * (k == 0), (k + 1) * rise - 8.0 * (k == rings - 1))
            pair = (f"P{2 * k + 1:02d}", f"P{2 * k + 2:02d}")
            made.solids[pair[0]] = body ^ box((-BEYOND, -BEYOND, -1), (0, BEYOND, 3000))
            made.solids[pair[1]] = body ^ box((0, -BEYOND, -1), (BEYOND, BEYOND, 3000))
            names.append(pair)
        else:
            made.solids[f"P{k + 1:02d}"] = body
            names.append((f"P{k + 1:02d}",))
    for k, pieces in enumerate(names):
        radius, middle = radii[k % len(radii)], (k + 0.5) * rise
        if is_halved:
            places = [(0.0, y, middle) for y in (-radius + 35.0, radius - 35.0)]
            made.join(
                pieces[0], pieces[1], (0, radius - 20, middle), (1, 0, 0), bolts=places, seats=OPEN, grip_mm=16.0,
                method=Method.BOLTED_AND_BONDED, area_mm2=20_000.0,
            )  # fmt: skip
        if k:
            _stacked(made, names[k - 1], pieces, k * rise, min(radii[(k - 1) % 6], radius), seats)
    return made


def _stacked(
    made: Assembly,
    lower: tuple[str, ...],
    upper: tuple[str, ...],
    at_mm: float,
    radius: float,
    seats: tuple[Seat, Seat],
) -> None:
    """Joints between two rings, screws from above; in halves, each upper half with the lower half under it."""
    where = around((radius + 150.0) / 2.0, at_mm, 4)
    for below, above in zip(lower, upper, strict=True):
        sides = [p for p in where if len(lower) == 1 or (p[0] > 0) == (below == lower[1])]
        made.join(
            above, below, sides[0], (0, 0, -1), bolts=sides, seats=seats, grip_mm=16.0,
            method=Method.BOLTED_AND_BONDED, area_mm2=40_000.0,
        )  # fmt: skip


def bust_from_the_crown(*, is_glued: bool = False) -> Assembly:
    """The bust put together on site, where it cannot be laid down, pinned to begin with the crown: all is lifted.

    Every ring that goes in below takes the whole bust off its place; glued without bolts, its joints peel.
    """
    made = bust(rings=4)
    made.joints = [replace(joint, made=Place.SITE) for joint in made.joints]
    if is_glued:
        made.joints = [replace(joint, method=Method.BONDED, bolts=()) for joint in made.joints]
    names = sorted(made.solids)
    made.changes["pins"] = Pins(after=tuple((PartId(a), PartId(b)) for a, b in pairwise(names)))
    return made


def standing_figure() -> Assembly:
    """A figure of 13 parts: feet, shins, thighs, hips, torso, arms, neck, head of two halves; closed and of 60 kg.

    From the feet up, or in units that are lowered; the torso never hangs while the legs come in under it.
    """
    made = Assembly({})
    made.changes["adhesive"] = OVERNIGHT
    for side, x in (("L", 110.0), ("R", -110.0)):
        made.solids[f"{side}1"] = box((x - 80, -180, 0), (x + 80, 100, 90))
        made.solids[f"{side}2"] = box((x - 60, -60, 90), (x + 60, 60, 480))
        made.solids[f"{side}3"] = box((x - 75, -75, 480), (x + 75, 75, 880))
        for k, at in ((1, 90.0), (2, 480.0)):
            _pegged(made, f"{side}{k}", f"{side}{k + 1}", (x, 0, at), (x, 0, at), (0, 0, 1))
    made.solids |= {
        "H": box((-220, -110, 880), (220, 110, 1080)),
        "T": box((-230, -120, 1080), (230, 120, 1560)),
        "A": box((230, -60, 980), (330, 60, 1520)),
        "B": box((-330, -60, 980), (-230, 60, 1520)),
        "N": box((-60, -60, 1560), (60, 60, 1640)),
        "F": box((-100, -120, 1640), (100, 0, 1900)),
        "G": box((-100, 0, 1640), (100, 120, 1900)),
    }
    for side, x in (("L", 110.0), ("R", -110.0)):
        _pegged(made, f"{side}3", "H", (x, 0, 880), (x, 0, 880), (0, 0, 1))
    _pegged(made, "H", "T", (0, 0, 1080), (0, 0, 1080), (0, 0, 1))
    _pegged(made, "T", "A", (230, 0, 1400), (230, 0, 1400), (1, 0, 0))
    _pegged(made, "T", "B", (-230, 0, 1400), (-230, 0, 1400), (-1, 0, 0))
    _pegged(made, "T", "N", (0, 0, 1560), (0, 0, 1560), (0, 0, 1))
    for half in ("F", "G"):
        y = -30.0 if half == "F" else 30.0
        made.join("N", half, (0, y, 1640), (0, 0, 1), method=Method.BONDED, area_mm2=6000.0)
    made.join("F", "G", (0, 0, 1770), (0, 1, 0), method=Method.BONDED, area_mm2=20_000.0)
    # A hollow print of this size weighs a quarter of the solid block.
    made.density = 0.25
    return made


def _pegged(made: Assembly, first: str, second: str, centre: Vector, at: Vector, normal: Vector) -> None:
    """Two blocks glued face to face."""
    made.join(first, second, centre, normal, method=Method.BONDED, area_mm2=9000.0)


def tall_arch() -> Assembly:
    """A keystone arch of five heavy stones on two piers: piers, springers on centring, keystone last."""
    made = Assembly({"P0": box((-500, -150, -40), (500, 150, 0))}, base="P0")
    # Two people just lift one stone, not two joined on a bench.
    made.changes["crew"] = Crew(people=2, lift_one_kg=16.0)
    left = box((-400, -100, 0), (-250, 100, 600))
    half = Manifold.hull_points(
        [(x, y, z) for y in (-100, 100) for x, z in ((-400, 600), (-250, 600), (-60, 800), (-90, 950), (-400, 950))]
    )
    stone = [(-60, 800), (60, 800), (90, 950), (-90, 950)]
    made.solids |= {
        "P1": left,
        "P2": left.mirror((1, 0, 0)),
        "P3": half,
        "P4": half.mirror((1, 0, 0)),
        "P5": Manifold.hull_points([(x, y, z) for y in (-100, 100) for x, z in stone]),
    }
    for pier, springer, x in (("P1", "P3", -325.0), ("P2", "P4", 325.0)):
        made.join("P0", pier, (x, 0, 0), (0, 0, 1), method=Method.BONDED)
        made.join(pier, springer, (x, 0, 600), (0, 0, 1), method=Method.BONDED)
    made.join("P3", "P5", (-75, 0, 875), (150, 0, 30), method=Method.BONDED)
    made.join("P4", "P5", (75, 0, 875), (-150, 0, 30), method=Method.BONDED)
    return made


def hanging_lamp(*, method: Method = Method.BOLTED_AND_BONDED) -> Assembly:
    """A closed lamp under a round crown, each ring bolted from below, inside: from the crown down, nothing else.

    A spike on the crown keeps it from standing on its head. What stands is lifted for each ring; where the rings are
    glued without bolts, the glue would peel.
    """
    made = Assembly({})
    rise, radius = 350.0, 220.0
    for k in range(4):
        body = ring(radius, -k * rise - rise, -k * rise, wall_mm=40.0, flange_mm=120.0)
        if k == 0:
            body += dome(radius, 0.0) + Manifold.cylinder(300.0, 30.0, 0.0, 24).translate((0, 0, 90.0))
        made.solids[f"P{k + 1}"] = body
    for k in range(1, 4):
        bolts = around(160.0, -k * rise, 4) if method is not Method.BONDED else ()
        made.join(
            f"P{k + 1}", f"P{k}", (160, 0, -k * rise), (0, 0, 1), bolts=bolts, seats=CAPTIVE, grip_mm=16.0,
            method=method, area_mm2=40_000.0,
        )  # fmt: skip
    return made


def leaning_tower() -> Assembly:
    """Three cubes of 100 mm, each 64 mm beside the one below: the centre of all lies 14 mm outside the lowest.

    3 kg x 9.80665 m/s2 x 14 mm = 0.412 N m towards +x.
    """
    return eccentric_tower(3, 64.0)


def floor_from_below() -> Assembly:
    """A shell with a closed top and a floor that sits 40 mm up in it, wider than nothing above: only from below.

    The shell is turned over or laid down and the floor goes in; nobody holds the floor up against gravity.
    """
    shell = box((-250, -200, 0), (250, 200, 500)) - box((-240, -190, -1), (240, 190, 490))
    ledge = box((-240, -190, 50), (240, 190, 60)) - box((-180, -130, 49), (180, 130, 61))
    made = Assembly({"P01": shell + ledge, "P02": box((-239, -189, 40), (239, 189, 50))})
    made.join("P02", "P01", (210, 0, 50), (0, 0, 1), method=Method.BONDED, area_mm2=30_000.0)
    return made


def floor_on_site(*, method: Method = Method.BONDED) -> Assembly:
    """The same floor, closed on site under a shell with a load on its roof: 37 kg that nobody turns over there.

    The figure is lifted on stands under its walls, the floor goes in from below and is propped until it holds.
    """
    made = floor_from_below()
    made.solids["P03"] = box((-200, -150, 500), (200, 150, 700))
    made.joints = [replace(joint, made=Place.SITE) for joint in made.joints]
    made.join("P01", "P03", (0, 0, 500), (0, 0, 1), method=method, area_mm2=30_000.0)
    return made


KNOWN = {
    "bust": bust,
    "bust open below": lambda: bust(is_closed=False),
    "bust with open nuts": lambda: bust(seats=OPEN),
    "bust in halves": lambda: bust(is_halved=True),
    "short bust open below": lambda: bust(rings=4, height_mm=1300.0, is_closed=False),
    "bust from the crown": bust_from_the_crown,
    "glued bust from the crown": lambda: bust_from_the_crown(is_glued=True),
    "standing": standing_figure,
    "arch": tall_arch,
    "lamp": hanging_lamp,
    "glued lamp": lambda: hanging_lamp(method=Method.BONDED),
    "leaning tower": leaning_tower,
    "floor": floor_from_below,
    "floor on site": floor_on_site,
}
