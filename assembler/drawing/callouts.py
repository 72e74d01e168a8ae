"""Item references: where they stand so that none covers another, no leader crosses a label and no two leaders cross.

In: anchors in the picture and what stands there. Out: placed `Callout`s and their SVG. References stand in columns left
and right of the subject, in the order of their anchors, as ISO 6433 asks (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assembler.drawing import overlay
from assembler.drawing.camera import Point
from assembler.drawing.overlay import text_width
from assembler.drawing.style import BLACK, REFERENCE_MM, px


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A reference to be placed.

    Parameters
    ----------
    text
        As printed ('P07', '3').
    anchor
        Point on the subject, px.
    heavy
        Drawn with a heavier circle: what is new.
    size_mm
        Height of its letters.
    mark
        Printed behind the text: what a re-cut changed ('cut again').
    """

    text: str
    anchor: Point
    heavy: bool = False
    size_mm: float = REFERENCE_MM
    mark: str = ""

    @property
    def printed(self) -> str:
        """Text and mark."""
        return f"{self.text} {self.mark}" if self.mark else self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """A reference in its place.

    Parameters
    ----------
    label
        What it says.
    centre
        Middle of the circle (or of the long round box of a long name), px.
    half_width, half_height
        Of the box round it, px.
    """

    label: Label
    centre: Point
    half_width: float
    half_height: float

    @property
    def foot(self) -> Point:
        """Where the leader leaves the box: the middle of the side towards the anchor."""
        side = 1.0 if self.label.anchor[0] >= self.centre[0] else -1.0
        return (self.centre[0] + side * self.half_width, self.centre[1])


def box_of(text: str, size_mm: float = REFERENCE_MM) -> tuple[float, float]:
    """Half width and half height of the box that holds a reference, px."""
    half_height = px(size_mm) * 0.92
    half_width = text_width(text, px(size_mm), bold=True) / 2.0 + px(1.1)
    return max(half_width, half_height), half_height


def placed(
    labels: Sequence[Label], subject: tuple[float, float, float, float], width: float, height: float
) -> tuple[Callout, ...]:
    """References in columns beside the subject.

    Parameters
    ----------
    labels
        What to place; equal texts are placed once each.
    subject
        Box of the subject: left, top, right, bottom, px.
    width, height
        Of the picture, px.

    Returns
    -------
    tuple of Callout
        Left column first, each from top to bottom.
    """
    middle = (subject[0] + subject[2]) / 2.0
    ordered = sorted(labels, key=lambda one: (one.anchor[0], one.anchor[1], one.text))
    left = [one for one in ordered if one.anchor[0] < middle]
    right = [one for one in ordered if one.anchor[0] >= middle]
    tallest = max((box_of("P00", one.size_mm)[1] for one in labels), default=1.0)
    capacity = max(int(height / (2.0 * tallest + px(0.4))), 1)
    while len(left) > capacity or len(left) > len(right) + 4:
        right.insert(0, left.pop())
    while len(right) > capacity or len(right) > len(left) + 4:
        left.append(right.pop(0))
    return (
        *_column(left, subject, width, height, left_side=True),
        *_column(right, subject, width, height, left_side=False),
    )


def _column(
    labels: Sequence[Label], subject: tuple[float, float, float, float], width: float, height: float, *, left_side: bool
) -> list[Callout]:
    """One column, spread so that boxes do not touch and leaders do not cross."""
    if not labels:
        return []
    boxes = {one.text: box_of(one.printed, one.size_mm) for one in labels}
    widest = 2.0 * max(half for half, _ in boxes.values())
    # All leaders of a column start at the same x, the boxes lie behind it: then no leader can meet a box of its column.
    if left_side:
        edge, way = max(subject[0] - px(9.0), widest + 2.0), -1.0
    else:
        edge, way = min(subject[2] + px(9.0), width - widest - 2.0), 1.0
    ordered = sorted(labels, key=lambda one: (one.anchor[1], one.anchor[0], one.text))
    tall = 2.0 * boxes[ordered[0].text][1] + px(1.6)
    heights = _spread([one.anchor[1] for one in ordered], tall, tall / 2.0, height - tall / 2.0)
    ordered = _uncrossed(ordered, heights, edge)
    return [
        Callout(
            label=one,
            centre=(edge + way * boxes[one.text][0], y),
            half_width=boxes[one.text][0],
            half_height=boxes[one.text][1],
        )
        for one, y in zip(ordered, heights, strict=True)
    ]


