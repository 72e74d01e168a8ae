"""What the shop decides: keys, defaults and limits of the tables of figure.toml.

Here alone: the file is read by these records.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from assembler.figure.ids import PartId
from assembler.figure.parts import Vector
from assembler.figure.records import key
from assembler.figure.tolerances import Tolerances

Positive = Annotated[float, Field(gt=0, le=1e9)]
NotNegative = Annotated[float, Field(ge=0, le=1e9)]
Cure = Annotated[float, Field(gt=0, le=1e6)]
"""Minutes until an adhesive has a strength: no workshop waits two years, and they are added up day by day."""
Count = Annotated[int, Field(ge=0, le=10_000)]
Reach = Annotated[float, Field(ge=0, le=5000)]
"""Length of something of a human body, mm."""
Celsius = Annotated[float, Field(ge=-40, le=80)]
Box = tuple[Positive, Positive, Positive]
Name = Annotated[str, Field(min_length=1, max_length=200)]
"""It stands in running heads and in square codes."""


class BaseWhen(StrEnum):
    """When the figure meets its base."""

    FIRST = "first"
    AFTER_FINISH = "after finish"


class Glove(StrEnum):
    """What the hand that has to pass an opening wears."""

    LIGHT = "bare or light"
    HEAVY = "heavy"


class Assumed(StrEnum):
    """What no mesh tells and the first survey assumes, in the order of what it costs to be wrong."""

    BASE = "base"
    UNBOLTED = "unbolted"
    METHOD = "method"
    PLACE = "place"
    MATERIAL = "material"
    ADHESIVE = "adhesive"
    PASSAGES = "passages"
    PEOPLE = "people"


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A material that parts are made of.

    Parameters
    ----------
    name
        As in figure.toml.
    density_kg_m3
        Of the part as made (for filament parts: walls and infill, not the solid polymer).
    ballast_kg_m3
        The least it may weigh, for what holds the figure down; 0: the same as `density_kg_m3`.
    bearing_mpa
        Pressure under a washer that the material carries for long; from the shop's data sheet.
    source
        Where the numbers come from; printed.

    Notes
    -----
    Effect: masses, lifts, tipping, and the torque that bearing under the washer allows.
    Source: typical values from memory, until yours replace them.
    """

    name: str
    density_kg_m3: Positive
    ballast_kg_m3: NotNegative = 0.0
    bearing_mpa: Positive
    source: str = "stated by the shop"

    @property
    def ballast_share(self) -> float:
        """Share of the mass that is sure to hold the figure down."""
        return min(1.0, self.ballast_kg_m3 / self.density_kg_m3) if self.ballast_kg_m3 else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareChoice:
    """Kinds of hardware, named by their standards.

    Parameters
    ----------
    screw
        Standard of the screws.
    nut
        Standard of the nuts.
    washer
        Standard of the washers.
    property_class
        Of the screws.
    spares_percent
        Spares added to each size, rounded up.
    spares_least
        Spares added to each size at least.
    pack
        Pieces in a pack, for the buying list.
    stock_lengths_mm
        Lengths the shop has; empty: all of the standard's.
    nut_factor
        K of T = K F d.
    corrosion
        What keeps the hardware from rusting ('A2', 'zinc flake'); empty: nobody has decided.
    locking
        What keeps nuts of unbonded joints from coming loose ('ISO 7040', 'threadlocker'); empty: nobody has decided.

    Notes
    -----
    Effect: size, length and torque of every bolt, bags, buying list, room for tools.
    Source: common practice; sizes follow from the holes by ISO 273.
    """

    screw: Literal["ISO 4014", "ISO 4017", "ISO 4762", "ISO 7380-1"] = "ISO 4017"
    nut: Literal["ISO 4032", "ISO 7040"] = "ISO 4032"
    washer: Literal["ISO 7089", "ISO 7093-1"] = "ISO 7089"
    property_class: Literal["8.8", "A2-70"] = "8.8"
    spares_percent: NotNegative = 5.0
    spares_least: Count = 2
    pack: Annotated[int, Field(ge=1, le=10_000)] = 50
    stock_lengths_mm: tuple[Positive, ...] = ()
    nut_factor: Annotated[float, Field(gt=0.05, lt=0.5)] = 0.2
    corrosion: str = ""
    locking: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Adhesive:
    """An adhesive, with the times of its data sheet at the sheet's temperature.

    Parameters
    ----------
    name
        A generic family or the shop's own name for its product.
    bond_line_mm
        Thickness that the plan doses for.
    waste
        Share added for mixer, nozzle and squeeze-out (0.3 = 30 %).
    cartridge_ml
        Content of one cartridge or set.
    open_min
        Minutes from applying to closing the joint, at `sheet_c`.
    working_life_min
        Minutes from mixing until it is too thick, at `sheet_c`.
    fixture_min
        Minutes until parts no longer slip, at `sheet_c`.
    handling_min
        Minutes until clamps may come off and the joint may be loaded, at `sheet_c`: the hold.
    full_cure_min
        Minutes until all of its strength is there, at `sheet_c`.
    sheet_c
        Temperature the times are given for.
    lowest_c
        Coldest at which the rule for other temperatures may be used; colder: do not glue.
    highest_c
        Warmest at which the rule for other temperatures may be used; warmer: do not glue.
    strength_mpa
        Lap shear strength on this material that the shop states; 0: not stated.
    peel_mpa
        Tensile stress at the edge of a bond that the shop states; 0: not stated, a share of the shear strength counts.
    handling_mpa
        Strength that a joint has at the end of its hold.
    spacer
        What keeps the bond line open under the bolts ('0.3 mm glass beads'); empty: nothing stated.
    source
        Where the numbers come from; printed.

    Notes
    -----
    Effect: holds and their clocks, which joints fit one mix, cartridges, the calendar, what a bond carries.
    Source: typical values from memory, until those of your data sheet replace them; the data sheet rules.
    """

    name: Name
    bond_line_mm: Positive
    waste: NotNegative
    cartridge_ml: Positive
    open_min: Positive
    working_life_min: Positive
    fixture_min: Cure
    handling_min: Cure
    full_cure_min: Cure
    sheet_c: Celsius = 23.0
    lowest_c: Celsius = 10.0
    highest_c: Celsius = 35.0
    strength_mpa: NotNegative = 0.0
    peel_mpa: NotNegative = 0.0
    handling_mpa: Positive = 0.2
    spacer: str = ""
    source: str = "stated by the shop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """Who builds.

    Parameters
    ----------
    people
        Hands there at once.
    glove
        Default glove for openings.
    hand_opening_mm
        The shop's own measured opening for a hand; 0: the built-in one.
    forearm_opening_mm
        The shop's own measured opening for a forearm; 0: the built-in one.
    upper_arm_opening_mm
        The shop's own measured opening for an upper arm (deeper than a forearm is long); 0: the built-in one.
    reach_mm
        From the shoulder at the opening to the middle of a hand that holds a nut.
    lift_one_kg
        The shop's own limit for one person; 0: what the lifting equation gives.
    fetch_min
        Minutes to walk for what moves and place it.
    second_person_min
        Minutes for each further person at a lift.
    hoist_min
        Minutes to rig a hoist, lift and unrig.
    dry_fit_min
        Minutes to fit what moves dry and take it off.
    prepare_mm2_min
        Area that one person abrades and degreases in a minute.
    mask_mm_min
        Length that one person masks in a minute.
    mix_min
        Minutes to fit a nozzle, purge it and mix.
    spread_mm2_min
        Area of adhesive that one person spreads in a minute.
    close_min
        Minutes to bring wet faces together.
    bolt_min
        Minutes to fit one bolt finger tight.
    round_min
        Minutes for one bolt and round of tightening.
    inside_factor
        How many times as long a bolt takes half a metre inside.
    wipe_mm_min
        Length of seam that one person wipes and frees of tape in a minute.
    prop_min
        Minutes to set a prop.
    turn_min
        Minutes to turn what stands, besides the people or the hoist.
    team
        People who work at one joint together.
    day_start_h
        Hour at which work begins, where no shifts are stated.
    day_end_h
        Hour at which work ends, where no shifts are stated.
    shifts_h
        From and to of each shift, hours of the day; empty: one from `day_start_h` to `day_end_h`.
    seam_mm_min
        Length of seam that one person fills or sands in a minute.
    coat_mm2_min
        Area that one person coats in a minute.

    Notes
    -----
    Effect: who can lift and reach what, whether a joint closes within the open time, the calendar.
    Source: rates are common practice, no source; sizes of hands and the lifting equation are published.
    """

    people: Annotated[int, Field(ge=1, le=20)] = 2
    glove: Glove = Glove.LIGHT
    hand_opening_mm: Reach = 0.0
    forearm_opening_mm: Reach = 0.0
    upper_arm_opening_mm: Reach = 0.0
    reach_mm: Annotated[Reach, Field(gt=0)] = 550.0
    lift_one_kg: NotNegative = 0.0
    fetch_min: Positive = 3.0
    second_person_min: Positive = 3.0
    hoist_min: Positive = 60.0
    dry_fit_min: Positive = 6.0
    prepare_mm2_min: Positive = 4000.0
    mask_mm_min: Positive = 600.0
    mix_min: Positive = 4.0
    spread_mm2_min: Positive = 15000.0
    close_min: Positive = 2.0
    bolt_min: Positive = 0.8
    round_min: Positive = 0.3
    inside_factor: Annotated[float, Field(ge=1, le=20)] = 1.5
    wipe_mm_min: Positive = 300.0
    prop_min: Positive = 8.0
    turn_min: Positive = 10.0
    seam_mm_min: Positive = 60.0
    coat_mm2_min: Positive = 60000.0
    team: Annotated[int, Field(ge=1, le=4)] = 2
    day_start_h: Annotated[float, Field(ge=0, lt=24)] = 8.0
    day_end_h: Annotated[float, Field(gt=0, le=24)] = 17.0
    shifts_h: tuple[tuple[Annotated[float, Field(ge=0, lt=24)], Annotated[float, Field(gt=0, le=24)]], ...] = ()

    @property
    def shifts(self) -> tuple[tuple[float, float], ...]:
        """From and to of each shift, hours of the day, in their order."""
        return tuple(sorted(self.shifts_h)) or ((self.day_start_h, self.day_end_h),)

    @property
    def hours_h(self) -> tuple[float, float]:
        """From when to when somebody works on a working day."""
        return self.shifts[0][0], self.shifts[-1][1]


Date = Annotated[str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$")]
Weekday = Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
WEEKDAYS: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the shop wants of the calendar.

    Parameters
    ----------
    first_day
        Date of day 1; empty: days are counted only.
    deadline
        Last day for the end of all; empty: not stated.
    weekdays
        Days on which work is done.
    days_off
        Dates on which no work is done.
    not_before
        Pairs (part, ISO date): the part is not there earlier.
    places
        Places of the floor on which something can be built or cure; 0: as many as it takes.
    hoists
        Hoists that can be used at once.
    warm_c
        Temperature to which joints could be warmed, for what would shorten the calendar; 0: not asked.

    Notes
    -----
    Effect: the calendar and every date in the books.
    Source: common practice, no source.
    """

    first_day: Date = ""
    deadline: Date = ""
    weekdays: Annotated[tuple[Weekday, ...], Field(min_length=1)] = ("Mon", "Tue", "Wed", "Thu", "Fri")
    days_off: tuple[Date, ...] = ()
    not_before: tuple[tuple[PartId, Date], ...] = ()
    places: Count = 0
    hoists: Annotated[int, Field(ge=1, le=100)] = 1
    warm_c: Celsius = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Temperatures of the parts, degrees Celsius.

    Parameters
    ----------
    shop_c
        In the shop, at work.
    night_min_c
        In the shop, the coldest of a night.
    site_c
        On site, at work.
    night_site_c
        On site, the coldest of a night; needed where a joint is glued there.

    Notes
    -----
    Effect: open times and holds of every bonded joint.
    Source: assumed, until you measure.
    """

    shop_c: Celsius = 20.0
    night_min_c: Celsius = 16.0
    site_c: Celsius = 15.0
    night_site_c: Celsius | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelopes:
    """What parts and sections have to fit; None: not stated.

    Parameters
    ----------
    printer_mm
        What the printer can make.
    section_max_kg
        The heaviest section that can be handled on the way and on site.

    Notes
    -----
    Effect: findings about parts that do not fit; where the figure is divided into sections.
    Source: not stated, until you measure.
    """

    printer_mm: Box | None = None
    section_max_kg: Positive | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """A door, gate, lift or corridor on the way from the shop to the place.

    Parameters
    ----------
    name
        As on the pages ('gate of the yard').
    width_mm
        Clear width at its narrowest.
    height_mm
        Clear height at its lowest.
    turn_mm
        Where a right-angled corner follows: clear width of the way behind the corner; 0: straight on.

    Notes
    -----
    Effect: where the figure is divided into sections; the way in, in the install book.
    Source: not stated, until you measure.
    """

    name: Name
    width_mm: Positive
    height_mm: Positive
    turn_mm: NotNegative = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """What carries the sections.

    Parameters
    ----------
    length_mm
        Clear length inside.
    width_mm
        Clear width inside.
    height_mm
        Clear height inside, at the door.
    payload_kg
        What may be loaded, crates and lashings included.

    Notes
    -----
    Effect: where the figure is divided into sections; the loading plan.
    Source: not stated; the papers of the vehicle have them.
    """

    length_mm: Positive
    width_mm: Positive
    height_mm: Positive
    payload_kg: Positive


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnSection:
    """A section as the shop wants it.

    Parameters
    ----------
    name
        Your own name for it.
    parts
        Ids of its parts; all sections together have every part once.

    Notes
    -----
    Effect: joints between sections are closed on site.
    Source: nothing is wished until you do; the program then finds the fewest sections.
    """

    name: Name
    parts: Annotated[tuple[PartId, ...], Field(min_length=1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """What the figure stands on.

    Parameters
    ----------
    when
        Whether the figure is built on its base or mounted when finished.
    part
        The part that is the base; None: the base has no mesh.
    size_mm
        Of a base without a mesh; 0 otherwise.
    mass_kg
        Of a base without a mesh; 0 otherwise.
    anchors
        Number of ground anchors as planned by whoever is responsible for them.
    anchor_size
        Their size.
    anchors_at_mm
        Their places, frame of the mesh files; empty: not stated.

    Notes
    -----
    Effect: what the figure is built on, whether it tips, the loads on its anchors.
    Source: assumed, until you decide.
    """

    when: BaseWhen = BaseWhen.FIRST
    part: Annotated[PartId | None, BeforeValidator(lambda name: name or None)] = None
    size_mm: tuple[NotNegative, NotNegative, NotNegative] = (0.0, 0.0, 0.0)
    mass_kg: NotNegative = 0.0
    anchors: Count = 0
    anchor_size: str = ""
    anchors_at_mm: tuple[Vector, ...] = ()

    @property
    def is_stated(self) -> bool:
        """Whether the mass of a base is stated, or how wide it is."""
        return bool(self.mass_kg or all(self.size_mm[:2]))

    @property
    def is_floor(self) -> bool:
        """Whether nothing is named that the figure stands on or that holds it: it stands on the floor."""
        return not (self.part or self.is_stated or self.anchors)


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishOperation:
    """One operation of the finish route.

    Parameters
    ----------
    name
        What is done.
    on
        On what it is done.
    coverage_m2_l
        Area one litre covers in one coat; 0: no product is used.
    groove_mm2
        Cross-section filled along a seam; 0 for an operation on the surface.
    coats
        How many.
    wait_min
        Minutes to wait after each coat.
    note
        Text for the page.

    Notes
    -----
    Effect: pages, products and days of the finish.
    Source: typical values from memory.
    """

    name: Name
    on: Literal["seams", "surface"]
    coverage_m2_l: NotNegative = 0.0
    groove_mm2: NotNegative = 0.0
    coats: Annotated[int, Field(ge=1, le=100)] = 1
    wait_min: NotNegative = 0.0
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pins:
    """What the user wants of the order.

    Parameters
    ----------
    after
        Pairs (later, earlier).
    apart
        Groups of parts to build apart and bring in as one.
    """

    after: tuple[tuple[PartId, PartId], ...] = ()
    apart: tuple[tuple[PartId, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Logo:
    """A picture file of the shop's.

    Parameters
    ----------
    media_type
        'image/svg+xml' or 'image/png'.
    data
        The file.
    """

    media_type: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRule:
    """What figure.toml says of single parts; None: the default.

    Parameters
    ----------
    material
        One of [materials].
    printed
        Whether the shop prints it; what is bought or built otherwise is not held against the printer.

    Notes
    -----
    Effect: mass of the part, and the torque that bearing under the washer allows.
    Source: assumed, until you decide.
    """

    material: str | None = None
    is_printed: Annotated[bool | None, key("printed")] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All that the shop decides for one figure.

    Parameters
    ----------
    name, client, revision, date
        For the cover. `date` is ISO 8601 or empty.
    unit_mm
        Length of one unit of the mesh files that state none, mm; None: not stated.
    up
        Unit vector, frame of the mesh files.
    front
        Unit vector that the figure faces, frame of the mesh files: left and right in the book are its own.
    moved_mm
        How far the mesh files lie from where those of the first survey lay: a shift that is meant.
    shop_name, shop_contact
        For the cover; may be empty.
    materials, default_material
        By name.
    parts
        Rules for single parts, by id.
    adhesive, hardware, crew, wishes, climate, envelopes, base, finish, pins, tolerances
        See the records.
    passages, vehicle, own_sections
        The way from the shop to the place; empty and None: everything passes everywhere.
    seam_step_mm
        Greatest step across a closed seam that the finish takes up.
    work_on_bolts
        Loads a fresh joint where the engineering shows that the bolts alone carry it.
    sheet
        'A4' or 'Letter'.
    cautions
        The shop's own extra cautions.
    has_inches
        Prints inch, pound and degree Fahrenheit beside the metric values.
    logo
        The shop's logo for the cover; None: none.
    labels
        Stock labels by their size in mm ('99.1 x 57'); empty: a usual size for the sheet.
    assumed
        What the first survey assumed and nobody has decided yet.
    """

    name: str
    client: str = ""
    revision: str = "A"
    date: str = ""
    unit_mm: float | None = None
    up: Vector = (0.0, 0.0, 1.0)
    front: Vector = (0.0, -1.0, 0.0)
    moved_mm: Vector = (0.0, 0.0, 0.0)
    shop_name: str = ""
    shop_contact: str = ""
    materials: dict[str, Material] = field(default_factory=dict)
    default_material: str = ""
    parts: dict[PartId, PartRule] = field(default_factory=dict)
    adhesive: Adhesive
    hardware: HardwareChoice = HardwareChoice()
    crew: Crew = Crew()
    wishes: Wishes = Wishes()
    climate: Climate = Climate()
    envelopes: Envelopes = Envelopes()
    passages: tuple[Passage, ...] = ()
    vehicle: Vehicle | None = None
    own_sections: tuple[OwnSection, ...] = ()
    base: Base = Base()
    finish: tuple[FinishOperation, ...] = ()
    finish_route: str = ""
    seam_step_mm: float = 0.5
    pins: Pins = Pins()
    tolerances: Tolerances = Tolerances()
    work_on_bolts: bool = False
    sheet: str = "A4"
    cautions: tuple[str, ...] = ()
    has_inches: bool = False
    logo: Logo | None = None
    labels: str = ""
    assumed: tuple[Assumed, ...] = ()

    @property
    def has_way(self) -> bool:
        """Whether anything is stated that decides into which sections the figure is divided."""
        return bool(self.passages or self.vehicle or self.own_sections or self.envelopes.section_max_kg)

    def material_of(self, part: PartId) -> Material:
        """Material of a part.

        Raises
        ------
        KeyError
            If figure.toml names a material that it does not define (the file reader refuses that earlier).
        """
        rule = self.parts.get(part)
        name = rule.material if rule and rule.material else self.default_material
        return self.materials[name]
