"""The plan: steps in order, with everything a page or a check needs to know of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from assembler.figure.findings import Finding
from assembler.figure.hardware import Bonding, HardwareLine, Stack
from assembler.figure.ids import BenchId, BoltId, JointId, PartId, SectionId, StepNumber
from assembler.figure.joints import Joint, Place
from assembler.figure.parts import Part, Vector


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
    head_end: int
    tool: str
    head: str
    nut: str
    reach_mm: float
    is_reachable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A wait that a step starts.

    Parameters
    ----------
    minutes
        Until handling strength of the slowest joint.
    joints
        Joints that cure.
    before
        Steps that must not begin earlier.
    reason
        In words, for the page.
    """

    minutes: float
    joints: tuple[JointId, ...]
    before: tuple[StepNumber, ...]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """What a step has to wait for: joint, the step that closed it."""

    joint: JointId
    step: StepNumber


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
    slip_safety: float
    gap_safety: float


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

    mass_kg: float
    centre_mm: Vector
    people: int
    rule: str
    parts: tuple[PartId, ...] = ()
    by: LiftedBy = LiftedBy.HANDS
    height_mm: float = 0.0


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
    """

    tip_deg: float
    needs_prop: bool
    reason: str
    is_prop_kept: bool = False
    overhang_mm: float = 0.0
    toward: Vector = (0.0, 0.0, 0.0)
    moment_nm: float = 0.0


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

    direction: Vector
    travel_mm: float


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

    axis: Vector
    at_mm: Vector
    degrees: float


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """How the picture of a step was taken and what it shows; zeros before it is drawn.

    `mating_visible` is measured on the picture, `mating_searched` on the small buffer in which the view was chosen.
    """

    eye: Vector = (0.0, 0.0, 0.0)
    up: Vector = (0.0, 0.0, 1.0)
    explode_mm: float = 0.0
    new_visible: float = 0.0
    mating_visible: float = 0.0
    mating_searched: float = 0.0
    label_overlaps: int = 0
    turned_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the build.

    Parameters
    ----------
    number, title, kind
        `number` is printed; it may be '12a' in a later revision.
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
    carried_by
        What holds the things that stood before the step while it is carried out: the ground, a bench, stands; hands or
        a hoist where they are lifted off and set down on what arrives. None in steps that bring nothing in.
    costs
        Minutes by which the step was weighed against others, by name.
    instead
        What else could have come here, and what that would have cost in minutes; empty where nothing could.
    minutes
        Working time without the hold.
    start_min, end_min
        On the calendar, minutes of working plan from the start of the job.
    is_critical
        Whether a delay here delays the whole.
    why
        What forced this place in the order, one line each.
    notes
        Further lines for the page, imperative mood.
    view, image
        Filled in by drawing; file name of the picture.
    """

    number: StepNumber
    title: str
    kind: StepKind
    place: Place
    bench: BenchId
    section: SectionId
    after: tuple[StepNumber, ...] = ()
    up: Vector = (0.0, 0.0, 1.0)
    moves: tuple[PartId, ...] = ()
    onto: tuple[PartId, ...] = ()
    path: tuple[Move, ...] = ()
    swing: Swing | None = None
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
    carried_by: CarriedBy | None = None
    costs: tuple[tuple[str, float], ...] = ()
    instead: tuple[tuple[tuple[PartId, ...], float], ...] = ()
    minutes: float = 0.0
    start_min: float = 0.0
    end_min: float = 0.0
    is_critical: bool = False
    why: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    view: View = View()
    image: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Parts joined before transport."""

    id: SectionId
    parts: tuple[PartId, ...]
    mass_kg: float
    size_mm: Vector
    centre_mm: Vector


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
    total_min
        Working plan from first to last minute, holds included.
    costs
        Costs and counts the choice of the order was made by, by name with unit.
    """

    figure_name: str
    revision: str
    up: Vector = (0.0, 0.0, 1.0)
    parts: tuple[Part, ...]
    joints: tuple[Joint, ...]
    steps: tuple[Step, ...]
    sections: tuple[Section, ...]
    findings: tuple[Finding, ...]
    total_min: float = 0.0
    costs: dict[str, float] = field(default_factory=dict, compare=False)
