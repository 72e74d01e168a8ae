"""The main picture of a step.

In: a studio, a step, the view chosen for it. Out: a `Picture`: raster of surfaces and lines, and over it real text,
leaders, bolt axes and the arrow of the movement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.callouts import Callout, Label, crosses, drawn, overlaps, placed
from assembler.drawing.camera import Camera, framed, unit
from assembler.drawing.explode import Hung
from assembler.drawing.keyfigure import key_figure
from assembler.drawing.linework import Hatch, drawing
from assembler.drawing.mating import marked
from assembler.drawing.overlay import Point
from assembler.drawing.raster import Buffers
from assembler.drawing.scenes import Role
from assembler.drawing.spots import closed, drawn_box, faded, inner_spot
from assembler.drawing.stage import Stage
from assembler.drawing.studio import Studio
from assembler.drawing.style import BOND_TINT, DRY_TINT, GREY, MAIN_MM, look_of, pixels, px
from assembler.drawing.viewpoints import Choice, mating_share, visible
from assembler.figure.pictures import Picture
from assembler.figure.plan import Step, View

MARGIN = (0.17, 0.07)
"""Free on the left and right for references, and above and below."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shot:
    """A picture being made: what was drawn and what the camera saw."""

    stage: Stage
    camera: Camera
    buffers: Buffers
    subject: tuple[float, float, float, float]


def step_picture(studio: Studio, stage: Stage, choice: Choice) -> Picture:
    """Main picture of a step, written to `step-<number>.png`."""
    step = stage.step
    width, height = pixels(MAIN_MM)
    camera = framed(stage.focus_mm, choice.eye, choice.up, width, height, margin=MARGIN)
    buffers = studio.rasteriser.draw(stage.items, camera)
    shot = Shot(stage=stage, camera=camera, buffers=buffers, subject=_subject_box(buffers, stage))
    raster = drawing(buffers, [look_of(item) for item in stage.items], camera.mm_per_px, _hatches(shot))
    if not stage.is_whole:
        raster = faded(raster, px(9.0))
    labels, legend = _labels(shot)
    callouts = placed(labels, shot.subject, width, height)
    key = key_figure(studio, step, choice.eye, raster, callouts)
    file = f"step-{step.number}.png"
    studio.save(key.raster, file)
    pieces = [
        _hidden_hardware(shot),
        _axis_lines(shot),
        _motion(shot, callouts),
        drawn(callouts),
        key.svg,
        _words(step, choice, key.left_px, height),
    ]
    return Picture(
        file=file,
        width_px=width,
        height_px=height,
        overlay_svg="".join(pieces),
        legend=legend,
        alt=_alt(step),
        view=View(
            eye=choice.eye,
            up=choice.up,
            explode_mm=round(stage.explode_mm, 1),
            new_visible=round(choice.shown.new, 3),
            mating_visible=round(mating_share(stage.subject(), camera, buffers), 3)
            if stage.maps
            else round(choice.shown.mating, 3),
            label_overlaps=overlaps(callouts, width, height),
            turned_deg=round(choice.changed_deg, 1),
        ),
    )


def _subject_box(buffers: Buffers, stage: Stage) -> tuple[float, float, float, float]:
    """Box of everything but the bench top, px."""
    is_body = np.array([False, *(item.role is not Role.GROUND for item in stage.items)])
    return drawn_box(is_body[buffers.ids])


def _hatches(shot: Shot) -> list[Hatch]:
    """Mating faces in sight: tinted and hatched where adhesive goes, hatched wider where none does."""
    found = []
    for index, area in enumerate(shot.stage.maps):
        mask = np.zeros(shot.buffers.ids.shape, dtype=np.bool_)
        for part in area.joint.parts:
            mask |= marked(shot.buffers, shot.camera, list(shot.stage.items), area, part)
        mask = closed(mask)
        bonded = area.joint.method.is_bonded
        found.append(
            Hatch(
                mask=mask,
                tint=BOND_TINT if bonded else DRY_TINT,
                angle_deg=45.0 if index % 2 == 0 else -45.0,
                spacing_mm=1.5 if bonded else 2.6,
            )
        )
    return found


