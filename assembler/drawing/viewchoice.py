"""The view of each step: that of the book the crew holds while it serves, else the best of those round the bench.

In: a desk and a step. Out: a `Choice`. What views showed before is taken from the shelf where nothing that differs
stands in their way.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from assembler.drawing.desk import Desk
from assembler.drawing.parting import parted
from assembler.drawing.reuse import choice_of, choice_record, vector_of
from assembler.drawing.stage import Stage
from assembler.drawing.unseen import Standing, clear_views, standing
from assembler.drawing.viewpoints import (
    Choice,
    Gauge,
    Shown,
    Subject,
    choose,
    from_eye,
    issued_eye,
    search_camera,
    serves,
)
from assembler.figure.parts import Vector
from assembler.figure.plan import Step

Before = tuple[Vector, Vector] | None


def chosen_view(desk: Desk, step: Step, before: Before) -> Choice:
    """The view of a step, with the distance of its parts.

    Parameters
    ----------
    desk, step
        What is drawn.
    before
        Eye and up of the step before on the same bench; None for the first.
    """
    shelf, keys = desk.shelf, desk.keys
    issued = desk.order.issued.get(step.number)
    eye = issued_eye(issued, step.up, before) if issued else None
    key = keys.choice(step, before, eye)
    known = shelf.value(key)
    if known is None and eye is not None:
        # What was found without a book: in the same scene the issued view serves if it is the one.
        found = shelf.value(keys.choice(step, before, None))
        known = found if found and vector_of(found["eye"]) == eye else None
    if known is not None:
        return choice_of(known)
    near = keys.choice_near(step, before, eye)
    entry = shelf.value(near) or shelf.value(keys.choice_near(step, before, None))
    search = _Search.begun(desk, step, entry)
    choice = None
    if eye is not None and issued is not None:
        choice = search.finished(from_eye(eye, search.gauge(eye), search.gauge.subject, before))
        choice = choice if serves(choice.shown, issued) else None
    if choice is None:
        choice = search.finished(choose(search.gauge.subject, search.gauge, before))
    shelf.renew_value(near, search.record(choice))
    shelf.keep_value(key, choice_record(choice))
    return choice


@dataclass(frozen=True, slots=True, kw_only=True)
class _Search:
    """The search of one view.

    Parameters
    ----------
    desk
        Where it is searched.
    guess
        The scene, its parts at a first guess of the distance.
    stands
        The background.
    entry
        What the last search in this neighbourhood measured; None for the first.
    gauge
        Measures the scene.
    """

    desk: Desk
    guess: Stage
    stands: Standing
    entry: Mapping[str, Any] | None
    gauge: Gauge

    @classmethod
    def begun(cls, desk: Desk, step: Step, entry: Mapping[str, Any] | None) -> _Search:
        """A search with all that is known of the scene."""
        guess = desk.stage(step)
        stands = standing(desk.studio(), guess, desk.keys.solids, is_rough=True)
        gauge = _gauge(desk, guess, stands, entry["first"] if entry else None)
        return cls(desk=desk, guess=guess, stands=stands, entry=entry, gauge=gauge)

    def finished(self, choice: Choice) -> Choice:
        """A view with the distance of the parts: measured, or as it was where that cannot differ."""
        if self.entry and self.gauge.is_as_known:
            kept = choice_of(self.entry["choice"])
            stage = self.desk.stage(self.guess.step, kept.explode_mm)
            if kept.eye == choice.eye and _gauge(self.desk, stage, self.stands, self.entry["last"]).known:
                return kept
        return parted(self.desk.studio(), self.guess, choice)

    def record(self, choice: Choice) -> dict[str, Any]:
        """What the next search in this neighbourhood can use."""
        last = {choice.eye: choice.shown}
        subject = self.desk.stage(self.guess.step, choice.explode_mm).subject()
        return {
            "choice": choice_record(choice),
            "first": _measures(self.gauge.subject, self.gauge.asked, self.stands),
            "last": _measures(subject, last, self.stands),
        }


def _measures(subject: Subject, asked: Mapping[Vector, Shown], stands: Standing) -> dict[str, Any]:
    """What views of a subject before a background showed, as JSON values."""
    views = [(eye, asdict(search_camera(subject, eye)), asdict(shown)) for eye, shown in asked.items()]
    return {"stands": stands, "views": views}


def _gauge(desk: Desk, stage: Stage, stands: Standing, record: Mapping[str, Any] | None) -> Gauge:
    """Measures a scene; what views showed before is known where no difference in the background stands in the way."""
    studio, subject = desk.studio(), stage.subject()
    known: dict[Vector, Shown] = {}
    if record:
        eyes = [vector_of(eye) for eye, _, _ in record["views"]]
        cameras = [search_camera(subject, eye) for eye in eyes]
        clear = clear_views(studio, subject, record["stands"], stands, cameras)
        for eye, now, is_clear, (_, then, shown) in zip(eyes, cameras, clear, record["views"], strict=True):
            # JSON gives lists where a camera holds tuples.
            if is_clear and json.loads(json.dumps(asdict(now))) == then:
                known[eye] = Shown(**shown)
    return Gauge(subject=subject, rasteriser=studio.rasteriser, known=known)
