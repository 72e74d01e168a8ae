"""Assemblies as shops meet them: shells in shells, shelves, hatches, slots; each with its answer in its docstring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from manifold3d import Manifold

from assembler.figure.joints import Method, Place, Seat
from assembler.figure.parts import Vector
from tests.specimens import CAPTIVE, Assembly, box, rod

OPEN = (Seat.OPEN, Seat.OPEN)
INSERT = (Seat.OPEN, Seat.INSERT)


def hollow(low: Vector, high: Vector, wall_mm: float) -> Manifold:
    """A closed box with walls of one thickness."""
    inner_low, inner_high = (tuple(v + way * wall_mm for v in corner) for corner, way in ((low, 1.0), (high, -1.0)))
    x, y, z = inner_low
    a, b, c = inner_high
    return box(low, high) - box((x, y, z), (a, b, c))


def nested_shells() -> Assembly:
    """A closed inner shell of two halves on a pedestal in a closed outer shell of two halves.

    Before the outer upper half, both inner halves have to be in.
    """
    outer, inner = hollow((-200, -200, 0), (200, 200, 400), 10), hollow((-100, -100, 60), (100, 100, 260), 8)
    outer += box((-40, -40, 10), (40, 40, 60))
    low, high = box((-300, -300, -1), (300, 300, 200)), box((-300, -300, 200), (300, 300, 401))
    inner_low, inner_high = box((-300, -300, -1), (300, 300, 160)), box((-300, -300, 160), (300, 300, 401))
    made = Assembly({"A": outer ^ low, "B": outer ^ high, "C": inner ^ inner_low, "D": inner ^ inner_high}, base="A")
    made.join("A", "C", (0, 0, 60), (0, 0, 1), method=Method.BONDED)
    made.join("C", "D", (96, 0, 160), (0, 0, 1), method=Method.BONDED)
    made.join("A", "B", (195, 0, 200), (0, 0, 1), method=Method.BONDED)
    return made


def three_part_bolt() -> Assembly:
    """Two plates on a base under bolts through all three: each is fitted once, with the last plate."""
    solids = {"A": box((0, 0, 0), (200, 100, 20)), "B": box((0, 0, 20), (200, 100, 30))}
    made = Assembly(solids | {"C": box((0, 0, 30), (200, 100, 40))}, base="A")
    made.join("B", "A", (100, 50, 20), (0, 0, -1), method=Method.BOLTED)
    places: Sequence[Vector] = [(50, 50, 30), (150, 50, 30)]
    made.join("C", "B", (100, 50, 30), (0, 0, -1), bolts=places, grip_mm=40.0, seats=CAPTIVE)
    for at in places:
        made.solids["A"] -= rod(at, (0, 0, 1), 4.5, 40.0)
    joint = made.joints[1]
    through = tuple(part.id for part in made.given["parts"])[::-1]
    bolts = tuple(replace(bolt, through=through, also=(made.joints[0].id,)) for bolt in joint.bolts)
    made.joints[1] = replace(joint, bolts=bolts)
    return made


def lidded_box(seats: tuple[Seat, Seat], *, opening_mm: tuple[float, float] = (0.0, 0.0)) -> Assembly:
    """A closed box and its lid, bolted along the rim; the first seat is in the lid, the second inside, in the box.

    With an opening in the front wall, width and height.
    """
    body = hollow((-250, -200, 0), (250, 200, 300), 8) - box((-150, -100, 280), (150, 100, 301))
    if opening_mm[0]:
        body -= box((-opening_mm[0] / 2, -201, 80), (opening_mm[0] / 2, -191, 80 + opening_mm[1]))
    made = Assembly({"A": body, "K": box((-250, -200, 300), (250, 200, 310))}, base="A")
    places = [(x, y, 300.0) for x in (-170.0, 170.0) for y in (-120.0, 120.0)]
    made.join("K", "A", (0, 150, 300), (0, 0, -1), bolts=places, seats=seats)
    return made


def flanges_in_one_cavity(
    seats: tuple[Seat, Seat], *, hole_mm: float = 130.0, shift_mm: tuple[float, float] = (0.0, 0.0)
) -> Assembly:
    """Two halves of a closed box with upright flanges inside, both ends of the bolts in the cavity, one hole on top.

    A hole of 130 mm takes one arm, not two: with open nuts it cannot be closed, with captive ones it can.
    """
    shell = hollow((-250, -150, 0), (250, 150, 400), 8)
    shell += (box((-10, -150, 0), (10, 150, 400)) - box((-11, -90, 60), (11, 90, 340))) ^ box(
        (-250, -150, 0), (250, 150, 400)
    )
    shell -= rod((120 + shift_mm[0], shift_mm[1], 400), (0, 0, 1), hole_mm / 2.0, 30.0)
    left, right = box((-300, -200, -1), (0, 200, 401)), box((0, -200, -1), (300, 200, 401))
    made = Assembly({"L": shell ^ left, "R": shell ^ right})
    places = [(0.0, y, 200.0) for y in (-110.0, 110.0)]
    made.join("L", "R", (0, 0, 30), (1, 0, 0), bolts=places, seats=seats)
    return made


def hatch() -> Assembly:
    """The cap of a box is bolted with nuts inside, reached through a hatch that is screwed into inserts from outside.

    The hatch comes last, and nothing is shut before.
    """
    made = lidded_box(OPEN, opening_mm=(260.0, 160.0))
    made.solids["A"] += box((-160, -192, 40), (160, -170, 280)) - box((-130, -193, 80), (130, -169, 240))
    made.solids["H"] = box((-150, -208, 60), (150, -200, 260))
    places = [(x, -200.0, z) for x in (-140.0, 140.0) for z in (70.0, 250.0)]
    made.join("H", "A", (0, -200, 70), (0, 1, 0), bolts=places, seats=INSERT, hole_mm=5.0, grip_mm=20.0)
    return made


def shelf_in_shell() -> Assembly:
    """A shelf on a ledge inside a shell of two halves, wider than the opening: in before the upper half."""
    shell = hollow((-200, -200, 0), (200, 200, 400), 10)
    ledge = box((-190, -190, 140), (190, 190, 150)) - box((-150, -150, 139), (150, 150, 151))
    made = Assembly(
        {
            "A": (shell ^ box((-300, -300, -1), (300, 300, 200))) + ledge,
            "B": shell ^ box((-300, -300, 200), (300, 300, 401)),
            "S": box((-189, -189, 150), (189, 189, 160)),
        },
        base="A",
    )
    made.join("A", "S", (170, 0, 150), (0, 0, 1), method=Method.BONDED)
    made.join("A", "B", (195, 0, 200), (0, 0, 1), method=Method.BONDED)
    return made


def combs() -> Assembly:
    """Two combs whose tapered tines fit between each other: apart along the tines or along the gaps, not across."""
    tines = [box((-100 + 50 * k, -40, 40), (-75 + 50 * k, 40, 120)) for k in range(4)]
    body = box((-110, -40, 0), (110, 40, 40))
    for tine in tines:
        body += tine
    other = box((-110, -40, 40), (110, 40, 160)) - body
    made = Assembly({"A": body, "B": other}, base="A")
    made.join("A", "B", (0, 0, 120), (0, 0, 1), method=Method.BONDED)
    return made


def t_slot() -> Assembly:
    """A slider with a T foot in a slot that is open at one end: only along it, although its joint says up."""
    foot = box((-100, -30, 20), (100, 30, 40)) + box((-100, -12, 40), (100, 12, 100))
    body = (
        box((-130, -80, 0), (100, 80, 60)) - box((-100, -30, 20), (101, 30, 40)) - box((-100, -12, 40), (101, 12, 61))
    )
    made = Assembly({"A": body, "S": foot}, base="A")
    made.join("A", "S", (0, 0, 20), (0, 0, 1), method=Method.DRY)
    return made


def lipped_lid() -> Assembly:
    """A lid whose lip reaches 30 mm into its box: straight down, and nothing sideways."""
    body = hollow((-150, -150, 0), (150, 150, 250), 8) - box((-142, -142, 200), (142, 142, 260))
    lid = box((-150, -150, 250), (150, 150, 260)) + (
        box((-141, -141, 220), (141, 141, 250)) - box((-133, -133, 219), (133, 133, 251))
    )
    made = Assembly({"A": body, "L": lid}, base="A")
    made.join("A", "L", (146, 0, 250), (0, 0, 1), method=Method.BONDED)
    return made


def plugged_screw(*, bore_mm: float = 12.0) -> Assembly:
    """A cap screwed down through deep counterbores of a radius, and plugs bonded over the screws: plugs after the cap.

    The head is held by its socket, since no finger comes down there.
    """
    cap = box((-100, -60, 100), (100, 60, 160))
    for x in (-70.0, 70.0):
        cap -= rod((x, 0, 145), (0, 0, 1), bore_mm, 30.0)
    made = Assembly({"A": box((-100, -60, 0), (100, 60, 100)), "C": cap}, base="A")
    made.join("C", "A", (0, 0, 100), (0, 0, -1), bolts=[(-70, 0, 100), (70, 0, 100)], seats=INSERT, grip_mm=15.0)
    for name, x in (("P", -70.0), ("Q", 70.0)):
        made.solids[name] = rod((x, 0, 145), (0, 0, 1), bore_mm - 0.2, 15.0)
        made.join(name, "C", (x, 0, 130), (0, 0, -1), method=Method.BONDED, area_mm2=900.0)
    return made


def crowded_head() -> Assembly:
    """A bracket whose bolt heads lie 6 mm beside a block that comes onto the same base: the block after the bolts."""
    made = Assembly(
        {
            "A": box((-200, -100, 0), (200, 100, 40)),
            "M": box((-60, -60, 40), (0, 60, 50)),
            "N": box((-21, -60, 50), (60, 60, 200)) + box((0, -60, 40), (60, 60, 50)),
        },
        base="A",
    )
    places = [(-30.0, y, 40.0) for y in (-40.0, 40.0)]
    made.join("M", "A", (-30, 0, 40), (0, 0, -1), bolts=places, seats=CAPTIVE)
    made.join("N", "A", (30, 0, 40), (0, 0, -1), method=Method.BONDED)
    return made


def two_openings() -> Assembly:
    """A shell in two storeys with a floor between, each with an opening; the lower one is shut by a bonded cover.

    The floor is bolted to the lower storey, nuts below: to be closed through the lower opening before its cover.
    """
    shell = hollow((-250, -250, 0), (250, 250, 700), 8)
    ledge = box((-242, -242, 340), (242, 242, 350)) - box((-160, -160, 339), (160, 160, 351))
    door = box((-120, -251, 60), (120, -241, 300))
    lower = ((shell ^ box((-300, -300, -1), (300, 300, 350))) + ledge) - door
    upper = (shell ^ box((-300, -300, 350), (300, 300, 701))) - rod((0, 0, 700), (0, 0, 1), 130.0, 30.0)
    made = Assembly(
        {
            "A": lower,
            "B": upper,
            "F": box((-240, -240, 350), (240, 240, 360)),
            "D": box((-140, -258, 40), (140, -250, 320)),
        },
        base="A",
    )
    places = [(x, y, 350.0) for x in (-200.0, 200.0) for y in (-120.0, 120.0)]
    made.join("F", "A", (0, 200, 350), (0, 0, -1), bolts=places, seats=OPEN)
    made.join("A", "B", (246, 0, 350), (0, 0, 1), method=Method.BONDED)
    made.join("A", "D", (130, -250, 180), (0, -1, 0), method=Method.BONDED)
    return made


def heavy_pair() -> Assembly:
    """Two blocks of 18 kg on a base, two people who lift some 25 kg: brought in one by one, not joined before."""
    made = Assembly(
        {
            "A": box((-300, -200, 0), (300, 200, 40)),
            "B": box((-150, -150, 40), (150, 150, 240)),
            "C": box((-150, -150, 240), (150, 150, 440)),
        },
        base="A",
    )
    made.join("A", "B", (0, 0, 40), (0, 0, 1), method=Method.BONDED)
    made.join("B", "C", (0, 0, 240), (0, 0, 1), method=Method.BONDED)
    return made


def hooked_rail() -> Assembly:
    """A cheek that hooks over the front of a tray, a lip before it: down only; the cover on top comes after."""
    body = (
        box((-150, -100, 0), (150, 100, 30))
        + box((-150, -100, 30), (-130, 100, 200))
        + box((130, -100, 30), (150, 100, 200))
    )
    body += box((-150, -100, 30), (150, -80, 120))
    cheek = box((-128, -80, 30), (128, -60, 190)) + box((-128, -120, 120), (128, -80, 140))
    cheek += box((-128, -120, 90), (128, -101, 120))
    made = Assembly({"A": body, "H": cheek, "C": box((-150, -100, 200), (150, 100, 210))}, base="A")
    made.join("A", "H", (0, -90, 120), (0, 0, 1), method=Method.DRY)
    made.join("A", "C", (-140, 0, 200), (0, 0, 1), method=Method.BONDED)
    return made


def site_neck() -> Assembly:
    """A head of two halves goes to site apart from the trunk, and its neck is bolted on site from inside the trunk.

    The trunk is open above until then; captive nuts in the head, screws from inside a trunk with a door.
    """
    trunk = hollow((-200, -200, 0), (200, 200, 500), 8) - box((-120, -201, 250), (120, -191, 450))
    trunk -= box((-90, -90, 480), (90, 90, 501))
    head = hollow((-150, -150, 500), (150, 150, 800), 8) - box((-90, -90, 499), (90, 90, 520))
    left, right = box((-300, -300, 499), (0, 300, 801)), box((0, -300, 499), (300, 300, 801))
    made = Assembly({"T": trunk, "G": head ^ left, "H": head ^ right}, base="T")
    made.join("G", "H", (0, 146, 650), (1, 0, 0), method=Method.BONDED)
    for name, x in (("G", -120.0), ("H", 120.0)):
        places = [(x, y, 500.0) for y in (-100.0, 100.0)]
        made.join("T", name, (x, 0, 500), (0, 0, 1), bolts=places, seats=CAPTIVE, made=Place.SITE)
    return made


def ship_in_bottle() -> Assembly:
    """A block in a closed box of one piece, its opening smaller than the block: no order helps, and that is said."""
    body = hollow((-200, -200, 0), (200, 200, 400), 10) - box((-60, -60, 380), (60, 60, 401))
    made = Assembly({"A": body, "S": box((-100, -100, 10), (100, 100, 210))}, base="A")
    made.join("A", "S", (0, 0, 10), (0, 0, 1), method=Method.BONDED)
    return made


def lamp() -> Assembly:
    """A lamp bonded and bolted under the beam of a gate: under the beam first, then up against it, glue unwiped."""
    gate = box((-400, -100, 0), (-350, 100, 800)) + box((350, -100, 0), (400, 100, 800))
    made = Assembly(
        {
            "A": gate + box((-400, -100, 800), (400, 100, 830)),
            "L": box((-150, -80, 500), (150, 80, 800)) - box((-140, -70, 490), (140, 70, 790)),
        },
        base="A",
    )
    places = [(-100.0, 0.0, 800.0), (100.0, 0.0, 800.0)]
    made.join(
        "A", "L", (0, 0, 800), (0, 0, -1), bolts=places, seats=OPEN, method=Method.BOLTED_AND_BONDED, grip_mm=40.0
    )
    return made


def deep_lid() -> Assembly:
    """A lid bolted with nuts inside, the only opening more than a metre below them: it is there, and too far away."""
    body = hollow((-250, -250, 0), (250, 250, 1300), 8) - box((-150, -100, 1280), (150, 100, 1301))
    body -= box((-120, -251, 60), (120, -241, 320))
    made = Assembly({"A": body, "K": box((-250, -250, 1300), (250, 250, 1310))}, base="A")
    places = [(x, y, 1300.0) for x in (-190.0, 190.0) for y in (-150.0, 150.0)]
    made.join("K", "A", (0, 200, 1300), (0, 0, -1), bolts=places, seats=OPEN)
    return made


def nuts_between_ribs() -> Assembly:
    """Open nuts between two ribs 15 mm apart: no hand comes there, whatever else stands."""
    body = box((-100, -60, 0), (100, 60, 20)) + box((-24, -60, -60), (-17.5, 60, 0)) + box((-2.5, -60, -60), (4, 60, 0))
    made = Assembly({"A": body, "B": box((-100, -60, 20), (100, 60, 40))})
    made.join("B", "A", (0, 0, 20), (0, 0, -1), bolts=[(-10, -20, 20), (-10, 20, 20)], seats=OPEN)
    return made


def armed_torso() -> Assembly:
    """Two arms screwed on from inside a torso through its neck, and a head bonded over the neck: arms, then head."""
    torso = hollow((-200, -150, 0), (200, 150, 600), 8) - rod((0, 0, 600), (0, 0, 1), 110, 30)
    made = Assembly(
        {
            "T": torso,
            "L": box((-400, -60, 400), (-200, 60, 520)),
            "R": box((200, -60, 400), (400, 60, 520)),
            "H": hollow((-130, -130, 600), (130, 130, 850), 8),
        },
        base="T",
    )
    for name, x in (("L", -200.0), ("R", 200.0)):
        places = [(x, y, 460.0) for y in (-30.0, 30.0)]
        made.join("T", name, (x, 0, 460), (x, 0, 0), bolts=places, seats=INSERT, grip_mm=16.0)
    made.join("T", "H", (120, 0, 600), (0, 0, 1), method=Method.BONDED)
    return made
