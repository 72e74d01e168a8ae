"""Where the figure is cut, and with what each cut is closed.

The order of the cuts matters: limbs come off first, then the levels are cut, and the left-right cut comes last.
A ring belongs to the pieces that are split by its cut, so no ring reaches into a limb that is already off.
"""

from dataclasses import dataclass, replace

import numpy as np

from demo.figure import posture
from demo.figure.frames import Plane, Triple, Window


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolting:
    """Screw size of a cut and the flange that takes it (all mm).

    Attributes
    ----------
    hole_mm : float
        Clearance hole, ISO 273 medium series.
    socket_mm : float
        Outer diameter of the socket on the head, about 1.5 times the width across flats.
    flats_mm, pocket_mm : float
        Captive nut pocket: width across flats with play, depth.
    thick_mm, wide_mm, inset_mm : float
        Flange thickness per side, width from the inner wall, and distance of the bolt line from the inner wall.
    """

    hole_mm: float
    socket_mm: float
    flats_mm: float
    pocket_mm: float
    thick_mm: float
    wide_mm: float
    inset_mm: float


M6 = Bolting(hole_mm=6.6, socket_mm=15.0, flats_mm=10.2, pocket_mm=4.0, thick_mm=10.0, wide_mm=27.0, inset_mm=14.5)
M8 = Bolting(hole_mm=9.0, socket_mm=20.0, flats_mm=13.3, pocket_mm=4.0, thick_mm=10.0, wide_mm=30.0, inset_mm=15.5)
# Where the wall bends away from the screw's axis, the bolt line stands further in: 80 mm of socket must clear it.
M8_BENT = replace(M8, wide_mm=45.5, inset_mm=31.0)
M8_NECK = replace(M8, wide_mm=37.0, inset_mm=22.5)
M8_ROUND = replace(M8, wide_mm=46.0, inset_mm=31.5)
M10 = Bolting(hole_mm=11.0, socket_mm=24.0, flats_mm=17.0, pocket_mm=0.0, thick_mm=12.0, wide_mm=42.0, inset_mm=22.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One plane, the window in which it acts, and the pieces it divides.

    `splits` names (piece, piece in front, piece behind). `nuts` names the side that holds captive nuts
    ("front" or "back"; heads are on the other side), or "loose" where two hands reach both ends, or
    "loose behind" where only the head's side is settled.
    `beyond` lists boxes that lie in front whatever the plane says: a bent arm crosses its own shoulder plane again.
    """

    name: str
    plane: Plane
    window: Window
    bolting: Bolting
    splits: tuple[tuple[str, str, str], ...]
    nuts: str = "loose"
    beyond: tuple[Window, ...] = ()
    pitch_mm: float = 118.0


EVERYWHERE = Window(low=(-900.0, -900.0, -900.0), high=(900.0, 900.0, 2300.0))
LEVELS_MM = (336.0, 672.0, 1008.0, 1344.0)
NECK_MM = 1738.0
TOE_GAP_MM = 3.0  # toes stay clear of the deck so that rain drains from under them


def cuts() -> tuple[Cut, ...]:
    """Return all cuts of the otter in the order in which they are made."""
    return (*cuts_above_body(), *cuts_of_head_and_body())


def cuts_above_body() -> tuple[Cut, ...]:
    """Return the cuts that take off the arms, the tail and, last, the head."""
    return (*_arm_cuts(), *_tail_cuts(), _neck_cut())


def cuts_of_head_and_body() -> tuple[Cut, ...]:
    """Return the cuts that follow: through the head, the feet and the trunk."""
    return (_face_cut(), *_toe_cuts(), *_trunk_cuts())


def _around(centre: Triple | np.ndarray, half: Triple) -> Window:
    low, high = np.subtract(centre, half), np.add(centre, half)
    return Window(low=(low[0], low[1], low[2]), high=(high[0], high[1], high[2]))


def _arm_cuts() -> list[Cut]:
    found = []
    for side, name, elbow, wrist in (
        (-1.0, "right", posture.RIGHT_ELBOW, posture.RIGHT_WRIST),
        (1.0, "left", posture.LEFT_ELBOW, posture.LEFT_WRIST),
    ):
        shoulder = (side * posture.SHOULDER_X, posture.SHOULDER_Y, posture.SHOULDER_Z)
        centre = np.add(shoulder, 0.53 * np.subtract(elbow, shoulder))
        x = (-600.0, -200.0) if side < 0 else (200.0, 600.0)
        inward = (-600.0, 0.0) if side < 0 else (0.0, 600.0)
        outward = (-600.0, -220.0) if side < 0 else (220.0, 600.0)
        found.append(
            Cut(
                name=f"{name} shoulder",
                plane=Plane.through(centre, (side * 0.945, -0.26, -0.2)),
                window=Window(low=(x[0], -216.0, 1280.0), high=(x[1], 200.0, 1640.0)),
                beyond=(
                    Window(low=(inward[0], -800.0, 1000.0), high=(inward[1], -215.0, 1640.0)),
                    Window(low=(outward[0], -260.0, 1150.0), high=(outward[1], 0.0, 1290.0)),
                ),
                bolting=M6,
                splits=(("otter", f"arm {name}", "otter"),),
                nuts="front",
            )
        )
        way = np.subtract(wrist, elbow) / np.linalg.norm(np.subtract(wrist, elbow))
        centre = np.asarray(elbow) + 97.0 * way
        found.append(
            Cut(
                name=f"{name} elbow",
                plane=Plane.through(centre, way),
                window=_around(centre, (330.0, 420.0, 330.0)),
                bolting=M6,
                splits=((f"arm {name}", f"forearm {name}", f"upper arm {name}"),),
                nuts="front",
            )
        )
    return found


def _tail_cuts() -> list[Cut]:
    root = Cut(
        name="tail root",
        plane=Plane.through((3.0, 204.0, 211.0), (0.03, 0.99, -0.12)),
        window=Window(low=(-250.0, 150.0, 10.0), high=(600.0, 700.0, 420.0)),
        bolting=M6,
        splits=(("otter", "tail", "otter"),),
        nuts="front",
        pitch_mm=105.0,
    )
    found = [root]
    for at, piece, front, back in (
        (2.5, "tail", "tail rest", "tail root"),
        (4.15, "tail rest", "tail tip", "tail middle"),
    ):
        centre = posture.TAIL_LINE(at)
        found.append(
            Cut(
                name=f"{back} to {front}",
                plane=Plane.through(centre, posture.TAIL_LINE(at, 1)),
                window=_around(centre, (450.0, 320.0, 260.0)),
                bolting=M6,
                splits=((piece, front, back),),
                nuts="front",
                pitch_mm=100.0,
            )
        )
    return found


def _neck_cut() -> Cut:
    return Cut(
        name="neck",
        plane=Plane.through((0.0, 0.0, NECK_MM), (0.0, 0.0, 1.0)),
        window=EVERYWHERE,
        bolting=M8_NECK,
        splits=(("otter", "head", "otter"),),
        nuts="front",
        pitch_mm=105.0,
    )


def _face_cut() -> Cut:
    return Cut(
        name="face",
        plane=Plane.through((0.0, -38.0, 1900.0), (0.0, -0.985, 0.174)),
        window=EVERYWHERE,
        bolting=M8_ROUND,
        splits=(("head", "head front", "head back"),),
        nuts="front",
    )


def _toe_cuts() -> list[Cut]:
    return [
        Cut(
            name=f"{name} toes",
            plane=Plane.through((side * 132.0, -155.0, 50.0), (side * 0.03, -1.0, 0.0)),
            window=Window(low=(min(0.0, side * 320.0), -500.0, -60.0), high=(max(0.0, side * 320.0), -100.0, 176.0)),
            bolting=M6,
            splits=(("otter", f"toes {name}", "otter"),),
            nuts="front",
            pitch_mm=90.0,
        )
        for side, name in ((-1.0, "right"), (1.0, "left"))
    ]


def _trunk_cuts() -> list[Cut]:
    found = []
    for level, height in zip((5, 4, 3, 2), reversed(LEVELS_MM), strict=True):
        found.append(
            Cut(
                name=f"level {level}",
                plane=Plane.through((0.0, 0.0, height), (0.0, 0.0, 1.0)),
                window=EVERYWHERE,
                bolting=M8,
                splits=(("otter", f"torso {level}", "otter"),),
                nuts="back" if level == 5 else "loose",
            )
        )
    middle = [(f"torso {k}", f"torso {k} left", f"torso {k} right") for k in (5, 4, 3, 2)]
    found.append(
        Cut(
            name="middle",
            plane=Plane.through((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)),
            window=EVERYWHERE,
            bolting=M8_BENT,
            splits=(*middle, ("otter", "torso 1 left", "torso 1 right")),
        )
    )
    return found