def _labels(shot: Shot) -> tuple[list[Label], tuple[tuple[str, str], ...]]:
    """References of parts, then of hardware and adhesive by number, with what they stand for."""
    stage, step = shot.stage, shot.stage.step
    labels: list[Label] = []
    legend: list[tuple[str, str]] = []
    for number, item in enumerate(stage.items, start=1):
        if item.role in (Role.NEW, Role.NEIGHBOUR):
            spot = inner_spot(shot.buffers.ids == number)
            if spot is not None:
                labels.append(Label(text=item.name, anchor=spot, heavy=item.role is Role.NEW))
                legend.append((item.name, item.name))
    reference = 1
    for kind, name in _hardware_kinds(step):
        anchor = _hardware_spot(shot, kind)
        if anchor is not None:
            labels.append(Label(text=str(reference), anchor=anchor))
        legend.append((str(reference), name))
        reference += 1
    return labels, tuple(legend)


def _hardware_kinds(step: Step) -> list[tuple[str, str]]:
    """Kinds of hardware of a step, each designation once: screws, washers, nuts."""
    order = {"screw": 0, "washer": 1, "nut": 2}
    seen = {(order.get(line.kind, 3), line.item): line.kind for line in step.hardware}
    return [(kind, item) for (_, item), kind in sorted(seen.items())]


def _hardware_spot(shot: Shot, kind: str) -> Point | None:
    """Point on the piece of this kind that is seen best; a hidden one if none is seen."""
    pieces = [piece for piece in shot.stage.hung if piece.kind == kind]
    if not pieces:
        return None
    middles = np.array([piece.middle_mm for piece in pieces])
    where = shot.camera.project(middles)
    middle = (shot.subject[0] + shot.subject[2]) / 2.0
    counts = [_count(shot, piece) for piece in pieces]
    best = max(range(len(pieces)), key=lambda i: (counts[i], abs(where[i, 0] - middle), -i))
    return (float(where[best, 0]), float(where[best, 1]))


def _count(shot: Shot, piece: Hung) -> int:
    number = shot.stage.items.index(piece.item) + 1
    return int((shot.buffers.ids == number).sum())


def _hidden_hardware(shot: Shot) -> str:
    """Outlines of screws and nuts that something covers, as hidden lines."""
    pieces = []
    for piece in shot.stage.hung:
        if piece.kind == "washer":
            continue
        outline = _outline(shot, piece)
        whole = _area(outline)
        if whole > 0.0 and _count(shot, piece) < 0.4 * whole:
            pieces.append(overlay.polyline([*outline, outline[0]], 0.18, GREY, overlay.HIDDEN_DASHES_MM))
    return "".join(pieces)


def _outline(shot: Shot, piece: Hung) -> list[Point]:
    """Box of a piece as the picture shows it, as a convex outline."""
    where = shot.camera.project(_piece_corners(piece))[:, :2]
    return _hull(where)


def _piece_corners(piece: Hung) -> NDArray[np.float64]:
    stack = piece.axis.stack
    size = float(stack.size[1:])
    if piece.kind == "screw":
        rings = [
            (size / 2.0, -stack.length_mm),
            (size / 2.0, 0.0),
            (stack.head_outer_mm / 2.0, 0.0),
            (stack.head_outer_mm / 2.0, stack.head_mm),
        ]
    else:
        radius = stack.nut_across_flats_mm / np.sqrt(3.0)
        rings = [(radius, 0.0), (radius, stack.nut_mm)]
    angles = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    points = np.array([[r * np.cos(a), r * np.sin(a), z] for r, z in rings for a in angles])
    return piece.item.placed(points)


