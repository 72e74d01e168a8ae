"""Where one process draws: what it was ordered, and what it holds.

In: an order and a shelf. Out: a `Desk`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from assembler.drawing.copies import Copies, light_copies
from assembler.drawing.reuse import (
    Keys,
)
from assembler.drawing.stage import Stage, staged
from assembler.drawing.studio import Studio
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Section, Step, View
from assembler.figure.shelf import Shelf

Made = tuple[Picture, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to draw.

    Parameters
    ----------
    plan, meshes
        The book's.
    out_dir
        Where pictures are written.
    orders
        Bolts of each joint in the order of tightening.
    marks
        By step: words behind the references of parts.
    issued
        By step: its view in the book that the crew holds.
    printed
        Folder with the pictures of that book; None: there is none.
    """

    plan: Plan
    meshes: Mapping[PartId, Mesh]
    out_dir: Path
    orders: Mapping[JointId, Sequence[BoltId]]
    marks: Mapping[StepNumber, Mapping[PartId, str]]
    issued: Mapping[StepNumber, View] = field(default_factory=dict)
    printed: Path | None = None

    def step(self, job: str) -> Step:
        """The step of a job such as 'step 0'."""
        return self.plan.steps[int(job.split(" ", 1)[1])]


@dataclass(slots=True, kw_only=True)
class Desk:
    """What a drawing process holds: its studio, opened when something has to be drawn, and the views."""

    order: Order
    stack: ExitStack
    shelf: Shelf
    copies: Copies | None = None
    known_keys: list[Keys] = field(default_factory=list)
    opened: list[Studio] = field(default_factory=list)
    stages: dict[tuple[StepNumber, float | None], Stage] = field(default_factory=dict)
    judged: dict[object, bool] = field(default_factory=dict)
    """Whether bodies look as they did, where that was asked."""

    def studio(self) -> Studio:
        """The studio of this process."""
        if not self.opened:
            order = self.order
            studio = Studio(order.plan, order.meshes, order.out_dir, self.light_copies())
            self.opened.append(self.stack.enter_context(studio))
        return self.opened[0]

    def section(self, name: str) -> Section:
        """A section by its id."""
        return next(section for section in self.order.plan.sections if section.id == name)

    def stage(self, step: Step, distance_mm: float | None = None) -> Stage:
        """The scene of a step with its parts a distance apart (`staged`), laid out once."""
        name = (step.number, distance_mm)
        if name not in self.stages:
            self.stages[name] = staged(self.studio(), step, distance_mm)
        return self.stages[name]

    @property
    def keys(self) -> Keys:
        """Keys of this book, made once in each process."""
        if not self.known_keys:
            order = self.order
            self.known_keys.append(Keys(order.plan, order.meshes, order.orders, order.marks))
        return self.known_keys[0]

    def light_copies(self) -> Copies:
        """Copies to draw, made once."""
        if self.copies is None:
            self.copies = light_copies(self.order.meshes, self.shelf)
        return self.copies
