"""Which ring a cut gets on its inner wall, and where its bolts go.

The ring follows the cavity's outline at the cut, equally thick on both sides; the bolts stand on a line inside it.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

from demo.figure.frames import Plane, circle
from demo.figure.layout import Bolting, Cut

_OVERLAP_MM = 26.0  # the ring runs this far past the outline, into walls that flare away from the cut
_SMOOTH_MM = 0.15  # sampling steps of the cavity are not worth a corner on the flange
_TOOL_MM = 80.0  # free length in front of a screw head
_NUT_ROOM_MM = 26.0  # free length in front of a nut: the nut, its washer and two fingertips
_END_MM = 44.0  # from a seam crossing to the first bolt: clears the other flange, its washers and a socket
_APART_MM = 64.0  # two bolts closer than this carry no more than one, and their sockets get in each other's way
_SLIDE_MM = tuple(side * step for step in range(0, 57, 7) for side in (1, -1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """The flange pair of one cut: its solid, and the closed lines (local, (n, 2) mm) on which bolts may stand."""

    solid: Manifold
    lines: tuple[NDArray[np.float64], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A bolt on a cut: local position, and whether the screw head lies in front of the plane."""

    at: tuple[float, float]
    head_in_front: bool


class NoRoomError(RuntimeError):
    """A flange leaves no opening, or a joint finds no place for its bolts."""


def outline_in_window(solid: Manifold, cut: Cut) -> CrossSection:
    """Return the solid's outline at the cut, without limbs that the plane meets outside the window."""
    pieces = cut.plane.section(solid).decompose()
    return CrossSection.compose([p for p in pieces if cut.window.contains(cut.plane.point(*_middle(p)))])


def _middle(piece: CrossSection) -> tuple[float, float]:
    x0, y0, x1, y1 = piece.bounds()
    return (x0 + x1) / 2.0, (y0 + y1) / 2.0


def ring(cavity: Manifold, cut: Cut) -> Ring:
    """Return the flange pair of a cut.

    Raises
    ------
    NoRoomError
        When the cavity at the cut is too narrow to leave an opening.
    """
    outline = outline_in_window(cavity, cut).simplify(_SMOOTH_MM)
    opening = outline.offset(-cut.bolting.wide_mm).simplify(_SMOOTH_MM)
    if opening.is_empty():
        raise NoRoomError(f"{cut.name}: no opening is left inside a flange {cut.bolting.wide_mm} mm wide")
    band = outline.offset(_OVERLAP_MM) - opening
    thick = cut.bolting.thick_mm
    lines = tuple(np.asarray(p) for p in outline.offset(-cut.bolting.inset_mm).to_polygons())
    return Ring(solid=cut.plane.prism(band, -thick, thick), lines=lines)


def bolt_places(
    cut: Cut, lines: tuple[NDArray[np.float64], ...], face: CrossSection, is_free: Callable[[Manifold], bool]
) -> list[Place]:
    """Return evenly spread bolt places of one joint.

    Parameters
    ----------
    lines : tuple of (n, 2) float
        The closed bolt lines of the cut's ring.
    face : CrossSection
        The two parts' common face, without holes.
    is_free : callable
        Says whether a solid (the room for a tool) meets no part.

    Raises
    ------
    NoRoomError
        When no bolt fits; a short quarter of a ring may do with one.
    """
    # The face is narrower than the flange where another cut passes; both edges keep 1.5 hole diameters of material.
    inner = face.offset(-1.5 * cut.bolting.hole_mm * 0.93)
    places: list[Place] = []
    for line in lines:
        for run, is_closed in _runs(line, inner):
            for wanted in _spread_mm(len(run), is_closed, cut.pitch_mm):
                place = _free_place(cut, run, wanted, is_closed, is_free)
                if place is not None and all(np.hypot(*np.subtract(place.at, p.at)) > _APART_MM for p in places):
                    places.append(place)
    if not places:
        raise NoRoomError(f"{cut.name}: no bolt fits between two parts that face each other there")
    return places


