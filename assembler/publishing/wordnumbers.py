"""Which gaps in the catalogue of words hold numbers, and of which kind: a number in words has a provenance too.

A test walks the catalogue: a gap that is neither a name nor listed here fails it, and so does a figure that stands in
the words themselves.
"""

from __future__ import annotations

from collections.abc import Mapping

NAMES = frozenset(
    [
        "about",
        "after",
        "alt",
        "before",
        "bench",
        "benches",
        "changed",
        "corrosion",
        "figure",
        "first",
        "gone",
        "joint",
        "joints",
        "last",
        "level",
        "line",
        "locking",
        "message",
        "motion",
        "name",
        "names",
        "new",
        "number",
        "numbers",
        "onto",
        "others",
        "part",
        "parts",
        "reason",
        "revision",
        "route",
        "rules",
        "same",
        "second",
        "since",
        "span",
        "spacer",
        "standard",
        "step",
        "steps",
        "title",
        "tool",
        "way",
        "what",
        "asks",
        "bolts",
        "doses",
        "section",
        "word",
    ]
)
"""Gaps that hold names, ids, words, places in the book, or counts of such."""

_HARDWARE = "pieces of hardware"
_MASS = "volumes, masses and centres"
_ORDERS = "numbers in orders and checks"
_PUSH = "pushes by wind and people, safety against overturning"
_ROAD = "forces on the road"
_SHEET = "data sheet of the adhesive"
_SHOP = "what else the shop states"
_SPARES = "spares and packs"
_TIMES = "open time, working life, fixture, handling, full cure"
_WORK = "time to close a joint, working time of a step"
_CALENDAR = "start, end and total time"

KINDS: Mapping[str, str] = {
    "angle": _ORDERS,
    "area": "areas, seams and gaps of joints",
    "aside": _MASS,
    "count": _HARDWARE,
    "day": _CALENDAR,
    "drag": _PUSH,
    "end": _SHOP,
    "force": _PUSH,
    "forward": _ROAD,
    "friction": _PUSH,
    "grip": "holes, grips and places of bolts",
    "height": _MASS,
    "hole": "holes, grips and places of bolts",
    "hours": _ORDERS,
    "lift": _MASS,
    "mass": _MASS,
    "most": _ORDERS,
    "needed": _WORK,
    "night": "temperatures",
    "open": _TIMES,
    "people": "people for a lift",
    "percent": _SPARES,
    "reach": "reach of a hand",
    "rear": _ROAD,
    "rise": _MASS,
    "side": _ROAD,
    "speed": _PUSH,
    "start": _SHOP,
    "tip": "tip angle",
    "tips": _ROAD,
    "volume": "amount of adhesive",
}
"""Kinds of gaps that hold the same everywhere."""

BY_KEY: Mapping[tuple[str, str], str] = {
    ("adhesive.range_value", "high"): "temperatures",
    ("adhesive.range_value", "low"): "temperatures",
    ("base.anchors_value", "size"): _SHOP,
    ("before.temperature_value", "shop"): "temperatures",
    ("before.temperature_value", "site"): "temperatures",
    ("changes.less", "time"): _WORK,
    ("changes.more", "time"): _WORK,
    ("card.glue", "amount"): "amount of adhesive",
    ("card.glue", "time"): _TIMES,
    ("card.torque", "torque"): "tightening torque",
    ("check.seam", "seam"): _SHOP,
    ("days.shorter_lead", "days"): _CALENDAR,
    ("days.shorter_value", "built"): _CALENDAR,
    ("days.shorter_value", "days"): _CALENDAR,
    ("days.shorter_value", "finished"): _CALENDAR,
    ("days.within", "percent"): _CALENDAR,
    ("contact.area", "seam"): "areas, seams and gaps of joints",
    ("cover.logo", "shop"): _SHOP,
    ("glue.recheck", "time"): _TIMES,
    ("hardware.spares", "least"): _SPARES,
    ("labels.torque", "torque"): "tightening torque",
    ("push.how", "asked"): _PUSH,
    ("ring.alt", "time"): _TIMES,
    ("road.stands", "asked"): _ROAD,
    ("road.tips", "asked"): _ROAD,
    ("step.hold", "time"): _TIMES,
    ("bonding.free_clock", "closed"): _TIMES,
    ("bonding.free_clock", "free"): _TIMES,
    ("tighten.low", "least"): _ORDERS,
    ("tools.range", "high"): "tightening torque",
    ("tools.range", "low"): "tightening torque",
}
"""Kinds of gaps that hold one thing here and another there."""

FIGURES: Mapping[str, str] = {
    "before.days_value.one": _CALENDAR,
    "cell.people.one": "people for a lift",
    "cover.verdict.stop.one": _HARDWARE,
    "engineer.people.one": "people for a lift",
    "hardware.estimate": "filler, primer, coats and waits",
    "parts.total.one": _HARDWARE,
    "road.forces": _ROAD,
}
"""Kinds of figures that stand in the words themselves."""


def kind_of_gap(key: str, gap: str) -> str:
    """Title of the kind of number that a gap holds; empty for a name.

    Raises
    ------
    KeyError
        If nobody has said what the gap holds.
    """
    if (key, gap) in BY_KEY:
        return BY_KEY[key, gap]
    return "" if gap in NAMES else KINDS[gap]
