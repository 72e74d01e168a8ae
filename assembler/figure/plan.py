"""The plan: steps in order, with everything a page or a check needs to know of them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated

from pydantic import Field, computed_field

from assembler.figure.calendar import Calendar
from assembler.figure.division import Division
from assembler.figure.findings import Finding
from assembler.figure.hardware import Bonding, HardwareLine, Stack
from assembler.figure.ids import BenchId, BoltId, JointId, PartId, SectionId, StepNumber
from assembler.figure.joints import Joint, Place
from assembler.figure.parts import Part, Vector
from assembler.figure.records import FILLED, NOT_NEGATIVE, SPOKEN, UNWRITTEN, Safety, Spoken, digits, key


class StepKind(StrEnum):
    """What a step is for."""

    DRY_FIT = "dry fit"
    JOIN = "join"
    TURN = "turn"
    BASE = "base"
    FINISH = "finish"
    PACK = "pack"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """How one bolt is reached when its joint is closed.

    Parameters
    ----------
    bolt
        The bolt.
    head_part, nut_part
        Parts that head and nut sit on: planning decides.
    head_end
        0 when the head sits on the start of the axis (`through[0]`), 1 when on its end.
    tool
        Tool on the head side, with its size.
    head, nut
        How each end is reached, in words ('from above, through the open top', 'captive', 'out of reach').
    reach_mm
        Longest way of a hand inside the hollow to either end; 0 when both ends lie outside.
    is_reachable
        Whether both ends are served at once.
    """

    bolt: BoltId
    head_part: PartId
    nut_part: PartId
    head_end: Annotated[int, Field(ge=0, le=1)]
    tool: Spoken
    head: Spoken
    nut: Spoken
    reach_mm: Annotated[float, NOT_NEGATIVE, digits(1)]
    is_reachable: Annotated[bool, key("ok")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A wait that a step starts.

    Parameters
    ----------
    minutes
        Until handling strength of the slowest joint, closed at the worst minute of a working day.
    joints
        Joints that cure.
    before
        Steps that must not begin earlier.
    reason
        In words, for the page.
    clocks
        Closed by and free from, for the start, the middle and the end of a working day: ('17:00', '08:40 +1').
    """

    minutes: Annotated[float, NOT_NEGATIVE, digits(1)]
    joints: tuple[JointId, ...]
    before: tuple[StepNumber, ...]
    reason: Spoken
    clocks: Annotated[tuple[tuple[str, str], ...], FILLED] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """What a step has to wait for: joint, the step that closed it; whether its bolts alone would carry the load."""

    joint: JointId
    step: StepNumber
    bolts_carry: Annotated[bool, FILLED] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OnBolts:
    """A fresh bonded joint that a step loads because its bolts carry it alone (`work_on_bolts`).

    Parameters
    ----------
    joint
        The joint.
    slip_safety, gap_safety
        Of the bolts alone under that load; infinite without such a load.
    """

    joint: JointId
    slip_safety: Safety
    gap_safety: Safety


