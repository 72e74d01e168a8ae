"""Which step of the new plan is which step of the old one? Told by what is done in it, not by its number."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assembler.figure.plan import Step


def _work(step: Step) -> tuple[frozenset[str], frozenset[str]]:
    """Parts that move in, joints closed for good."""
    return frozenset(step.moves), frozenset(step.joints)


def _is_bare(step: Step) -> bool:
    return not step.moves and not step.joints


def _whole(step: Step) -> object:
    words = (step.title, step.section) if _is_bare(step) else ("", "")
    return (step.kind, step.bench, *_work(step), *words)


def _without_bench(step: Step) -> object:
    return None if _is_bare(step) else (step.kind, *_work(step))


def _same_parts(step: Step) -> object:
    return (step.kind, frozenset(step.moves)) if step.moves else None


def _same_joints(step: Step) -> object:
    return (step.kind, frozenset(step.joints)) if step.joints else None


def _same_title(step: Step) -> object:
    return (step.kind, step.title) if _is_bare(step) else None


def _same_place(step: Step) -> object:
    return (step.kind, step.bench, step.section) if _is_bare(step) else None


# From the strictest to the loosest: the same job as a whole, then on another bench, then the same parts with other
# joints, then the same joints with other parts; jobs without parts by title, then by bench.
_READINGS: tuple[Callable[[Step], object], ...] = (
    _whole,
    _without_bench,
    _same_parts,
    _same_joints,
    _same_title,
    _same_place,
)


def match_steps(old: Sequence[Step], new: Sequence[Step]) -> dict[int, int]:
    """Index of the old step for each new step that is the same job; strict readings first, then in book order."""
    matches: dict[int, int] = {}
    for reading in _READINGS:
        waiting: dict[object, list[int]] = {}
        taken = set(matches.values())
        for index, step in enumerate(old):
            value = reading(step)
            if index not in taken and value is not None:
                waiting.setdefault(value, []).append(index)
        for index, step in enumerate(new):
            queue = waiting.get(reading(step)) if index not in matches else None
            if queue:
                matches[index] = queue.pop(0)
    return matches
