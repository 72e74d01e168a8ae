"""What goes on to the vehicle: crates, what they are made of, where they stand, what holds them."""

from __future__ import annotations

from dataclasses import dataclass

from assembler.figure.ids import PartId, SectionId
from assembler.figure.parts import Vector
from assembler.words import Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """How a section lies in its crate.

    Parameters
    ----------
    up, along
        Directions of the section that are up and along the crate, unit vectors, frame of the figure.
    size_mm
        Length, width, height of the section in this position.
    centre_mm
        Its centre of mass from the corner of that box.
    is_standing
        Whether it stands as in the figure.
    borne_mm2
        Area of its underside that lies in the bed.
    tip_deg
        Lean that tips it over the edge of that area.
    cradles_mm
        Along the crate, from its inner end: middle of each cradle.
    shares
        Share of the mass on each cradle.
    """

    up: Vector
    along: Vector
    size_mm: Vector
    centre_mm: Vector
    is_standing: bool
    borne_mm2: float
    tip_deg: float
    cradles_mm: tuple[float, float]
    shares: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Timber:
    """Pieces of one cut: boards by length, sheets by length and width (then `width_mm` is not 0)."""

    name: str
    section: str
    count: int
    length_mm: float
    width_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tipping:
    """In which direction a crate tips before the vehicle's acceleration is reached.

    Parameters
    ----------
    direction
        'forward', 'rear', 'left' or 'right' of the vehicle.
    stands_g
        At which it tips over the edge on that side.
    asked_g
        What it has to stand.
    """

    direction: str
    stands_g: float
    asked_g: float

    @property
    def is_safe(self) -> bool:
        """Whether it stands by itself."""
        return self.stands_g >= self.asked_g


@dataclass(frozen=True, slots=True, kw_only=True)
class Straps:
    """Straps over the top of one crate, of one standard tension force.

    Parameters
    ----------
    sliding_forward, sliding_side
        Straps that friction asks for where nothing blocks.
    tipping
        Straps that tipping asks for.
    blocked
        Straps where front and sides are blocked: what tipping asks for, one at least.
    """

    sliding_forward: int
    sliding_side: int
    tipping: int
    blocked: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Crate:
    """A crate with one section.

    Parameters
    ----------
    id
        'C1'.
    section, parts
        What is in it.
    loose
        Single light parts of other sections that travel in it, wrapped and tied down.
    bed
        How it lies.
    inner_mm, outer_mm
        Length, width, height.
    net_kg, gross_kg
        Without and with the crate.
    centre_mm
        Centre of mass of the whole from the outer corner, frame of the crate.
    timber
        What it is made of.
    boards_m, sheets
        To buy, waste included.
    forces_n
        Blocking forces forward, to the rear and to each side.
    lift
        Who or what lifts it, in words.
    people
        0 for a hoist or a fork.
    """

    id: str
    section: SectionId
    parts: tuple[PartId, ...]
    loose: tuple[PartId, ...] = ()
    bed: Bed
    inner_mm: Vector
    outer_mm: Vector
    net_kg: float
    gross_kg: float
    centre_mm: Vector
    timber: tuple[Timber, ...]
    boards_m: float
    sheets: int
    forces_n: tuple[float, float, float]
    lift: Text
    people: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stowed:
    """Where a crate stands on the vehicle.

    Parameters
    ----------
    crate
        Its id.
    at_mm
        From the front wall, and from the left one, to its nearest corner.
    is_turned
        Whether its length lies across the vehicle.
    tipping
        By direction of the vehicle.
    straps
        What holds it; None where no number holds it by friction alone and it has to be blocked.
    """

    crate: str
    at_mm: tuple[float, float]
    is_turned: bool
    tipping: tuple[Tipping, ...]
    straps: Straps


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """One load of the vehicle.

    Parameters
    ----------
    stowed
        Crates, from the front wall.
    mass_kg
        Of them.
    centre_mm
        Of their mass: from the front wall and from the left one.
    """

    stowed: tuple[Stowed, ...]
    mass_kg: float
    centre_mm: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Consignment:
    """Everything that leaves the shop.

    Parameters
    ----------
    crates
        In the order in which their sections are set up.
    trips
        Loads of the vehicle; empty where none is stated.
    """

    crates: tuple[Crate, ...]
    trips: tuple[Trip, ...] = ()
