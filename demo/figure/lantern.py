"""The lantern: turned pieces with exact rings, standing on the otter's right paw.

Four pieces: base, body with four windows, roof, ring handle. Screws are reached through the windows.
All heights are measured from the paw's seat.
"""

from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold

from demo.figure import posture
from demo.figure.frames import Plane, Window, circle
from demo.figure.layout import M6, Cut

SEGMENTS = 128
CABLE_RADIUS_MM = 22.0
BASE_TOP_MM, BODY_TOP_MM, ROOF_TOP_MM = 82.0, 276.0, 392.0
WALL_RADIUS_MM, INNER_RADIUS_MM, RING_RADIUS_MM = 112.0, 106.0, 80.0
WINDOW_WIDE_MM, WINDOW_HIGH_MM = 112.0, 154.0
HANDLE_FOOT_MM = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """A joint of the lantern: its plane, the pieces in front and behind, and where its screws stand."""

    cut: Cut
    front: str
    back: str
    bolt_circle_mm: float
    bolt_angles_deg: tuple[float, ...]


def axis_origin(height_mm: float = 0.0) -> tuple[float, float, float]:
    """Return the point of the lantern's axis at a height above the seat."""
    return (posture.RIGHT_PALM[0], posture.RIGHT_PALM[1], posture.SEAT_Z + height_mm)


def pieces() -> dict[str, Manifold]:
    """Return the lantern's pieces in their place, without screw holes."""
    drawn = {
        "lantern base": _base(),
        "lantern body": _body(),
        "lantern roof": _roof(),
        "lantern ring handle": _handle(),
    }
    return {name: solid.translate(axis_origin()) for name, solid in drawn.items()}


def seat_relief() -> Manifold:
    """Return what is taken off the paw so that the lantern stands flat."""
    return Plane.through(axis_origin(), (0, 0, 1)).prism(circle(posture.SEAT_RADIUS_MM, segments=SEGMENTS), 0.0, 30.0)


def seat_flange() -> Manifold:
    """Return the flange under the seat, inside the paw, open in the middle for the lamp's cable."""
    plane = Plane.through(axis_origin(), (0, 0, 1))
    disc = circle(150.0) - circle(CABLE_RADIUS_MM, segments=SEGMENTS)
    return plane.prism(disc, -M6.thick_mm, 60.0)


def cable_hole() -> Manifold:
    """Return the hole for the lamp's cable through the paw's seat."""
    plane = Plane.through(axis_origin(), (0, 0, 1))
    return plane.prism(circle(CABLE_RADIUS_MM, segments=SEGMENTS), -M6.thick_mm - 2.0, 1.0)


def ties(paw: str) -> tuple[Tie, ...]:
    """Return the lantern's joints; `paw` is the part that carries it."""
    crosswise = (45.0, 135.0, 225.0, 315.0)
    facing_windows = (0.0, 90.0, 180.0, 270.0)
    rows = (
        (paw, "lantern base", 0.0, 47.0, crosswise, "back"),
        ("lantern base", "lantern body", BASE_TOP_MM, 93.0, facing_windows, "back"),
        ("lantern body", "lantern roof", BODY_TOP_MM, 93.0, facing_windows, "front"),
        ("lantern roof", "lantern ring handle", ROOF_TOP_MM, 0.0, (), "loose"),
    )
    return tuple(
        Tie(
            cut=Cut(
                name=f"{back} to {front}",
                plane=Plane.through(axis_origin(height), (0.0, 0.0, 1.0)),
                window=Window(low=(-900.0, -900.0, 0.0), high=(900.0, 900.0, 2300.0)),
                bolting=M6,
                splits=(),
                nuts=nuts,
            ),
            front=front,
            back=back,
            bolt_circle_mm=radius,
            bolt_angles_deg=angles,
        )
        for back, front, height, radius, angles, nuts in rows
    )


def bolt_points(tie: Tie) -> list[tuple[float, float]]:
    """Return the local places of a joint's screws."""
    angles = np.radians(tie.bolt_angles_deg)
    return [(tie.bolt_circle_mm * float(np.cos(a)), tie.bolt_circle_mm * float(np.sin(a))) for a in angles]


def _turned(profile: list[tuple[float, float]]) -> Manifold:
    """Return the solid of revolution of a (radius, height) outline, counter-clockwise."""
    return CrossSection([np.asarray(profile)]).revolve(SEGMENTS)


def _base() -> Manifold:
    outside = _turned(
        [
            (0, 0),
            (78, 0),
            (78, 13),
            (71, 20),
            (71, 38),
            (84, 46),
            (110, 58),
            (116, 66),
            (116, 74),
            (112, 82),
            (0, 82),
        ]
    )
    inside = _turned([(0, 10), (64, 10), (64, 42), (80, 52), (106, 64), (106, 72), (80, 72), (80, 83), (0, 83)])
    return outside - inside - Manifold.cylinder(40.0, CABLE_RADIUS_MM, circular_segments=SEGMENTS).translate((0, 0, -5))


def _body() -> Manifold:
    low, high = BASE_TOP_MM, BODY_TOP_MM
    shell = _turned([(RING_RADIUS_MM, low), (WALL_RADIUS_MM, low), (WALL_RADIUS_MM, high), (RING_RADIUS_MM, high)])
    shell -= _turned(
        [
            (0, low + 10),
            (INNER_RADIUS_MM, low + 10),
            (INNER_RADIUS_MM, high - 10),
            (0, high - 10),
        ]
    )
    arch = CrossSection.square((WINDOW_WIDE_MM, WINDOW_HIGH_MM), center=True).offset(-20.0).offset(20.0)
    for turn in range(4):
        opening = arch.extrude(80.0).rotate((90.0, 0.0, 0.0)).translate((0.0, -60.0, (low + high) / 2.0))
        shell -= opening.rotate((0.0, 0.0, 90.0 * turn))
        post = Manifold.cylinder(high - low, 9.0, circular_segments=32).translate((WALL_RADIUS_MM + 1.0, 0.0, low))
        post -= Manifold.cylinder(high - low + 2.0, INNER_RADIUS_MM + 3.0, circular_segments=SEGMENTS).translate(
            (0.0, 0.0, low - 1.0)
        )
        shell += post.rotate((0.0, 0.0, 45.0 + 90.0 * turn))
    return shell


def _roof() -> Manifold:
    low, high = BODY_TOP_MM, ROOF_TOP_MM
    outside = _turned(
        [
            (0, low),
            (138, low),
            (142, low + 5),
            (138, low + 12),
            (118, low + 24),
            (98, low + 42),
            (78, low + 66),
            (60, low + 90),
            (44, low + 98),
            (40, high - 6),
            (36, high),
            (0, high),
        ]
    )
    inside = _turned(
        [
            (0, low - 1),
            (RING_RADIUS_MM, low - 1),
            (RING_RADIUS_MM, low + 10),
            (INNER_RADIUS_MM, low + 10),
            (INNER_RADIUS_MM, low + 23),
            (91, low + 38),
            (71, low + 62),
            (52, low + 86),
            (30, low + 96),
            (0, low + 96),
        ]
    )
    return outside - inside


def _handle() -> Manifold:
    foot = Manifold.cylinder(14.0, HANDLE_FOOT_MM, 18.0, SEGMENTS).translate((0.0, 0.0, ROOF_TOP_MM))
    tube = circle(10.0, (42.0, 0.0), 32).revolve(96).rotate((90.0, 0.0, 45.0))
    return foot + tube.translate((0.0, 0.0, ROOF_TOP_MM + 14.0 + 46.0))
