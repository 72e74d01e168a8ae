"""Figures whose order a builder knows: busts, a standing figure, towers, a lamp, a lid; each with its answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from manifold3d import Manifold

from assembler.figure.ids import PartId
from assembler.figure.joints import Method, Place, Seat
from assembler.figure.parts import Vector
from assembler.figure.settings import Adhesive, Base, Crew, Pins
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


def seated_animal() -> Assembly:
    """A seated animal of 11 parts: haunches, two front legs, chest on all three, a head of halves with ears, a tail.

    The tail rests on the ground behind. All that stands is there before the chest; the head goes on as one.
    """
    chest = box((-200, -150, 350), (200, 250, 700)) + box((-200, -360, 500), (200, -150, 700))
    made = Assembly(
        {
            "B1": box((-200, -150, 0), (200, 250, 350)),
            "B2": chest,
            "L1": box((60, -350, 0), (160, -250, 500)),
            "R1": box((-160, -350, 0), (-60, -250, 500)),
            "H1": box((-120, -380, 700), (0, -50, 950)),
            "H2": box((0, -380, 700), (120, -50, 950)),
            "E1": box((-110, -250, 950), (-60, -200, 1030)),
            "E2": box((60, -250, 950), (110, -200, 1030)),
            "T1": box((-60, 250, 0), (60, 450, 80)),
            "T2": box((-60, 450, 0), (60, 650, 80)),
            "T3": box((60, 570, 0), (260, 650, 80)),
        },
        density=0.25,
    )
    made.changes["adhesive"] = OVERNIGHT
    _pegged(made, "B1", "B2", (0, 50, 350), (0, 50, 350), (0, 0, 1))
    for leg, x in (("L1", 110.0), ("R1", -110.0)):
        _pegged(made, leg, "B2", (x, -300, 500), (x, -300, 500), (0, 0, 1))
    for half, x in (("H1", -60.0), ("H2", 60.0)):
        _pegged(made, "B2", half, (x, -200, 700), (x, -200, 700), (0, 0, 1))
    _pegged(made, "H1", "H2", (0, -200, 820), (0, -200, 820), (1, 0, 0))
    for half, ear, x in (("H1", "E1", -85.0), ("H2", "E2", 85.0)):
        _pegged(made, half, ear, (x, -225, 950), (x, -225, 950), (0, 0, 1))
    _pegged(made, "B1", "T1", (0, 250, 40), (0, 250, 40), (0, 1, 0))
    _pegged(made, "T1", "T2", (0, 450, 40), (0, 450, 40), (0, 1, 0))
    _pegged(made, "T2", "T3", (60, 610, 40), (60, 610, 40), (1, 0, 0))
    return made


def tree() -> Assembly:
    """A tree on a stated base: a trunk of three, a limb of two with a crown that reach out far, a short limb opposite.

    The trunk grows from the ground; a limb is closed on a bench, goes on as one and is propped until it holds.
    """
    made = Assembly(
        {
            "K1": box((-150, -150, 0), (150, 150, 500)),
            "K2": box((-120, -120, 500), (120, 120, 1000)),
            "K3": box((-100, -100, 1000), (100, 100, 1400)),
            "A1": box((120, -60, 760), (420, 60, 880)),
            "A2": box((420, -50, 770), (700, 50, 870)),
            "A3": box((560, -150, 870), (860, 150, 1070)),
            "C1": box((-380, -60, 1150), (-100, 60, 1270)),
        },
        density=0.25,
    )
    made.changes |= {
        "adhesive": OVERNIGHT,
        "base": Base(size_mm=(800.0, 800.0, 80.0), mass_kg=36.0, anchors=4, anchor_size="M12"),
    }
    _pegged(made, "K1", "K2", (0, 0, 500), (0, 0, 500), (0, 0, 1))
    _pegged(made, "K2", "K3", (0, 0, 1000), (0, 0, 1000), (0, 0, 1))
    _pegged(made, "K2", "A1", (120, 0, 820), (120, 0, 820), (1, 0, 0))
    _pegged(made, "A1", "A2", (420, 0, 820), (420, 0, 820), (1, 0, 0))
    _pegged(made, "A2", "A3", (630, 0, 870), (630, 0, 870), (0, 0, 1))
    _pegged(made, "K3", "C1", (-100, 0, 1210), (-100, 0, 1210), (-1, 0, 0))
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
    "animal": seated_animal,
    "tree": tree,
}
