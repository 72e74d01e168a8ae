"""The typed rows of the tables: what a lookup in the catalogue gives back, each with its source and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assembler.words import Said, say


class Sureness(StrEnum):
    """How a table value was obtained; the value is the word in the data files."""

    READ = "V"
    SECOND_HAND = "V2"
    COMPUTED = "C"
    FROM_MEMORY = "M"
    COMMON_PRACTICE = "P"

    @property
    def label(self) -> Said:
        """The tag in the words that the book prints."""
        return say(f"sureness.{self.name.lower()}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A source that can be followed.

    Parameters
    ----------
    key
        How rows of tables and checks name it.
    how
        How it was read.
    author, title, place
        Who, what with its edition, and the clause, table or page; may be empty.
    address, read
        Public address, and the day it was read there; empty where there is none, or the day was not written down.
    text
        In short, for a line of a calculation.
    """

    key: str
    how: Sureness
    author: str
    title: str
    place: str
    address: str
    read: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What every row of every table carries.

    Parameters
    ----------
    how
        How sure the values are.
    source
        Where they come from, in words for the page.
    """

    how: Sureness
    source: str

    @property
    def tag(self) -> Said:
        """Source and sureness in one line, as printed beside a number."""
        return say("source.table", source=self.source, how=self.how.label)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread(Row):
    """Coarse metric thread of one size.

    Parameters
    ----------
    size
        'M8'.
    diameter_mm, pitch_mm
        Nominal diameter and coarse pitch.
    stress_area_mm2
        Nominal tensile stress area as the standard prints it.
    choice
        1 for preferred sizes, 2 for M14 and M18.
    """

    size: str
    diameter_mm: float
    pitch_mm: float
    stress_area_mm2: float
    choice: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength(Row):
    """Loads of one size in one property class.

    Parameters
    ----------
    property_class, size
        '8.8', 'M8'.
    proof_n, ultimate_n
        Proof load and ultimate tensile load (for stainless: at the 0.2 % proof stress).
    """

    property_class: str
    size: str
    proof_n: float
    ultimate_n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearanceHole(Row):
    """Clearance holes of one size.

    Parameters
    ----------
    size
        'M8', or '5/16 in'.
    fine_mm, medium_mm, coarse_mm
        Diameters of the three series.
    """

    size: str
    fine_mm: float
    medium_mm: float
    coarse_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Screw(Row):
    """Head and thread of one screw standard in one size.

    Parameters
    ----------
    standard, size
        'ISO 4017', 'M8'.
    across_flats_mm
        Of a hexagon head; 0 for socket heads.
    head_mm
        Nominal height of the head.
    head_outer_mm
        Largest width: across corners, or the greatest head diameter.
    key_mm
        Hexagon key; 0 for hexagon heads.
    thread_mm
        Length of thread of a partly threaded screw up to 125 mm; 0 when always threaded to the head.
    shortest_mm, longest_mm
        Range of lengths of this size.
    """

    standard: str
    size: str
    across_flats_mm: float
    head_mm: float
    head_outer_mm: float
    key_mm: float
    thread_mm: float
    shortest_mm: float
    longest_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Nut(Row):
    """A hexagon nut.

    Parameters
    ----------
    standard, size
        'ISO 4032', 'M8'.
    across_flats_mm, across_corners_mm
        Widths.
    height_mm
        Greatest height, the insert of a prevailing-torque nut included.
    """

    standard: str
    size: str
    across_flats_mm: float
    across_corners_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Washer(Row):
    """A plain washer.

    Parameters
    ----------
    standard, size
        'ISO 7089', 'M8'.
    inner_mm, outer_mm
        Nominal diameters.
    nominal_mm, greatest_mm
        Nominal and greatest thickness.
    """

    standard: str
    size: str
    inner_mm: float
    outer_mm: float
    nominal_mm: float
    greatest_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingDiameter(Row):
    """Outside diameter of the face that a head or nut presses with when there is no washer.

    Parameters
    ----------
    standard, size
        Of the screw or nut.
    diameter_mm
        Least value.
    """

    standard: str
    size: str
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PrevailingTorque(Row):
    """Greatest torque at which a new prevailing-torque nut turns before it clamps.

    Parameters
    ----------
    size
        'M8'.
    torque_nm
        First run on.
    """

    size: str
    torque_nm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Length(Row):
    """One length of a standard's series.

    Parameters
    ----------
    standard
        'ISO 4017'.
    length_mm
        Nominal length.
    """

    standard: str
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool(Row):
    """Room that a tool takes.

    Parameters
    ----------
    kind
        'socket', 'open-end spanner' or 'hexagon key'.
    across_flats_mm
        Width it fits.
    outer_mm
        Outside diameter of a socket, width of a spanner's head, width across corners of a key.
    length_mm
        Of socket, spanner or long arm of the key.
    swing_deg
        Angle that one stroke needs.
    """

    kind: str
    across_flats_mm: float
    outer_mm: float
    length_mm: float
    swing_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening(Row):
    """Opening that a part of the body passes.

    Parameters
    ----------
    measure
        'hand', 'flat hand', 'forearm', 'shoulder', 'both hands' or 'both arms to the shoulder'.
    glove
        'bare or light' or 'heavy'.
    width_mm, height_mm
        Of the smallest opening.
    """

    measure: str
    glove: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyMeasure(Row):
    """A measure of people, small (5th percentile woman) and large (95th percentile man).

    Parameters
    ----------
    measure
        'functional reach', ...
    small_mm, large_mm
        The two percentiles.
    """

    measure: str
    small_mm: float
    large_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TypicalMaterial(Row):
    """Typical figures of a material: a default to be replaced by the data sheet's.

    Parameters
    ----------
    name
        'PA12, sintered'.
    density_kg_m3, bearing_mpa
        Density as made, and long-term pressure under a washer.
    ballast_kg_m3
        Density where the mass holds the figure down; 0: the same.
    """

    name: str
    density_kg_m3: float
    ballast_kg_m3: float
    bearing_mpa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AdhesiveFamily(Row):
    """Typical figures of an adhesive family: a default to be replaced by the data sheet's.

    Parameters
    ----------
    family
        'two-part epoxy, slow'.
    bond_line_mm, waste, cartridge_ml
        Dosing.
    open_min, working_life_min, fixture_min, handling_min, full_cure_min
        Minutes at `sheet_c`.
    sheet_c, lowest_c, highest_c
        Temperature of the times, and the range of the temperature rule.
    """

    family: str
    bond_line_mm: float
    waste: float
    cartridge_ml: float
    open_min: float
    working_life_min: float
    fixture_min: float
    handling_min: float
    full_cure_min: float
    sheet_c: float
    lowest_c: float
    highest_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TransportAcceleration(Row):
    """Acceleration that a load has to stand on the road.

    Parameters
    ----------
    direction
        'forward', 'rear', 'side', 'side where it may tip' or 'down'.
    acceleration_g
        In multiples of standard gravity.
    """

    direction: str
    acceleration_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TeamShare(Row):
    """Share of the sum of what each can lift that a team may lift.

    Parameters
    ----------
    people
        Team size.
    share
        Of the sum.
    """

    people: int
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FrequencyMultiplier(Row):
    """One entry of the frequency table of the lifting equation.

    Parameters
    ----------
    height
        'below' or 'from' 75 cm (30 in) hand height at the origin.
    duration
        'short', 'moderate' or 'long'.
    lifts_min, multiplier
        Lifts a minute and FM.
    """

    height: str
    duration: str
    lifts_min: float
    multiplier: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteOperation(Row):
    """One operation of a finish route known by name: a default to be replaced by the data sheet's.

    Parameters
    ----------
    route
        'painted', or 'metal-loaded coat, cut back and polished'.
    name, on
        What is done, and on what: 'seams' or 'surface'.
    coverage_m2_l, groove_mm2
        Area that a litre covers in one coat; section filled along a seam; 0: not used.
    coats, wait_min
        Coats, and the wait after each.
    note
        For the page.
    """

    route: str
    name: str
    on: str
    coverage_m2_l: float
    groove_mm2: float
    coats: int
    wait_min: float
    note: str