def _runs(line: NDArray[np.float64], inside: CrossSection) -> Iterator[tuple[NDArray[np.float64], bool]]:
    """Yield the stretches of a closed line that lie inside an outline, resampled to 1 mm."""
    closed = np.vstack([line, line[:1]])
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0.0, steps[-1], int(steps[-1]), endpoint=False)
    samples = np.stack([np.interp(at, steps, closed[:, k]) for k in (0, 1)], axis=1)
    within = is_inside(samples, inside)
    if within.all():
        yield samples, True
    elif within.any():
        start = int(np.argmin(within))
        samples, within = np.roll(samples, -start, axis=0), np.roll(within, -start)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], within.astype(int), [0]])))
        for first, last in edges.reshape(-1, 2):
            yield samples[first:last], False


def is_inside(points: NDArray[np.float64], outline: CrossSection) -> NDArray[np.bool_]:
    """Say for each (x, y) whether it lies inside an outline (even-odd rule over all its contours)."""
    inside = np.zeros(len(points), dtype=bool)
    for contour in outline.to_polygons():
        a = np.asarray(contour)
        b = np.roll(a, -1, axis=0)
        for (x0, y0), (x1, y1) in zip(a, b, strict=True):
            if y0 == y1:
                continue
            spans = (y0 > points[:, 1]) != (y1 > points[:, 1])
            inside ^= spans & (points[:, 0] < x0 + (points[:, 1] - y0) * (x1 - x0) / (y1 - y0))
    return inside


def _spread_mm(length: int, is_closed: bool, pitch_mm: float) -> list[int]:
    """Return even places along a run of `length` mm."""
    if is_closed:
        count = max(3, round(length / pitch_mm))
        return [round(length * (k + 0.5) / count) for k in range(count)]
    usable = length - 2.0 * _END_MM
    if usable < 0.0:
        return [length // 2] if length > 56 else []
    count = max(1, round(usable / pitch_mm)) + 1
    if usable < 40.0:
        return [length // 2]
    return [round(_END_MM + usable * k / (count - 1)) for k in range(count)]


def _free_place(
    cut: Cut, run: NDArray[np.float64], wanted: int, is_closed: bool, is_free: Callable[[Manifold], bool]
) -> Place | None:
    """Return the nearest place along the run at which tool and nut have room, or None."""
    sides = {"front": (False,), "back": (True,), "loose behind": (True,), "loose": (False, True)}[cut.nuts]
    for slide in _SLIDE_MM:
        index = int(wanted + slide)
        if not is_closed and not 24 <= index < len(run) - 24:
            continue
        x, y = run[index % len(run)]
        for head_in_front in sides:
            if all(is_free(room) for room in tool_rooms(cut.plane, (x, y), cut.bolting, head_in_front)):
                return Place(at=(float(x), float(y)), head_in_front=head_in_front)
    return None


def tool_rooms(plane: Plane, at: tuple[float, float], bolting: Bolting, head_in_front: bool) -> list[Manifold]:
    """Return the room that a socket needs on the head and a hand or spanner on the nut."""
    # The seat itself is left out by a hair, or touching faces would count as meeting.
    seat = bolting.thick_mm + 0.05
    head = circle(bolting.socket_mm / 2.0 + 0.5, at, 24)
    nut = circle(bolting.flats_mm / np.sqrt(3.0) + 1.0, at, 24)
    sign = 1.0 if head_in_front else -1.0
    return [
        plane.prism(outline, *sorted((side * seat, side * (seat + length))))
        for outline, side, length in ((head, sign, _TOOL_MM), (nut, -sign, _NUT_ROOM_MM))
    ]


def drill(cut: Cut, at: tuple[float, float], below_mm: float) -> Manifold:
    """Return the clearance hole through both sides of a cut, `below_mm` deep behind the plane."""
    return cut.plane.prism(circle(cut.bolting.hole_mm / 2.0, at), -below_mm - 1.0, cut.bolting.thick_mm + 1.0)


def nut_pocket(plane: Plane, at: tuple[float, float], bolting: Bolting, in_front: bool) -> Manifold:
    """Return the hexagonal pocket that keeps a captive nut from turning, sunk into the flange's open face."""
    hexagon = CrossSection.circle(bolting.flats_mm / np.sqrt(3.0), 6).translate(at)
    top, floor = bolting.thick_mm + 1.0, bolting.thick_mm - bolting.pocket_mm
    return plane.prism(hexagon, *((floor, top) if in_front else (-top, -floor)))