def _hull(points: NDArray[np.float64]) -> list[Point]:
    """Convex hull, counter-clockwise in pixel axes."""
    ordered = sorted({(round(float(x), 2), round(float(y), 2)) for x, y in points})

    def half(sequence: list[Point]) -> list[Point]:
        chain: list[Point] = []
        for point in sequence:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= 0.0:
                chain.pop()
            chain.append(point)
        return chain[:-1]

    return half(ordered) + half(ordered[::-1])


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _area(outline: list[Point]) -> float:
    closed = [*outline, outline[0]] if outline else []
    return abs(sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(closed, closed[1:], strict=False))) / 2.0


def _axis_lines(shot: Shot) -> str:
    """Bolt axes as narrow long-dash dot lines, interrupted where a body covers them."""
    lines = []
    for axis in shot.stage.axes:
        pieces = [piece for piece in shot.stage.hung if piece.axis is axis]
        middles = np.array([piece.middle_mm for piece in pieces])
        along = middles @ unit(axis.bolt.axis)
        across = middles - np.outer(along, unit(axis.bolt.axis))
        # Pieces of one bolt lie on two lines where the part slides across the axis.
        for group in _groups(across):
            order = sorted(group, key=lambda i: (float(along[i]), i))
            first, last = middles[order[0]], middles[order[-1]]
            lines += _runs(shot, first, last)
    return "".join(lines)


def _groups(across: NDArray[np.float64]) -> list[list[int]]:
    groups: list[list[int]] = []
    for index, place in enumerate(across):
        home = next((g for g in groups if float(np.linalg.norm(across[g[0]] - place)) < 0.5), None)
        if home is None:
            groups.append([index])
        else:
            home.append(index)
    return groups


def _runs(shot: Shot, first: NDArray[np.float64], last: NDArray[np.float64]) -> list[str]:
    """Visible runs of a line in space, lengthened by 8 mm at both ends."""
    way = unit(last - first)
    first, last = first - way * 8.0, last + way * 8.0
    where = shot.camera.project(np.vstack([first, last]))
    steps = max(int(np.hypot(*(where[1, :2] - where[0, :2])) / 3.0), 2)
    share = np.linspace(0.0, 1.0, steps)[:, None]
    points = first * (1.0 - share) + last * share
    seen = visible(shot.buffers, shot.camera, points)
    flat = shot.camera.project(points)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], seen.astype(np.int8), [0]])))
    runs = []
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if end - begin > 2:
            a, b = flat[begin], flat[end - 1]
            runs.append(
                overlay.line(
                    (float(a[0]), float(a[1])), (float(b[0]), float(b[1])), 0.2, dashes_mm=overlay.AXIS_DASHES_MM
                )
            )
    return runs


def _motion(shot: Shot, callouts: Sequence[Callout]) -> str:
    """Trails from the new part's mating face to where it goes, and the arrow of the movement, all at true length."""
    stage = shot.stage
    if stage.explode_mm <= 0.0:
        return ""
    centre = np.asarray(shot.camera.centre_mm)
    ends = shot.camera.project(np.vstack([centre, centre - np.asarray(stage.shift_mm)]))
    way = ends[1, :2] - ends[0, :2]
    length = float(np.hypot(*way))
    points = _leaving_points(shot)
    if length < px(4.0) or not len(points):
        return ""
    unit_way = way / length
    across = points @ np.array([-unit_way[1], unit_way[0]])
    corners = [points[int(np.argmin(across))], points[int(np.argmax(across))]]
    trails = [
        overlay.line(_point(corner), _point(corner + way), 0.2, GREY, overlay.PATH_DASHES_MM) for corner in corners
    ]
    start = _beside(shot, corners, unit_way, length, callouts)
    end = start + way
    return (
        "".join(trails)
        + overlay.arrow(_point(start), _point(end), 1.3, 5.2, "#ffffff")
        + overlay.arrow(_point(start), _point(end), 0.7, 4.6)
    )


def _point(pair: NDArray[np.float64]) -> Point:
    return (float(pair[0]), float(pair[1]))