class LiftedBy(StrEnum):
    """What holds a load in the air."""

    HANDS = "hands"
    HOIST = "hoist"
    STANDS = "stands"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """The heaviest thing that leaves the ground in a step, what stands included.

    Parameters
    ----------
    mass_kg, centre_mm
        Of what is lifted, at its place in the figure.
    people
        People needed; 0 when it takes a hoist.
    rule
        Why, in words ('23.1 kg, above 15.3 kg for two: hoist').
    parts
        What is lifted.
    by
        What holds it in the air; on stands it is put by the people, or by a hoist where `people` is 0.
    height_mm
        Free height that it takes: of its lower end above the ground or the bench.
    """

    mass_kg: Annotated[float, NOT_NEGATIVE, digits(3)]
    people: Annotated[int, NOT_NEGATIVE]
    centre_mm: Annotated[Vector, digits(1)]
    rule: Spoken
    parts: tuple[PartId, ...] = ()
    by: LiftedBy = LiftedBy.HANDS
    height_mm: Annotated[float, digits(1)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A trestle or a pile of blocks under what is lifted on stands.

    Parameters
    ----------
    at_mm
        Where it touches the work from below, frame of the mesh files.
    height_mm
        From the ground up to there.
    """

    at_mm: Annotated[Vector, digits(1)]
    height_mm: Annotated[float, NOT_NEGATIVE, digits(1)]


class CarriedBy(StrEnum):
    """What the things that stand rest on while others arrive."""

    GROUND = "ground"
    BASE = "base"
    BENCH = "bench"
    BED = "bed"
    STANDS = "stands"
    HOIST = "hoist"
    HANDS = "hands"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stability:
    """How what stands after the step stands.

    Parameters
    ----------
    tip_deg
        Smallest angle that tips it; negative when its centre of mass is outside its support.
    needs_prop
        Whether it has to be held or propped.
    reason
        In words; empty when it simply stands.
    is_prop_kept
        Whether the prop stays when every hold has ended: until it is anchored.
    overhang_mm
        How far the centre of mass lies outside the feet; 0 where it does not.
    toward
        Level unit vector in which it falls; zeros where it does not.
    moment_nm
        About the edge over which it falls.
    push_n
        Level push at shoulder height that tips or slides it unfixed; 0 where it does not reach up there, or falls.
    push_slides
        Whether that push slides it rather than tips it.
    """

    tip_deg: Annotated[float, digits(2)]
    needs_prop: bool
    reason: Spoken
    is_prop_kept: Annotated[bool, key("prop_kept")] = False
    overhang_mm: Annotated[float, NOT_NEGATIVE, digits(1)] = 0.0
    toward: Annotated[Vector, digits(6)] = (0.0, 0.0, 0.0)
    moment_nm: Annotated[float, NOT_NEGATIVE, digits(3)] = 0.0
    push_n: Annotated[float, NOT_NEGATIVE, digits(1), FILLED] = 0.0
    push_slides: Annotated[bool, FILLED] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One straight movement; the parts move along `direction` by `travel_mm` to reach the next leg's start.

    Parameters
    ----------
    direction
        Unit vector of the movement.
    travel_mm
        Length.
    """

    direction: Annotated[Vector, digits(9)]
    travel_mm: Annotated[float, NOT_NEGATIVE, digits(3)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """A turning movement into place, after the straight ones.

    Parameters
    ----------
    axis
        Unit vector of the line that the parts turn about.
    at_mm
        A point on it, in the frame of the figure.
    degrees
        By the right-hand rule; turning back by as much gives where the straight movement ends.
    """

    axis: Annotated[Vector, digits(9)]
    at_mm: Annotated[Vector, digits(3)]
    degrees: Annotated[float, digits(3)]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """How the picture of a step was taken and what it shows; zeros before it is drawn.

    `mating_visible` is measured on the picture, `mating_searched` on the small buffer in which the view was chosen.
    """

    eye: Annotated[Vector, digits(6)] = (0.0, 0.0, 0.0)
    up: Annotated[Vector, digits(6)] = (0.0, 0.0, 1.0)
    explode_mm: Annotated[float, digits(1)] = 0.0
    new_visible: Annotated[float, digits(4)] = 0.0
    mating_visible: Annotated[float, digits(4)] = 0.0
    mating_searched: Annotated[float, digits(4)] = 0.0
    label_overlaps: int = 0
    turned_deg: Annotated[float, digits(2)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Instead:
    """What else could have come at the place of a step, and what that was weighed at."""

    moves: tuple[PartId, ...]
    minutes: Annotated[float, NOT_NEGATIVE, digits(1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherOrder:
    """The cheapest order of a bench that does without a step, among all that the search looked at.

    Parameters
    ----------
    dearer_min
        How much dearer it is weighed than the order that was chosen; negative where the calendar decided against it.
        None: none of those looked at does without it.
    """

    dearer_min: Annotated[float, digits(1)] | None = None


class Grounding(StrEnum):
    """What a step does that brings what stands to its ground."""

    LEVELLED = "the base is set down and levelled"
    STOOD = "a base without a mesh is set down and levelled, and what stands is stood on it"
    PLACED = "what stands is stood at its place and bolted to its anchors"
    BOLTED = "what stands at its place already is bolted to its anchors"
    FLOOR = "what stands is stood at its place on the floor, which no base and no anchor holds it to"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What the title of a planned step is made of, see `titles`.

    Parameters
    ----------
    names
        What moves or is turned, part by part as the labels name it.
    bench
        The bench on which that was joined or stands, where the title speaks of it as of one piece.
    onto
        Parts that it meets; empty for what is set down on the ground.
    lying
        How the work lies after a turn.
    unit
        What they are called together; empty where their names share no word.
    is_standing
        Whether it is several parts that stand together, and were joined on no bench of their own.
    raised
        What stands and is lifted for it, where it goes in from below.
    raised_mm
        By how much that is lifted.
    grounding
        What a step without movement does at the ground; None for other steps.
    """

    names: tuple[str, ...] = ()
    bench: BenchId | None = None
    onto: tuple[PartId, ...] = ()
    lying: Spoken = ""
    unit: str = ""
    is_standing: bool = False
    raised: Heading | None = None
    raised_mm: float = 0.0
    grounding: Grounding | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """That a step was carried out: when, at which temperature, from which book, and why otherwise than it says."""

    at: datetime.datetime
    temperature_c: float
    book: str
    although: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the build.

    Parameters
    ----------
    number, title, kind
        `number` is printed; it may be '12a' in a later revision.
    heading
        What the title is made of; None where it is text of its own (issued books, finish).
    place, bench, section
        Where it is done and which section it belongs to.
    after
        Steps that must be done before (not only the last one).
    up
        Direction that is up on the bench, in the frame of the figure.
    moves, onto
        Parts that move in, and everything else that stands on that bench.
    path
        Legs of the movement in the order in which they are carried out; the last is the closing one. Empty for a
        step without movement.
    swing
        The turn that ends the movement, or None.
    joints
        Joints closed for good in this step.
    hardware, stacks, adhesive
        For the joints of this step.
    hold
        Wait that the step starts, or None.
    gates
        Holds this step has to wait for.
    on_bolts
        Fresh joints that it loads on their bolts alone.
    lift, stability, access
        See the records. `lift` is None when nothing is lifted.
    shuts
        Bolts of earlier steps that nobody reaches any more once this one is done, by the access model.
    carried_by
        What holds the things that stood before the step while it is carried out: the ground, a bench, stands; hands or
        a hoist where they are lifted off and set down on what arrives. None in steps that bring nothing in.
    stands
        Under what is lifted on stands; empty in other steps.
    costs
        Minutes by which the step was weighed against others, by name.
    instead
        What else could have come here, and what that would have cost in minutes; empty where nothing could.
    other_order
        What the next best order of its bench is weighed at; None where no choice was weighed.
    minutes
        Working time without the hold.
    start_min, end_min
        On the calendar, minutes since the midnight before day 1; minutes from the start where there is no calendar.
    free_min
        When the slowest joint of its hold may be loaded, the same way; 0 where nothing is held.
    starts, ends, frees
        The same as local date and time; empty where there is no calendar.
    workers
        Who works on it, by letter.
    is_critical
        Whether a delay here delays the whole.
    why
        What forced this place in the order, one line each.
    notes
        Further lines for the page, imperative mood.
    view, image
        Filled in by drawing; file name of the picture.
    done
        What the as-built log says of it; None for a step that is still to be carried out.
    """

    number: StepNumber
    title: Spoken
    kind: StepKind
    place: Place
    bench: BenchId
    section: SectionId
    after: tuple[StepNumber, ...] = ()
    up: Annotated[Vector, digits(6)] = (0.0, 0.0, 1.0)
    moves: tuple[PartId, ...] = ()
    onto: tuple[PartId, ...] = ()
    joints: tuple[JointId, ...] = ()
    hardware: tuple[HardwareLine, ...] = ()
    stacks: tuple[Stack, ...] = ()
    adhesive: tuple[Bonding, ...] = ()
    hold: Hold | None = None
    gates: tuple[Gate, ...] = ()
    on_bolts: tuple[OnBolts, ...] = ()
    lift: Lift | None = None
    stability: Stability | None = None
    access: tuple[Access, ...] = ()
    shuts: Annotated[tuple[BoltId, ...], FILLED] = ()
    carried_by: Annotated[CarriedBy | None, SPOKEN] = None
    stands: Annotated[tuple[Stand, ...], FILLED] = ()
    costs: Annotated[dict[str, Annotated[float, digits(3)]], FILLED] = field(default_factory=dict, hash=False)
    instead: Annotated[tuple[Instead, ...], FILLED] = ()
    other_order: Annotated[OtherOrder | None, SPOKEN] = None
    peels: Annotated[tuple[JointId, ...], FILLED] = ()
    minutes: Annotated[float, NOT_NEGATIVE, digits(1)] = 0.0
    start_min: Annotated[float, NOT_NEGATIVE, digits(1), key("start_minutes")] = 0.0
    end_min: Annotated[float, NOT_NEGATIVE, digits(1), key("end_minutes")] = 0.0
    free_min: Annotated[float, NOT_NEGATIVE, digits(1), key("free_minutes")] = 0.0
    starts: Spoken = ""
    ends: Spoken = ""
    frees: Spoken = ""
    workers: tuple[str, ...] = ()
    is_critical: Annotated[bool, key("critical")] = False
    why: tuple[Spoken, ...] = ()
    notes: tuple[Spoken, ...] = ()
    view: View = View()
    image: str = ""
    path: Annotated[tuple[Move, ...], Field(exclude_if=lambda path: len(path) < 2)] = ()
    swing: Annotated[Swing | None, SPOKEN] = None
    done: Annotated[Done | None, SPOKEN] = None
    heading: Annotated[Heading | None, UNWRITTEN] = None

    @computed_field  # type: ignore[prop-decorator]
    @property
    def direction(self) -> Annotated[Vector, digits(9)] | None:
        """Unit vector of the closing movement; None without one."""
        return self.path[-1].direction if self.path else None

    @computed_field  # type: ignore[prop-decorator]
    @property
    def travel_mm(self) -> Annotated[float, NOT_NEGATIVE, digits(3)]:
        """Length of the closing movement."""
        return self.path[-1].travel_mm if self.path else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Parts joined before transport."""

    id: SectionId
    parts: tuple[PartId, ...]
    mass_kg: Annotated[float, NOT_NEGATIVE, digits(3)]
    size_mm: Annotated[Vector, digits(1)]
    centre_mm: Annotated[Vector, digits(1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedBase:
    """A base without a mesh: a box under the middle of the figure's feet, its top where they stand.

    Parameters
    ----------
    size_mm
        Along both axes of the plan, and up; zeros where only its mass is stated.
    mass_kg
        0 where only its size is stated.
    top_mm
        Middle of its top, frame of the mesh files.
    """

    size_mm: Annotated[Vector, digits(1)]
    mass_kg: Annotated[float, NOT_NEGATIVE, digits(3)]
    top_mm: Annotated[Vector, digits(1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The whole build.

    Parameters
    ----------
    figure_name, revision, up
        From figure.toml; `up` in the frame of the mesh files.
    parts, joints, steps, sections
        Everything, each in the order of its ids (steps: in the order of the book).
    findings
        Heaviest first.
    base
        The base, where it has size and mass only.
    total_min
        Working plan from first to last minute, holds included.
    costs
        Costs and counts the choice of the order was made by, by name with unit.
    calendar
        Hours, errands and places; None before the plan is laid on them.
    division
        Why there are these sections; None where figure.toml states nothing of the way.
    """

    figure_name: str
    revision: str
    up: Vector = (0.0, 0.0, 1.0)
    parts: tuple[Part, ...]
    joints: tuple[Joint, ...]
    steps: tuple[Step, ...]
    sections: tuple[Section, ...]
    findings: tuple[Finding, ...]
    base: StatedBase | None = None
    total_min: float = 0.0
    costs: dict[str, float] = field(default_factory=dict, compare=False)
    calendar: Calendar | None = None
    division: Division | None = None
