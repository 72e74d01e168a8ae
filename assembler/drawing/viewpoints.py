"""Which view of a step to take: candidates measured on small id buffers, the last view kept while it serves.

In: the items of a picture, their joints and bolt axes, the last view on the same bench. Out: a `Choice` with what it
shows. Candidates stand where a worker can stand: round the bench, at or above the height of the work.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import Camera, direction, framed, unit
from assembler.drawing.mating import MatingMap, marked, shown_share
from assembler.drawing.raster import Buffers, Rasteriser
from assembler.drawing.scenes import Item, Role
from assembler.figure.parts import Vector
from assembler.figure.plan import View

Floats = NDArray[np.float64]

LOW_PX = (240, 180)
AZIMUTHS_DEG = tuple(30.0 * step for step in range(12))
ELEVATIONS_DEG = (14.0, 30.0, 52.0)
HABIT_DEG = (30.0, 22.0)
"""Where the first picture is taken from if nothing speaks against it."""

ENOUGH_NEW, ENOUGH_MATING = 0.65, 0.55
"""Shares of the new part and of the mating faces that a view has to show: the bars are 0.6 and 0.5, and small buffers
measure to about 0.02."""
GAIN = 0.30
"""A view is only given up for one that scores this much better."""
ABOUT = 0.05
"""A view of an issued book may show this much less than it did: small buffers measure to 0.02, and the parts of a joint
may stand a little closer."""
ENOUGH_PATH = 0.3
"""Sine of the angle to the movement above which an issued view still tells where a part comes from."""
ROUNDED = 1e-5
"""Views in plans are rounded to six digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What a view shows, shares from 0 to 1.

    Parameters
    ----------
    new, mating
        Of the new part's silhouette; of the mating faces, the better side of each joint.
    goal
        Of the mating faces that stand and wait: where the new part goes.
    axes
        Of the bolt axes.
    path
        Sine of the angle between the view and the movement.
    """

    new: float
    mating: float
    goal: float
    axes: float
    path: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A view and what it shows.

    Parameters
    ----------
    eye, up, shown
        Where from, and what is seen.
    changed_deg
        Angle to the last view on the bench.
    explode_mm
        Way that the new parts have still to go in the picture, once it is measured; None before.
    """

    eye: Vector
    up: Vector
    shown: Shown
    changed_deg: float
    explode_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What a view has to show.

    Parameters
    ----------
    items
        Everything in the picture.
    focus_mm : (n, 3) float64
        Points the frame has to hold.
    maps
        Mating faces of the joints that the step closes.
    axes_mm : (k, 3) float64
        Points along bolt axes.
    motion
        Unit vector of the movement, or None.
    up
        What is up on the bench.
    """

    items: tuple[Item, ...]
    focus_mm: Floats
    maps: Sequence[MatingMap]
    axes_mm: Floats
    motion: Vector | None
    up: Vector


def choose(subject: Subject, measure: Callable[[Vector], Shown], previous: tuple[Vector, Vector] | None) -> Choice:
    """The view to take.

    Parameters
    ----------
    subject
        What to show.
    measure
        What the view of an eye shows.
    previous
        Eye and up of the last picture on this bench; None for the first.
    """
    kept = None
    if previous is not None and float(unit(previous[1]) @ unit(subject.up)) > 0.99:
        shown = measure(previous[0])
        kept = Choice(eye=previous[0], up=subject.up, shown=shown, changed_deg=0.0)
        # Where nothing mates, all of it counts as seen.
        if shown.new >= ENOUGH_NEW and shown.mating >= ENOUGH_MATING:
            return kept
    home = np.asarray(previous[0]) if kept is not None and previous is not None else direction(*HABIT_DEG, subject.up)
    best: Choice | None = None
    best_score = -np.inf
    for most, eye in _by_promise(subject, home):
        if most <= best_score:
            break
        shown = measure(eye)
        score = _score(shown, eye, home, subject)
        if score > best_score + 1e-9:
            turned = _angle_deg(eye, previous[0]) if previous is not None else 0.0
            best, best_score = Choice(eye=eye, up=subject.up, shown=shown, changed_deg=turned), score
    assert best is not None
    if kept is not None and best_score < _score(kept.shown, kept.eye, home, subject) + GAIN:
        return kept
    return best


def issued_eye(issued: View, up: Vector, before: tuple[Vector, Vector] | None) -> Vector | None:
    """The eye of a view that a book was issued with; None if the work lay differently then.

    Parameters
    ----------
    issued
        As the book's plan says it: rounded, so the eye it was rounded from is looked for.
    up
        What is up on the bench now.
    before
        Eye and up of the step before on this bench, which a step often shares.
    """
    if float(unit(issued.up) @ unit(up)) < 1.0 - ROUNDED:
        return None
    likely = [*([before[0]] if before else []), *_candidates(up)]
    return next((eye for eye in likely if np.abs(np.subtract(eye, issued.eye)).max() <= ROUNDED), issued.eye)


def from_eye(eye: Vector, shown: Shown, subject: Subject, before: tuple[Vector, Vector] | None) -> Choice:
    """The choice of an eye after a step on the same bench."""
    turned = _angle_deg(eye, before[0]) if before is not None and before[0] != eye else 0.0
    return Choice(eye=eye, up=subject.up, shown=shown, changed_deg=turned)


def serves(shown: Shown, issued: View) -> bool:
    """Whether a view that a crew knows shows what it has to, or about as much as when it was issued."""
    return (
        shown.new >= min(ENOUGH_NEW, issued.new_visible - ABOUT)
        and shown.mating >= min(ENOUGH_MATING, issued.mating_searched - ABOUT)
        and shown.path >= ENOUGH_PATH
    )


def _by_promise(subject: Subject, home: Floats) -> list[tuple[float, Vector]]:
    """Candidates with the most that each can score if nothing is hidden, the most promising first."""
    promised = []
    for eye in _candidates(subject.up):
        path = _path_share(subject, search_camera(subject, eye))
        shown = Shown(new=1.0, mating=1.0, goal=1.0, axes=1.0, path=path)
        promised.append((_score(shown, eye, home, subject), eye))
    return sorted(promised, key=lambda one: -one[0])


def search_camera(subject: Subject, eye: Vector) -> Camera:
    """Where a view is measured from."""
    return framed(subject.focus_mm, eye, subject.up, *LOW_PX)


def measured(subject: Subject, rasteriser: Rasteriser, eye: Vector) -> Shown:
    """What one view shows."""
    camera = search_camera(subject, eye)
    buffers = rasteriser.draw(subject.items, camera)
    return Shown(
        new=_new_share(subject, rasteriser, camera, buffers),
        mating=mating_share(subject, camera, buffers),
        goal=mating_share(subject, camera, buffers, is_goal=True),
        axes=float(visible(buffers, camera, subject.axes_mm).mean()) if len(subject.axes_mm) else 1.0,
        path=_path_share(subject, camera),
    )


def mating_share(subject: Subject, camera: Camera, buffers: Buffers, *, is_goal: bool = False) -> float:
    """Share of the mating faces in sight, weighted by area.

    Parameters
    ----------
    subject, camera, buffers
        The view.
    is_goal
        Count the side that stands and waits; otherwise the better side of each joint.
    """
    new = {item.name for item in subject.items if item.role is Role.NEW} if is_goal else set()
    total = sum(found.area_mm2 for found in subject.maps)
    if total <= 0.0:
        return 1.0 if not subject.maps else 0.0
    seen = 0.0
    for found in subject.maps:
        sides = [
            shown_share(int(marked(buffers, camera, list(subject.items), found, part).sum()), camera, found)
            for part in found.joint.parts
            if part not in new
        ]
        seen += max(sides, default=0.0) * found.area_mm2
    return seen / total


def visible(buffers: Buffers, camera: Camera, points_mm: Floats) -> NDArray[np.bool_]:
    """Whether nothing stands before a point, (n,); points outside the picture are not visible."""
    where = camera.project(points_mm)
    column = np.floor(where[:, 0]).astype(np.int64)
    row = np.floor(where[:, 1]).astype(np.int64)
    height, width = buffers.ids.shape
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    column, row = np.clip(column, 0, width - 1), np.clip(row, 0, height - 1)
    free: NDArray[np.bool_] = inside & (where[:, 2] >= buffers.near_mm[row, column] - 2.5 * camera.mm_per_px)
    return free


def _new_share(subject: Subject, rasteriser: Rasteriser, camera: Camera, buffers: Buffers) -> float:
    numbers = [number for number, item in enumerate(subject.items, start=1) if item.role is Role.NEW]
    if not numbers:
        return 1.0
    alone = rasteriser.draw([item for item in subject.items if item.role is Role.NEW], camera)
    whole = int((alone.ids > 0).sum())
    return int(np.isin(buffers.ids, numbers).sum()) / whole if whole else 0.0


def _path_share(subject: Subject, camera: Camera) -> float:
    if subject.motion is None:
        return 1.0
    along = float(camera.axes[2] @ unit(subject.motion))
    return float(np.sqrt(max(1.0 - along * along, 0.0)))


def _candidates(up: Vector) -> list[Vector]:
    found = []
    for elevation in ELEVATIONS_DEG:
        for azimuth in AZIMUTHS_DEG:
            x, y, z = (float(v) for v in direction(azimuth, elevation, up))
            found.append((x, y, z))
    return found


def _score(shown: Shown, eye: Vector, home: Floats, subject: Subject) -> float:
    height = float(unit(eye) @ unit(subject.up))
    return (
        1.2 * min(shown.new / 0.9, 1.0)
        + 1.2 * min(shown.mating / 0.8, 1.0)
        + 0.5 * min(shown.goal / 0.6, 1.0)
        + 0.4 * shown.axes
        + 0.5 * min(shown.path / 0.75, 1.0)
        + 0.45 * float(unit(eye) @ unit(home))
        - 0.3 * max(height - 0.55, 0.0)
    )


def _angle_deg(first: Vector, second: Vector) -> float:
    return float(np.degrees(np.arccos(np.clip(unit(first) @ unit(second), -1.0, 1.0))))