def _spread(wanted: Sequence[float], spacing: float, low: float, high: float) -> list[float]:
    """Ascending places at least `spacing` apart, near the wanted ones, inside [low, high] as far as there is room."""
    spacing = min(spacing, (high - low) / max(len(wanted) - 1, 1))
    places = [max(w, low) for w in wanted]
    clusters: list[list[float]] = []
    for place in places:
        clusters.append([place, 1.0])
        while len(clusters) > 1 and _bottom(clusters[-2], spacing) + spacing > _top(clusters[-1], spacing):
            centre, count = clusters.pop()
            before, many = clusters[-1]
            clusters[-1] = [(centre * count + before * many) / (count + many), count + many]
            clusters[-1][0] = _inside(clusters[-1], spacing, low, high)
        clusters[-1][0] = _inside(clusters[-1], spacing, low, high)
    result: list[float] = []
    for cluster in clusters:
        top = _top(cluster, spacing)
        result += [top + spacing * step for step in range(round(cluster[1]))]
    return result


def _top(cluster: Sequence[float], spacing: float) -> float:
    return cluster[0] - spacing * (cluster[1] - 1.0) / 2.0


def _bottom(cluster: Sequence[float], spacing: float) -> float:
    return cluster[0] + spacing * (cluster[1] - 1.0) / 2.0


def _inside(cluster: Sequence[float], spacing: float, low: float, high: float) -> float:
    half = spacing * (cluster[1] - 1.0) / 2.0
    return min(max(cluster[0], low + half), max(high - half, low + half))


def _uncrossed(labels: Sequence[Label], heights: Sequence[float], x: float) -> list[Label]:
    """The same places, labels swapped until no two leaders cross; each swap shortens the leaders, so it ends."""
    order = list(labels)
    is_settled = False
    while not is_settled:
        is_settled = True
        for i in range(len(order)):
            for j in range(i + 1, len(order)):
                if crosses((x, heights[i]), order[i].anchor, (x, heights[j]), order[j].anchor):
                    order[i], order[j] = order[j], order[i]
                    is_settled = False
    return order


def crosses(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether the segments ab and cd cross within both."""

    def turn(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return turn(a, b, c) * turn(a, b, d) < 0.0 and turn(c, d, a) * turn(c, d, b) < 0.0


def overlaps(callouts: Sequence[Callout], width: float, height: float) -> int:
    """Faults of a placement: boxes that overlap, leaders through other boxes or across each other, boxes outside."""
    faults = 0
    for index, one in enumerate(callouts):
        x, y = one.centre
        outside = (
            x - one.half_width < 0
            or y - one.half_height < 0
            or x + one.half_width > width
            or y + one.half_height > height
        )
        faults += int(outside)
        for other in callouts[index + 1 :]:
            apart = (
                abs(x - other.centre[0]) >= one.half_width + other.half_width
                or abs(y - other.centre[1]) >= one.half_height + other.half_height
            )
            faults += int(not apart)
            faults += int(crosses(one.foot, one.label.anchor, other.foot, other.label.anchor))
            faults += int(_pierces(one, other)) + int(_pierces(other, one))
    return faults


def _pierces(one: Callout, other: Callout) -> bool:
    """Whether the leader of `one` runs through the box of `other`."""
    x, y = other.centre
    w, h = other.half_width, other.half_height
    corners = ((x - w, y - h), (x + w, y + h)), ((x - w, y + h), (x + w, y - h))
    return any(crosses(one.foot, one.label.anchor, a, b) for a, b in corners)


def drawn(callouts: Sequence[Callout]) -> str:
    """SVG: leaders first, each ending in a dot on its subject, then the references."""
    pieces = []
    for one in callouts:
        pieces.append(overlay.line(one.foot, one.label.anchor, 0.5, "#ffffff"))
        pieces.append(overlay.line(one.foot, one.label.anchor, 0.25))
        pieces.append(overlay.circle(one.label.anchor, px(0.55), BLACK, "#ffffff", 0.12))
    for one in callouts:
        width = 0.5 if one.label.heavy else 0.25
        x, y = one.centre
        corner = (x - one.half_width, y - one.half_height)
        pieces.append(
            overlay.rectangle(corner, 2 * one.half_width, 2 * one.half_height, "#ffffff", BLACK, width, one.half_height)
        )
        base = (x, y + px(one.label.size_mm) * 0.36)
        pieces.append(overlay.words(base, one.label.printed, one.label.size_mm, "middle", bold=one.label.heavy))
    return "".join(pieces)
