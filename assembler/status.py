"""How does a project stand? Its files in, `Status` out: what is open, built, curing, next. Nothing is read but files.

The crew follows the last issued book; before the first issue, the draft.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from assembler.engineering.bonding import handling_min
from assembler.engineering.questions import Decision, open_decisions
from assembler.figure.findings import Level
from assembler.figure.ids import BenchId, JointId, PartId, StepNumber, natural_key
from assembler.figure.plan import Plan, Step
from assembler.figure.records import record_of
from assembler.figure.settings import Settings
from assembler.filegate import is_there
from assembler.projectfiles.bookfolder import DRAFT, RECORD, Book, issued_books, read_book, touched_findings
from assembler.projectfiles.builtlog import BuiltStep, read_built
from assembler.projectfiles.figurefile import read_settings
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.idledger import read_ledger
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.jointsfile import read_joints
from assembler.projectfiles.jointstext import read_surveyed
from assembler.projectfiles.planfile import read_plan
from assembler.recut.asbuilt import hold_end
from assembler.recut.recordable import moment

_SHOWN = 6
"""Next steps that are told in words; JSON has all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningHold:
    """Joints that cure.

    Parameters
    ----------
    step, joints
        What was closed.
    free_at
        When they may be loaded; None where the adhesive has no time to give at the recorded temperature.
    """

    step: StepNumber
    joints: tuple[JointId, ...]
    free_at: datetime.datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """A step whose turn it is.

    Parameters
    ----------
    step, bench, title
        Which.
    waits_for
        Steps whose holds still block it.
    """

    step: StepNumber
    bench: BenchId
    title: str
    waits_for: tuple[StepNumber, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """How a project stands.

    Parameters
    ----------
    figure, revision
        As figure.toml names them.
    issued
        Revisions that were issued, in their order.
    book
        The one that counts here: 'draft', or the last issued; None where there is none.
    draft
        'none', 'current', 'older' where it was made from other files than lie there now, 'unknown' where it does not
        tell.
    findings
        Of the newest plan, by level; None where there is no plan.
    touched
        Issued books that somebody changed, in words.
    steps, built
        How many that book has, and which of them were carried out.
    holds, next
        That run now; whose turn it is.
    decisions
        What the shop has not decided yet.
    """

    figure: str
    revision: str
    issued: tuple[str, ...]
    book: str | None
    draft: Literal["none", "current", "older", "unknown"]
    findings: Mapping[str, int] | None
    touched: tuple[str, ...]
    steps: int
    built: tuple[StepNumber, ...]
    holds: tuple[RunningHold, ...]
    next: tuple[NextStep, ...]
    decisions: tuple[Decision, ...]

    def lines(self) -> tuple[str, ...]:
        """In words, without the decisions."""
        issued = ", ".join(self.issued) or "none yet"
        return (
            f"{self.figure}, revision {self.revision}; issued: {issued}",
            *self.touched,
            f"draft     {_DRAFTS[self.draft]}",
            f"findings  {self._counted()}",
            *self._work(),
        )

    def _counted(self) -> str:
        if self.findings is None:
            return "not known before 'assembler check' or 'assembler book'"
        return ", ".join(f"{count} {level}" for level, count in self.findings.items())

    def _work(self) -> tuple[str, ...]:
        """What is built, what cures, what comes next."""
        if self.book is None:
            return ()
        done = f": {', '.join(self.built)}" if self.built else ""
        lines = [f"built     {len(self.built)} of {self.steps} steps of book {self.book}{done}"]
        lines += [f"hold      {', '.join(hold.joints)} of step {hold.step}: {_until(hold)}" for hold in self.holds]
        for step in self.next[:_SHOWN]:
            gate = f", not before the hold of step {', '.join(step.waits_for)} ends" if step.waits_for else ""
            lines.append(f"next      step {step.step}, bench {step.bench}: {step.title}{gate}")
        if len(self.next) > _SHOWN:
            lines.append(f"          and {len(self.next) - _SHOWN} more that could begin")
        return tuple(lines)

    def as_record(self) -> dict[str, Any]:
        """For JSON."""
        return record_of(self)


_DRAFTS = {
    "none": "none yet",
    "current": "made from the files as they are",
    "older": "older than its input: write it again",
    "unknown": "of an earlier version of the program: write it again",
}


def _until(hold: RunningHold) -> str:
    if hold.free_at is None:
        return "no time to give, the adhesive does not cure at the recorded temperature"
    return f"not to be loaded before {hold.free_at:%Y-%m-%d %H:%M}"


def project_status(root: Path, *, now: datetime.datetime) -> Status:
    """How a project stands.

    Parameters
    ----------
    root
        The project folder.
    now
        With its time zone: which holds still run.

    Raises
    ------
    InputError
        If a file of the project, or an issued book, cannot be used.
    """
    folder = ProjectFolder(root)
    settings = read_settings(folder.figure)
    files = {entry.id: entry.file for entry in read_ledger(folder.ids).parts}
    joints = read_joints(folder.joints, files, read_surveyed(folder.surveyed))
    issued = issued_books(folder)
    draft = read_book(folder.books / DRAFT) if is_there(folder.books / DRAFT / RECORD) else None
    book = issued[-1] if issued else draft
    newest = draft or book
    plan = read_plan(book.path / "plan.json") if book else None
    newest_plan = plan if newest is book else read_plan(newest.path / "plan.json") if newest else None
    built = read_built(folder.built)
    holds = _holds(plan, built, settings, now)
    return Status(
        figure=settings.name,
        revision=settings.revision,
        issued=tuple(one.revision for one in issued),
        book=book.revision if book else None,
        draft=_age(draft, folder),
        findings=_by_level(newest_plan),
        touched=tuple(finding.message for finding in touched_findings(issued)),
        steps=len(plan.steps) if plan else 0,
        built=tuple(entry.step for entry in built),
        holds=holds,
        next=_next(plan.steps if plan else (), built, holds),
        decisions=open_decisions(settings, joints, {PartId(part): file for part, file in files.items()}),
    )


def _age(draft: Book | None, folder: ProjectFolder) -> Literal["none", "current", "older", "unknown"]:
    """Whether a draft is older than its input."""
    if draft is None:
        return "none"
    if not draft.read:
        return "unknown"
    return "current" if draft.read == input_digest(folder) else "older"


def _by_level(plan: Plan | None) -> Mapping[str, int] | None:
    if plan is None:
        return None
    return {level.value: sum(finding.level is level for finding in plan.findings) for level in Level}


def _holds(
    plan: Plan | None, built: Sequence[BuiltStep], settings: Settings, now: datetime.datetime
) -> tuple[RunningHold, ...]:
    """Holds that are not over, in the order in which they end; those without a time first."""
    steps = {step.number: step for step in plan.steps} if plan else {}
    running = []
    for entry in built:
        step = steps.get(entry.step)
        if step is None or step.hold is None:
            continue
        minutes = handling_min(step.place, settings, entry.temperature_c, entry.at)
        free_at = None if minutes is None else hold_end(step, entry, minutes)
        if free_at is None or moment(free_at) > now:
            running.append(RunningHold(step=entry.step, joints=step.hold.joints, free_at=free_at))

    def end(hold: RunningHold) -> tuple[object, ...]:
        return (moment(hold.free_at).timestamp() if hold.free_at else 0.0, natural_key(hold.step))

    return tuple(sorted(running, key=end))


def _next(steps: Sequence[Step], built: Sequence[BuiltStep], holds: Sequence[RunningHold]) -> tuple[NextStep, ...]:
    """Steps that are not built, and that stand on nothing that is not built; those that may begin now first."""
    done = {entry.step for entry in built}
    blocks = {step.number: set(step.hold.before) for step in steps if step.hold is not None}
    found = [
        NextStep(
            step=step.number,
            bench=step.bench,
            title=step.title,
            waits_for=tuple(hold.step for hold in holds if step.number in blocks.get(hold.step, ())),
        )
        for step in steps
        if step.number not in done and done.issuperset(step.after)
    ]
    return tuple(sorted(found, key=lambda step: bool(step.waits_for)))
