"""changes.json: what differs from the book before, for other programs and for the books after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final, Generic, Literal, TypeVar

from assembler.figure.findings import Finding
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber
from assembler.figure.records import SPOKEN, read_as, record_of
from assembler.projectfiles.jsonfile import read_json
from assembler.recut.changes import (
    BagChange,
    BoltChange,
    Changes,
    EffectivePage,
    JointChange,
    LabelChange,
    PartChange,
    StepChange,
    SupplyChange,
)
from assembler.recut.motion import Motion

SCHEMA_NAME: Final = "assembler/changes/1"

Id = TypeVar("Id")
Change = TypeVar("Change")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fates(Generic[Id, Change]):
    """What became of all of one kind."""

    unchanged: tuple[Id, ...]
    background_only: Annotated[tuple[Id, ...] | None, SPOKEN] = None
    changed: tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pieces:
    buy: tuple[SupplyChange, ...]
    give_back: tuple[SupplyChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Millilitres:
    more: tuple[SupplyChange, ...]
    less: tuple[SupplyChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pages:
    take_out: tuple[StepNumber, ...]
    put_in: tuple[StepNumber, ...]
    effective: tuple[EffectivePage, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Findings:
    new: tuple[Finding, ...]
    solved: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    """changes.json, grouped as a reader asks."""

    schema: Literal["assembler/changes/1"]
    figure: str
    since: str
    revision: str
    is_empty: bool
    figure_moved: Motion | None
    parts: _Fates[PartId, PartChange]
    joints: _Fates[JointId, JointChange]
    bolts: _Fates[BoltId, BoltChange]
    steps: _Fates[StepNumber, StepChange]
    not_told: tuple[str, ...]
    hardware: _Pieces
    adhesive_ml: _Millilitres
    bags: tuple[BagChange, ...]
    labels: tuple[LabelChange, ...]
    pages: _Pages
    extra_work_minutes: float
    extra_total_minutes: float
    extra_mass_kg: float
    findings: _Findings


def changes_record(changes: Changes) -> dict[str, Any]:
    """The changes as plain values, ready for JSON."""
    record = record_of(
        _File(
            schema=SCHEMA_NAME,
            figure=changes.figure_name,
            since=changes.old_revision,
            revision=changes.new_revision,
            is_empty=changes.is_empty,
            figure_moved=changes.motion,
            parts=_Fates(unchanged=changes.same_parts, changed=changes.parts),
            joints=_Fates(unchanged=changes.same_joints, changed=changes.joints),
            bolts=_Fates(unchanged=changes.same_bolts, changed=changes.bolts),
            steps=_Fates(unchanged=changes.same_steps, background_only=changes.background_steps, changed=changes.steps),
            not_told=changes.untold,
            hardware=_Pieces(buy=changes.buy, give_back=changes.give_back),
            adhesive_ml=_Millilitres(more=changes.adhesive_more, less=changes.adhesive_less),
            bags=changes.bags,
            labels=changes.labels,
            pages=_Pages(take_out=changes.pages_out, put_in=changes.pages_in, effective=changes.effective_pages),
            extra_work_minutes=changes.extra_work_min,
            extra_total_minutes=changes.extra_total_min,
            extra_mass_kg=changes.extra_mass_kg,
            findings=_Findings(new=changes.findings_new, solved=changes.findings_solved),
        )
    )
    if changes.motion is not None:
        record["figure_moved"]["words"] = changes.motion.words()
    return record


def changes_of(record: Mapping[str, Any]) -> Changes:
    """The changes that plain values describe.

    Raises
    ------
    pydantic.ValidationError
        If they do not fit.
    """
    return _changes(read_as(_File, record))


def _changes(read: _File) -> Changes:
    return Changes(
        figure_name=read.figure,
        old_revision=read.since,
        new_revision=read.revision,
        motion=read.figure_moved,
        parts=read.parts.changed,
        joints=read.joints.changed,
        bolts=read.bolts.changed,
        steps=read.steps.changed,
        same_parts=read.parts.unchanged,
        same_joints=read.joints.unchanged,
        same_bolts=read.bolts.unchanged,
        same_steps=read.steps.unchanged,
        background_steps=read.steps.background_only or (),
        untold=read.not_told,
        buy=read.hardware.buy,
        give_back=read.hardware.give_back,
        adhesive_more=read.adhesive_ml.more,
        adhesive_less=read.adhesive_ml.less,
        bags=read.bags,
        labels=read.labels,
        pages_out=read.pages.take_out,
        pages_in=read.pages.put_in,
        effective_pages=read.pages.effective,
        extra_work_min=read.extra_work_minutes,
        extra_total_min=read.extra_total_minutes,
        extra_mass_kg=read.extra_mass_kg,
        findings_new=read.findings.new,
        findings_solved=read.findings.solved,
    )


def read_changes(path: Path) -> Changes:
    """What a book said that it changes.

    Raises
    ------
    BookFolderError
        If the file is damaged or of another schema.
    """
    return _changes(read_json(path, _File, right=f"use a book of schema {SCHEMA_NAME}"))
