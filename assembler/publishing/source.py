"""What every page is composed from: the plan and what belongs to it, with the look-ups that several pages need."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from assembler.engineering.curing import TemperatureRow
from assembler.engineering.loads import CarriedLoad
from assembler.engineering.worksheet import WorksheetRow
from assembler.figure.consignment import Consignment
from assembler.figure.exposure import ExposureRow
from assembler.figure.hardware import Bonding, BuyLine, HardwareLine, Stack
from assembler.figure.ids import JointId, PartId, StepNumber, natural_key
from assembler.figure.joints import Joint
from assembler.figure.parts import Part, Vector
from assembler.figure.pictures import Picture, Pictures
from assembler.figure.plan import Gate, Plan, Step
from assembler.figure.printed import PrintedPiece
from assembler.figure.settings import Settings
from assembler.figure.sides import side_of
from assembler.publishing import quantities
from assembler.publishing.pages import PictureBox
from assembler.publishing.quantities import Units
from assembler.publishing.words import load_words
from assembler.publishing.workdays import Shift, shifts_of
from assembler.recut.changes import Changes
from assembler.recut.marks import StepMark
from assembler.words import Words

__all__ = ["Earlier", "Source", "load_words", "shifts_of"]
"""What other rooms take from here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """What a book says of the issue before it; empty for a first one.

    Parameters
    ----------
    changes
        What differs: the book opens with it.
    was
        Small pictures of parts as they were; their files lie in the folder of the book.
    printed
        What that issue printed, by name of the piece: pages that read the same keep their revision.
    """

    changes: Changes | None = None
    was: Mapping[PartId, Picture] = field(default_factory=dict)
    printed: Mapping[str, PrintedPiece] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Everything a page may draw on.

    Parameters
    ----------
    plan, settings, stacks, bondings
        The plan, and what it was made from.
    pictures
        Their files lie in the folder of the book.
    buy, hardware
        Buying list, and the pieces of each joint.
    worksheets
        Rows of calculation by joint.
    temperatures
        Times of the adhesive, one row a temperature.
    exposure
        What wind and people do to the finished figure.
    loads
        By joint: the piece that hangs on it alone.
    faces
        By joint: its face as one <svg> element, for the contact sheet.
    words
        The catalogue.
    overrides
        Folder beside the project whose templates win over the built-in ones; None: there is none.
    skin_mm2
        Outer skin of the printed parts: what is primed and coated.
    is_draft
        Whether every page says DRAFT.
    shifts
        The plan on the working hours.
    marks
        By step: how its pages differ from those of an earlier issue.
    revisions
        By step: the revision since which its pages are in force, where it is not that of the plan.
    consignment
        Crates and loads; None where figure.toml says nothing of the way.
    """

    plan: Plan
    settings: Settings
    pictures: Pictures
    stacks: Sequence[Stack]
    bondings: Sequence[Bonding]
    buy: Sequence[BuyLine]
    hardware: Sequence[HardwareLine]
    worksheets: Mapping[JointId, Sequence[WorksheetRow]]
    temperatures: Sequence[TemperatureRow]
    words: Words
    is_draft: bool
    shifts: Mapping[StepNumber, Shift]
    skin_mm2: float
    exposure: Sequence[ExposureRow] = ()
    loads: Mapping[JointId, CarriedLoad] = field(default_factory=dict)
    faces: Mapping[JointId, str] = field(default_factory=dict)
    marks: Mapping[StepNumber, StepMark] = field(default_factory=dict)
    revisions: Mapping[StepNumber, str] = field(default_factory=dict)
    overrides: Path | None = None
    consignment: Consignment | None = None

    @property
    def units(self) -> Units:
        """How quantities are written."""
        return Units(has_inches=self.settings.has_inches)

    def part(self, name: PartId) -> Part:
        """The part of an id."""
        return next(part for part in self.plan.parts if part.id == name)

    def joint(self, name: JointId) -> Joint:
        """The joint of an id."""
        return next(joint for joint in self.plan.joints if joint.id == name)

    def arrival(self, name: PartId) -> Step | None:
        """The step in which a part first appears: it moves in, or lies on the bench already."""
        moved = next((step for step in self.plan.steps if name in step.moves), None)
        lying = next((step for step in self.plan.steps if name in step.onto), None)
        if moved and lying:
            order = [step.number for step in self.plan.steps]
            return min(moved, lying, key=lambda step: order.index(step.number))
        return moved or lying

    def first_laid(self, step: Step) -> tuple[PartId, ...]:
        """Parts that lie on the bench in a step and came there by no earlier one: they are laid down first."""
        fresh = [name for name in step.onto if self.arrival(name) is step]
        return tuple(sorted(fresh, key=natural_key))

    def hold_min(self, name: str) -> float:
        """From closing a joint to handling strength; 0 for a joint that nobody waits for."""
        rows = [row.handling_min for row in self.bondings if row.joint == name]
        return max(rows, default=0.0)

    def closing(self, name: JointId) -> Step | None:
        """The step that closes a joint."""
        return next((step for step in self.plan.steps if name in step.joints), None)


STACK_PICTURE = "-bolt-"
"""In the file names of pictures that show one kind of bolt with all that lies under its head and nut."""
KINDS = ("screw", "washer", "nut")
"""Order in which the pieces of a bag are listed."""


def sorted_lines(lines: Iterable[HardwareLine]) -> list[HardwareLine]:
    """Hardware lines by joint, then screws, washers, nuts."""

    def order(line: HardwareLine) -> tuple[object, ...]:
        kind = KINDS.index(line.kind) if line.kind in KINDS else len(KINDS)
        return (natural_key(line.joint), kind, natural_key(str(line.item)), line.length_mm, line.torque_nm)

    return sorted(lines, key=order)


def piece_name(words: Words, line: HardwareLine) -> str:
    """What a piece is called at the bench: kind, size and length."""
    kind = words.count(f"piece.{line.kind}", line.count) if words.has(f"piece.{line.kind}.one") else line.kind
    size = f"{line.size} × {line.length_mm:g}" if line.length_mm else line.size
    return f"{kind} {size}".replace(" × ", f"{quantities.NO_BREAK}×{quantities.NO_BREAK}")


def part_name(part: Part) -> str:
    """What a part is called: its file without the ending."""
    return part.file.rpartition(".")[0] or part.file


def step_anchor(number: str) -> str:
    """Where a link to a step leads."""
    return f"step-{number}"


def picture_box(picture: Picture | None, words: Words, caption: str = "") -> PictureBox | None:
    """A picture as the page takes it; None stays None."""
    if picture is None:
        return None
    return PictureBox(
        file=picture.file,
        width_px=picture.width_px,
        height_px=picture.height_px,
        overlay_svg=picture.overlay_svg,
        alt=words.text(picture.alt),
        caption=caption,
    )


def seen_from(source: Source, eye: Vector, up: Vector) -> str:
    """The side of the figure from which a picture is taken; empty where the work does not stand upright."""
    settings = source.settings
    if up != settings.up or not any(eye):
        return ""
    side = side_of(eye, up, settings.front)
    return source.words(f"side.{side}") if side else ""


def sorted_gates(gates: Sequence[Gate]) -> list[Gate]:
    """By the step that closed the joint, then by joint."""
    return sorted(gates, key=lambda gate: (natural_key(gate.step), natural_key(gate.joint)))


def split_gates(plan: Plan, step: Step) -> tuple[list[Gate], list[Gate]]:
    """Waits of a step: those that decide its start, and those that are over by then.

    A wait is over when a step that has to be done before this one (at any distance) waited for the same joint, or when
    this step waits for a joint that was closed after that one and holds as long.

    Parameters
    ----------
    plan
        The whole plan.
    step
        One of its steps.
    """
    kept = {gate.joint for other in _before(plan, step) for gate in other.gates}
    steps = {other.number: other for other in plan.steps}
    closers = [steps[name] for name in {gate.step for gate in step.gates if gate.joint not in kept} if name in steps]
    outlasted = {
        earlier.number
        for later in closers
        for earlier in _before(plan, later)
        if _hold_min(earlier) <= _hold_min(later)
    }
    ordered = sorted_gates(step.gates)
    over = [gate for gate in ordered if gate.joint in kept or gate.step in outlasted]
    return [gate for gate in ordered if gate not in over], over


def _hold_min(step: Step) -> float:
    return step.hold.minutes if step.hold else 0.0


def _before(plan: Plan, step: Step) -> list[Step]:
    """Every step that has to be done before a step, in the order of the book."""
    steps = {other.number: other for other in plan.steps}
    found: set[StepNumber] = set()
    open_ends = [step]
    while open_ends:
        one = open_ends.pop()
        for name in (*one.after, *(gate.step for gate in one.gates)):
            if name in steps and name not in found:
                found.add(name)
                open_ends.append(steps[name])
    return [other for other in plan.steps if other.number in found]
