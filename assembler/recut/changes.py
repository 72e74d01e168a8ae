"""What differs between two revisions, as frozen records, and changes.json, which holds them for other programs.

The words are already in the records, the layout is not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator

from assembler.figure.findings import Finding
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber
from assembler.figure.parts import Vector
from assembler.figure.records import Sayings, Spoken, digits, read_as, record_of
from assembler.projectfiles.jsonfile import read_json
from assembler.recut.identity import Motion


class PartFate(StrEnum):
    """What became of a part."""

    MOVED = "moved"
    """Same shape, other place: nothing to print again."""
    RESHAPED = "reshaped"
    SPLIT = "split"
    MERGED = "merged"
    NEW = "new"
    GONE = "gone"
    SWAPPED = "swapped"
    """Exchanged with another part, or replaced by its own mirror twin."""
    RENAMED = "renamed"
    """Same solid from a file with another name."""
    RESPECIFIED = "respecified"
    """Same shape, other material or way of making."""


# Fates after which the part is made again (and labelled again).
REMADE = frozenset({PartFate.RESHAPED, PartFate.SPLIT, PartFate.MERGED, PartFate.NEW, PartFate.RESPECIFIED})


class Fate(StrEnum):
    """What became of a joint, a bolt or a step."""

    NEW = "new"
    GONE = "gone"
    MOVED = "moved"
    """Only its place differs."""
    CHANGED = "changed"


class PagePlace(StrEnum):
    """Where on the pages of a step a change shows."""

    WHOLE = "whole"
    """The page did not exist before."""
    TITLE = "title"
    GATE = "gate"
    JOB = "job"
    """Place, bench, times, lift."""
    PICTURE = "picture"
    BRING = "bring"
    """Parts and hardware to fetch."""
    ACCESS = "access"
    ORDERS = "orders"
    GLUE = "glue"
    HOLD = "hold"
    TIGHTEN = "tighten"
    CHECKS = "checks"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartChange:
    """One thing that happened to parts.

    Parameters
    ----------
    fate
        What it is.
    before, after
        Ids in the old and the new revision (two and more after a split, before a merger).
    words
        In a sentence without the ids.
    offset_mm
        For a part that only moved; None otherwise.
    is_remade
        Whether the parts in `after` have to be made again.
    is_name_only
        Whether only file names (or numbers) differ, and every solid is where it was.
    """

    fate: PartFate
    before: tuple[PartId, ...]
    after: tuple[PartId, ...]
    words: Spoken
    offset_mm: Annotated[Vector, digits(3)] | None = None
    is_remade: bool = False
    is_name_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class JointChange:
    """A joint that is new, gone, moved or changed, and in which ways."""

    joint: JointId
    fate: Fate
    words: tuple[Spoken, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltChange:
    """A bolt axis that is new, gone, moved or changed, and in which ways."""

    bolt: BoltId
    joint: JointId
    fate: Fate
    words: tuple[Spoken, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepChange:
    """A step that is new, gone, moved to another number, or changed.

    Parameters
    ----------
    number
        In the new book; in the old one for a dropped step.
    was
        Number in the old book; empty for a new step.
    title
        Of the step.
    fate, words
        What happened, one line each.
    places
        Where on its pages that shows, each once; none for a dropped step.
    """

    number: StepNumber
    was: str
    title: Spoken
    fate: Fate
    words: tuple[Spoken, ...]
    places: tuple[PagePlace, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyChange:
    """Pieces (or millilitres of adhesive) more or fewer than in the old book; `amount` is positive."""

    item: Spoken
    amount: int | float


@dataclass(frozen=True, slots=True, kw_only=True)
class BagChange:
    """One bag, one bag a joint: 'make up', 'change' or 'empty', with what differs in it."""

    joint: JointId
    action: str
    words: tuple[Spoken, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelChange:
    """One label to make or to take off: a part or a bag ('part', 'bag')."""

    kind: str
    about: str
    action: str
    why: Spoken


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectivePage:
    """A step page that is valid, and the revision since which it is."""

    number: StepNumber
    revision: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """All that differs between two revisions of a book.

    Parameters
    ----------
    figure_name, old_revision, new_revision
        Which books.
    motion
        What happened to the figure as a whole, or None. Everything else is told as if it had not happened.
    parts, joints, bolts, steps
        What changed.
    same_parts, same_joints, same_bolts, same_steps
        What did not.
    background_steps
        Of `same_steps`: the work is the same, only what stands behind it in the picture was re-cut.
    untold
        What the numbers do not tell, in words.
    buy, give_back, adhesive_more, adhesive_less
        Pieces and millilitres in the figure, without spares.
    bags, labels
        What to redo.
    pages_out, pages_in
        Step pages to take out of the binder and to put in.
    effective_pages
        Every valid step page, in order.
    extra_work_min, extra_total_min
        Working time without holds; working plan with holds. Negative where it is shorter.
    extra_mass_kg
        Of the figure.
    findings_new, findings_solved
        What the new plan says that the old one did not, and the reverse.
    """

    figure_name: str
    old_revision: str
    new_revision: str
    motion: Motion | None
    parts: tuple[PartChange, ...]
    joints: tuple[JointChange, ...]
    bolts: tuple[BoltChange, ...]
    steps: tuple[StepChange, ...]
    same_parts: tuple[PartId, ...]
    same_joints: tuple[JointId, ...]
    same_bolts: tuple[BoltId, ...]
    same_steps: tuple[StepNumber, ...]
    background_steps: tuple[StepNumber, ...]
    untold: tuple[Spoken, ...]
    buy: tuple[SupplyChange, ...]
    give_back: tuple[SupplyChange, ...]
    adhesive_more: tuple[SupplyChange, ...]
    adhesive_less: tuple[SupplyChange, ...]
    bags: tuple[BagChange, ...]
    labels: tuple[LabelChange, ...]
    pages_out: tuple[StepNumber, ...]
    pages_in: tuple[StepNumber, ...]
    effective_pages: tuple[EffectivePage, ...]
    extra_work_min: float
    extra_total_min: float
    extra_mass_kg: float
    findings_new: tuple[Finding, ...]
    findings_solved: tuple[Finding, ...]

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all differs."""
        return not (self.motion or self.parts or self.joints or self.bolts or self.steps or self.untold) and not (
            self.buy
            or self.give_back
            or self.adhesive_more
            or self.adhesive_less
            or self.bags
            or self.labels
            or self.findings_new
            or self.findings_solved
        )


