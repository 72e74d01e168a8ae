"""Which step of the new plan is which step of the old one? Told by what is done in it, not by its number."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from assembler.figure.plan import Step


@dataclass(frozen=True, slots=True, kw_only=True)
class StepKey:
    """What a step is about.

    Parameters
    ----------
    kind, bench, title, section
        As in `Step`.
    moves, joints
        Parts that move in; joints closed for good.
    """

    kind: str
    bench: str
    title: str
    section: str
    moves: frozenset[str]
    joints: frozenset[str]


def key_of_step(step: Step) -> StepKey:
    """What a planned step is about."""
    return StepKey(
        kind=step.kind.value,
        bench=step.bench,
        title=step.title,
        section=step.section,
        moves=frozenset(step.moves),
        joints=frozenset(step.joints),
    )


def key_of_record(record: Mapping[str, Any]) -> StepKey:
    """What a step of plan.json is about."""
    return StepKey(
        kind=record["kind"],
        bench=record["bench"],
        title=record["title"],
        section=record["section"],
        moves=frozenset(record["moves"]),
        joints=frozenset(record["joints"]),
    )


def _whole(key: StepKey) -> object:
    is_bare = not key.moves and not key.joints
    return (key.kind, key.bench, key.moves, key.joints, key.title if is_bare else "", key.section if is_bare else "")


def _without_bench(key: StepKey) -> object:
    return (key.kind, key.moves, key.joints) if key.moves or key.joints else None


def _same_parts(key: StepKey) -> object:
    return (key.kind, key.moves) if key.moves else None


def _same_joints(key: StepKey) -> object:
    return (key.kind, key.joints) if key.joints else None


def _same_title(key: StepKey) -> object:
    return (key.kind, key.title) if not key.moves and not key.joints else None


def _same_place(key: StepKey) -> object:
    return (key.kind, key.bench, key.section) if not key.moves and not key.joints else None


# From the strictest to the loosest: the same job as a whole, then on another bench, then the same parts with other
# joints, then the same joints with other parts; jobs without parts by title, then by bench.
_READINGS: tuple[Callable[[StepKey], object], ...] = (
    _whole,
    _without_bench,
    _same_parts,
    _same_joints,
    _same_title,
    _same_place,
)


def match_steps(old: Sequence[StepKey], new: Sequence[StepKey]) -> dict[int, int]:
    """Index of the old step for each new step that is the same job; strict readings first, then in book order."""
    matches: dict[int, int] = {}
    for reading in _READINGS:
        waiting: dict[object, list[int]] = {}
        taken = set(matches.values())
        for index, key in enumerate(old):
            value = reading(key)
            if index not in taken and value is not None:
                waiting.setdefault(value, []).append(index)
        for index, key in enumerate(new):
            queue = waiting.get(reading(key)) if index not in matches else None
            if queue:
                matches[index] = queue.pop(0)
    return matches
