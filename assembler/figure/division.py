"""How a figure is divided for its way from the shop to the place, and how each section passes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from assembler.figure.ids import JointId, PartId
from assembler.figure.parts import Vector
from assembler.figure.records import NOT_NEGATIVE, Spoken, digits, key


@dataclass(frozen=True, slots=True, kw_only=True)
class Passing:
    """How a section passes one place of the way.

    Parameters
    ----------
    place
        Name of the passage, or the vehicle.
    size_mm
        Length, width and height as it is carried.
    up
        Direction of the section that is up then, frame of the figure.
    is_standing
        Whether it stands as in the figure.
    """

    place: Spoken
    size_mm: Annotated[Vector, digits(1)]
    up: Annotated[Vector, digits(6)]
    is_standing: Annotated[bool, key("standing")]


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionWay:
    """A section on its way.

    Parameters
    ----------
    parts
        Its parts.
    name
        As the shop calls it; empty where the program found it.
    mass_kg
        Of its parts.
    passings
        Each passage in the order of figure.toml.
    """

    parts: tuple[PartId, ...]
    name: str = ""
    mass_kg: Annotated[float, NOT_NEGATIVE, digits(3)]
    passings: tuple[Passing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Division:
    """Into which sections a figure is divided, and what was weighed for it.

    Parameters
    ----------
    sections
        In the order in which they are set up: what stands on the ground first.
    cuts
        Joints that are closed on site for it.
    weighed
        Sets of parts that were held against the way.
    least
        No division has fewer sections.
    is_stated
        Whether the shop stated the sections.
    blocked
        Why joints were no cuts, by joint.
    """

    sections: tuple[SectionWay, ...]
    cuts: tuple[JointId, ...]
    weighed: Annotated[int, NOT_NEGATIVE]
    least: Annotated[int, NOT_NEGATIVE]
    is_stated: Annotated[bool, key("stated")] = False
    blocked: tuple[tuple[JointId, Spoken], ...] = ()

    @property
    def is_fewest(self) -> bool:
        """Whether it is proven that fewer sections are impossible."""
        return len(self.sections) <= self.least