SCHEMA_NAME = "assembler/changes/1"

# Where each value of `Changes` stands, grouped as a reader asks.
_PLACES = {
    "figure_name": ("figure",),
    "old_revision": ("since",),
    "new_revision": ("revision",),
    "is_empty": ("is_empty",),
    "motion": ("figure_moved",),
    "same_parts": ("parts", "unchanged"),
    "parts": ("parts", "changed"),
    "same_joints": ("joints", "unchanged"),
    "joints": ("joints", "changed"),
    "same_bolts": ("bolts", "unchanged"),
    "bolts": ("bolts", "changed"),
    "same_steps": ("steps", "unchanged"),
    "background_steps": ("steps", "background_only"),
    "steps": ("steps", "changed"),
    "untold": ("not_told",),
    "buy": ("hardware", "buy"),
    "give_back": ("hardware", "give_back"),
    "adhesive_more": ("adhesive_ml", "more"),
    "adhesive_less": ("adhesive_ml", "less"),
    "bags": ("bags",),
    "labels": ("labels",),
    "pages_out": ("pages", "take_out"),
    "pages_in": ("pages", "put_in"),
    "effective_pages": ("pages", "effective"),
    "extra_work_min": ("extra_work_minutes",),
    "extra_total_min": ("extra_total_minutes",),
    "extra_mass_kg": ("extra_mass_kg",),
    "findings_new": ("findings", "new"),
    "findings_solved": ("findings", "solved"),
}


_MISSING = object()


def changes_record(changes: Changes) -> dict[str, Any]:
    """The changes as plain values, ready for JSON."""
    sayings: Sayings = {}
    flat = {**record_of(changes, sayings), "is_empty": changes.is_empty}
    if changes.motion is not None:
        flat["motion"] = {**flat["motion"], "words": str(changes.motion.words())}
    record: dict[str, Any] = {"schema": SCHEMA_NAME}
    for name, (*groups, last) in _PLACES.items():
        group = record
        for each in groups:
            group = group.setdefault(each, {})
        group[last] = flat[name]
    record["sayings"] = dict(sorted(sayings.items()))
    return record


def changes_of(record: Mapping[str, Any]) -> Changes:
    """The changes that plain values describe.

    Raises
    ------
    pydantic.ValidationError
        If they do not fit.
    """
    changes: Changes = read_as(_READ, record)
    return changes


def _flat(record: Any) -> Any:
    """The values of a changes.json by their names in `Changes`; what is not there is left to the reader to miss."""
    if isinstance(record, Mapping) and record.get("schema") != SCHEMA_NAME:
        raise ValueError(f"got schema {record.get('schema')!r}")
    flat: dict[str, Any] = {}
    for name, places in _PLACES.items():
        value: Any = record
        for place in places:
            value = value.get(place, _MISSING) if isinstance(value, Mapping) else _MISSING
        if value is not _MISSING:
            flat[name] = value
    return flat


_READ: Any = Annotated[Changes, BeforeValidator(_flat)]


def read_changes(path: Path) -> Changes:
    """What a book said that it changes.

    Raises
    ------
    BookFolderError
        If the file is damaged or of another schema.
    """
    changes: Changes = read_json(path, _READ, right=f"use a book of schema {SCHEMA_NAME}")
    return changes