def _leaving_points(shot: Shot) -> NDArray[np.float64]:
    """Where the mating faces of the new part are in the picture, (n, 2) px; its whole outline if it mates nothing."""
    shift = np.asarray(shot.stage.shift_mm)
    faces = [shot.camera.project(found.points_mm + shift)[:, :2] for found in shot.stage.maps]
    if faces:
        return np.vstack(faces)
    numbers = [n for n, item in enumerate(shot.stage.items, start=1) if item.role is Role.NEW]
    rows, columns = np.nonzero(np.isin(shot.buffers.ids, numbers)[::4, ::4])
    outline: NDArray[np.float64] = np.column_stack([columns, rows]) * np.float64(4.0)
    return outline


def _beside(
    shot: Shot,
    corners: Sequence[NDArray[np.float64]],
    way: NDArray[np.float64],
    length: float,
    callouts: Sequence[Callout],
) -> NDArray[np.float64]:
    """Start of the arrow: next to one of the trails, where it covers least and crosses no leader."""
    side = np.array([-way[1], way[0]])
    options: list[tuple[float, int, float, float, NDArray[np.float64]]] = []
    for order, (corner, outwards) in enumerate(zip(corners, (-1.0, 1.0), strict=True)):
        for gap_mm in (4.0, 7.0, 11.0, 16.0):
            for back in (0.0, 0.35, 0.7):
                start = corner + side * outwards * px(gap_mm) - way * back * length
                end = start + way * length
                leaders = sum(crosses(_point(start), _point(end), one.foot, one.label.anchor) for one in callouts)
                cost = _covered(shot, start, way, length) + 40.0 * leaders + 0.4 * gap_mm + 3.0 * back
                options.append((round(cost, 3), order, gap_mm, back, start))
    best: NDArray[np.float64] = min(options, key=lambda option: option[:4])[4]
    return best


def _covered(shot: Shot, start: NDArray[np.float64], way: NDArray[np.float64], length: float) -> float:
    """How much of the drawing an arrow would lie on, and whether it leaves the picture."""
    height, width = shot.buffers.ids.shape
    points = start + np.linspace(0.0, 1.0, 40)[:, None] * way * length
    inside = (points[:, 0] > 8) & (points[:, 0] < width - 8) & (points[:, 1] > 8) & (points[:, 1] < height - 8)
    column, row = np.clip(points[:, 0], 0, width - 1).astype(int), np.clip(points[:, 1], 0, height - 1).astype(int)
    grounds = [n for n, item in enumerate(shot.stage.items, start=1) if item.role is Role.GROUND]
    ids = shot.buffers.ids[row, column]
    return float(((ids > 0) & ~np.isin(ids, grounds)).mean() * 40.0 + (~inside).mean() * 400.0)


def _words(step: Step, choice: Choice, left: float, height: int) -> str:
    """What the picture cannot show: that the work was turned, that the view changed."""
    lines = []
    up = unit(step.up)
    if float(up[2]) < 0.99:
        lines.append(f"Turned: {_lying(step.up)}.")
    if choice.changed_deg > 1.0:
        lines.append(f"View turned by {choice.changed_deg:.0f}\u00b0 against the step before on this bench.")
    pieces = []
    for index, text in enumerate(reversed(lines)):
        pieces.append(overlay.words((left, height - px(2.5) - index * px(4.2)), text, 3.0))
    return "".join(pieces)


def _lying(up: tuple[float, float, float]) -> str:
    """How the work lies, in words, from what is up on the bench."""
    names = {
        (0, 1): "the back is up",
        (0, -1): "the front is up",
        (1, 1): "the figure's left-hand side is up",
        (1, -1): "the figure's right-hand side is up",
    }
    if up[2] < -0.9:
        return "upside down"
    axis = 0 if abs(up[1]) >= abs(up[0]) else 1
    value = up[1] if axis == 0 else up[0]
    return names[(axis, 1 if value > 0 else -1)]


def _alt(step: Step) -> str:
    new = ", ".join(step.moves)
    if not step.moves:
        return f"Step {step.number}: {step.title}."
    if not step.onto:
        return f"Step {step.number}: {new} stands alone on the bench."
    return (
        f"Step {step.number}: {new} shown apart from what stands, moved back along its path, with bolts on their axes."
    )
