"""A project with its plan."""

from __future__ import annotations

from dataclasses import dataclass

from assembler.figure.exposure import ExposureRow
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.plan import Plan
from assembler.project import Project
from assembler.projectfiles.memory import Memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A project with its plan and what the plan was made from."""

    project: Project
    stacks: tuple[Stack, ...]
    bondings: tuple[Bonding, ...]
    plan: Plan
    exposure: tuple[ExposureRow, ...]
    memory: Memory
