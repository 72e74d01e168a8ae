"""The change sheet as data: what differs from an earlier book, for the crew, the buyer and the keeper of the binder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from assembler.figure.findings import Finding
from assembler.figure.ids import PartId
from assembler.figure.pictures import Picture
from assembler.publishing import quantities
from assembler.publishing.frontpages import about_text
from assembler.publishing.pages import Pair, PictureBox
from assembler.publishing.source import picture_box, step_anchor
from assembler.publishing.wording import ranges
from assembler.recut.changes import Changes, Fate, PartChange, StepChange, SupplyChange
from assembler.words import Text, Words

PICTURES = 3
"""Parts of one change that are shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRow:
    """One thing that changed.

    Parameters
    ----------
    name
        Ids as printed.
    what
        What became of it, in a word or two.
    lines
        In which ways.
    is_to_do
        Whether somebody has to make or fetch something: gets a square to tick.
    was, pictures
        Small pictures of the parts before and after.
    anchor
        Where a link leads; empty outside the book and for what is gone.
    """

    name: str
    what: str
    lines: tuple[str, ...]
    is_to_do: bool = False
    was: tuple[PictureBox, ...] = ()
    pictures: tuple[PictureBox, ...] = ()
    anchor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AmountRow:
    """So much of an item."""

    amount: str
    item: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePage:
    """The change sheet as data.

    Parameters
    ----------
    since, revision
        The book that is compared with, and the new one.
    lead
        What happened to the figure as a whole, and what numbers do not tell.
    facts
        The changes at a glance.
    pages_out, pages_in
        Numbers of steps.
    parts, joints, bolts, steps
        What changed; `same` says what did not.
    same
        Unchanged ids by kind.
    buy, give_back
        Pieces and adhesive.
    bags, labels
        What to redo.
    findings
        New and settled ones.
    effective
        Every valid step page: number, revision, whether it is to be put in.
    """

    since: str
    revision: str
    lead: tuple[str, ...]
    facts: tuple[Pair, ...]
    pages_out: tuple[str, ...]
    pages_in: tuple[str, ...]
    parts: tuple[ChangeRow, ...]
    joints: tuple[ChangeRow, ...]
    bolts: tuple[ChangeRow, ...]
    steps: tuple[ChangeRow, ...]
    same: Mapping[str, str]
    buy: tuple[AmountRow, ...]
    give_back: tuple[AmountRow, ...]
    bags: tuple[ChangeRow, ...]
    labels: tuple[ChangeRow, ...]
    findings: tuple[ChangeRow, ...]
    effective: tuple[tuple[str, str, bool], ...]


def change_page(
    changes: Changes,
    words: Words,
    *,
    was: Mapping[PartId, Picture] | None = None,
    now: Mapping[PartId, Picture] | None = None,
    is_in_book: bool = False,
) -> ChangePage:
    """The change sheet as data.

    Parameters
    ----------
    changes
        What differs.
    words
        The catalogue.
    was, now
        Small pictures of parts in the old and in the new revision, as far as there are any.
    is_in_book
        Whether links to the steps have somewhere to lead.
    """
    return ChangePage(
        since=changes.old_revision,
        revision=changes.new_revision,
        lead=_lead(changes, words),
        facts=_facts(changes, words),
        pages_out=tuple(changes.pages_out),
        pages_in=tuple(changes.pages_in),
        parts=tuple(_part_row(change, words, was or {}, now or {}) for change in changes.parts),
        joints=tuple(
            ChangeRow(name=joint.joint, what=words(f"changes.fate.{joint.fate}"), lines=_texts(joint.words, words))
            for joint in changes.joints
        ),
        bolts=_bolt_rows(changes, words),
        steps=tuple(_step_row(step, words, is_in_book=is_in_book) for step in changes.steps),
        same=_same(changes),
        buy=(*_pieces(changes.buy, words), *_doses(changes.adhesive_more, words)),
        give_back=(*_pieces(changes.give_back, words), *_doses(changes.adhesive_less, words)),
        bags=tuple(
            ChangeRow(
                name=bag.joint,
                what=words(f"changes.bag.{bag.action.replace(' ', '_')}"),
                lines=_texts(bag.words, words),
                is_to_do=True,
            )
            for bag in changes.bags
        ),
        labels=_label_rows(changes, words),
        findings=(
            *_finding_rows(changes.findings_new, "new", words),
            *_finding_rows(changes.findings_solved, "solved", words),
        ),
        effective=tuple(
            (page.number, page.revision, page.number in changes.pages_in) for page in changes.effective_pages
        ),
    )


def _texts(lines: Iterable[Text], words: Words) -> tuple[str, ...]:
    return tuple(words.text(line) for line in lines)


def _lead(changes: Changes, words: Words) -> tuple[str, ...]:
    lines = []
    if changes.is_empty:
        lines.append(words("changes.nothing", since=changes.old_revision))
    if changes.motion is not None:
        lines.append(words("changes.motion", motion=changes.motion.words()))
    return (*lines, *(words("changes.untold", line=line) for line in changes.untold))


def _facts(changes: Changes, words: Words) -> tuple[Pair, ...]:
    fates = {fate: sum(1 for step in changes.steps if step.fate is fate) for fate in Fate}
    steps = words(
        "changes.steps_value",
        new=fates[Fate.NEW],
        changed=fates[Fate.CHANGED] + fates[Fate.MOVED],
        gone=fates[Fate.GONE],
        same=len(changes.same_steps),
    )
    made = sum(len(change.after) for change in changes.parts if change.is_remade)
    return (
        (words("changes.parts_made"), str(made)),
        (words("changes.parts_same"), str(len(changes.same_parts))),
        (words("changes.joints_changed"), str(len(changes.joints))),
        (words("changes.steps"), steps),
        (words("changes.work"), _signed(changes.extra_work_min, words)),
        (words("changes.total"), _signed(changes.extra_total_min, words)),
        (words("changes.mass"), words("changes.mass_value", mass=f"{changes.extra_mass_kg:+.2f}")),
    )


def _signed(minutes: float, words: Words) -> str:
    """Minutes more or fewer; what rounds to none is said in a word."""
    if abs(minutes) < 0.5:
        return words("changes.none")
    return words("changes.more" if minutes > 0 else "changes.less", time=quantities.duration(abs(minutes)))


def _part_row(
    change: PartChange, words: Words, was: Mapping[PartId, Picture], now: Mapping[PartId, Picture]
) -> ChangeRow:
    names = words.listed(change.after or change.before)
    if change.before and change.after and change.before != change.after:
        names = words("changes.into", before=words.listed(change.before), after=names)
    return ChangeRow(
        name=names,
        what=words(f"changes.part.{change.fate}"),
        lines=(words.text(change.words),),
        is_to_do=change.is_remade,
        was=() if change.is_name_only else _boxes(change.before, was, words, "changes.picture_was"),
        pictures=() if change.is_name_only else _boxes(change.after, now, words, "changes.picture_now"),
    )


def _boxes(
    parts: Sequence[PartId], pictures: Mapping[PartId, Picture], words: Words, caption: str
) -> tuple[PictureBox, ...]:
    shown = [part for part in parts if part in pictures]
    if len(shown) > PICTURES:
        return ()
    boxes = (picture_box(pictures[part], words, words(caption, part=part)) for part in shown)
    return tuple(box for box in boxes if box is not None)


def _bolt_rows(changes: Changes, words: Words) -> tuple[ChangeRow, ...]:
    """Bolts of joints that stay, those with one story together; bolts of new and dropped joints are told there."""
    lone = {joint.joint for joint in changes.joints if joint.fate in (Fate.NEW, Fate.GONE)}
    groups: dict[tuple[Fate, tuple[str, ...]], list[str]] = {}
    for bolt in changes.bolts:
        if bolt.joint not in lone:
            groups.setdefault((bolt.fate, _texts(bolt.words, words)), []).append(bolt.bolt)
    return tuple(
        ChangeRow(name=ranges(bolts), what=words(f"changes.fate.{fate}"), lines=lines)
        for (fate, lines), bolts in groups.items()
    )


def _step_row(step: StepChange, words: Words, *, is_in_book: bool) -> ChangeRow:
    was = (words("changes.was_step", number=step.was),) if step.was and step.was != step.number else ()
    is_there = is_in_book and step.fate is not Fate.GONE
    return ChangeRow(
        name=step.number,
        what=words(f"changes.step.{step.fate}"),
        lines=(words.text(step.title), *was, *_texts(step.words, words)),
        anchor=step_anchor(step.number) if is_there else "",
    )


def _same(changes: Changes) -> dict[str, str]:
    bolts = len(changes.same_bolts)
    return {
        "parts": ranges(changes.same_parts),
        "joints": ranges(changes.same_joints),
        "bolts": str(bolts) if bolts else "",
        "steps": ranges(changes.same_steps),
        "background": ranges(changes.background_steps),
    }


def _pieces(rows: Iterable[SupplyChange], words: Words) -> tuple[AmountRow, ...]:
    return tuple(
        AmountRow(amount=words("changes.pieces", count=f"{row.amount:g}"), item=words.text(row.item)) for row in rows
    )


def _doses(rows: Iterable[SupplyChange], words: Words) -> tuple[AmountRow, ...]:
    return tuple(AmountRow(amount=quantities.volume(row.amount), item=words.text(row.item)) for row in rows)


def _label_rows(changes: Changes, words: Words) -> tuple[ChangeRow, ...]:
    """Labels to make and to take off, those of one kind and action together."""
    groups: dict[tuple[str, str], list[str]] = {}
    for label in changes.labels:
        groups.setdefault((label.kind, label.action), []).append(label.about)
    return tuple(
        ChangeRow(
            name=ranges(names),
            what=words(f"changes.label.{action.replace(' ', '_')}"),
            lines=(words(f"changes.label_of.{kind}"),),
            is_to_do=True,
        )
        for (kind, action), names in sorted(groups.items())
    )


def _finding_rows(findings: Sequence[Finding], state: str, words: Words) -> tuple[ChangeRow, ...]:
    return tuple(
        ChangeRow(
            name=words(f"findings.level.{finding.level}"),
            what=words(f"changes.finding.{state}"),
            lines=(
                _about(finding, words),
                *((words.text(finding.remedy),) if finding.remedy and state == "new" else ()),
            ),
        )
        for finding in findings
    )


def _about(finding: Finding, words: Words) -> str:
    about = about_text(finding.about)
    if not about:
        return words.text(finding.message)
    return words("changes.about", about=about, message=finding.message)
