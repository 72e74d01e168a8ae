"""What stands on each page, as data: every string is ready to print, so templates hold markup only."""

from __future__ import annotations

from dataclasses import dataclass

Pair = tuple[str, str]
"""Label and value."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureBox:
    """A picture set on a page: raster, overlay and words for those who cannot see it.

    Parameters
    ----------
    file, width_px, height_px, overlay_svg
        As in `Picture`.
    alt
        One or two sentences.
    caption
        Printed below; may be empty.
    """

    file: str
    width_px: int
    height_px: int
    overlay_svg: str
    alt: str
    caption: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagram:
    """A drawing of the book's own, as complete SVG elements in millimetres.

    Parameters
    ----------
    width_mm, height_mm
        Size on the page.
    body_svg
        Elements without the outer <svg>.
    alt
        One or two sentences.
    """

    width_mm: float
    height_mm: float
    body_svg: str
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A safety message: signal word, hazard, what happens, how to avoid it.

    Parameters
    ----------
    level
        'warning', 'caution' or 'notice': names the look.
    word
        The signal word as printed.
    hazard, consequence
        What it is about, and what happens.
    avoid
        What to do, one sentence each.
    """

    level: str
    word: str
    hazard: str
    consequence: str
    avoid: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AmountRow:
    """An amount of adhesive, filler or coat."""

    name: str
    use: str
    amount: str
    buy: str
    wait: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureRow:
    """Times of the adhesive at one temperature."""

    temperature: str
    open: str
    working_life: str
    handling: str
    full_cure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysPage:
    """The days."""

    charts: tuple[Diagram, ...]
    dates: tuple[Pair, ...]
    facts: tuple[Pair, ...]
    besides: tuple[str, ...]
    """What is done at joints besides the steps."""
    critical: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow:
    """What is checked, and what is good enough."""

    what: str
    accept: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishRow:
    """One operation of the finish route."""

    number: str
    name: str
    on: str
    coats: str
    amount: str
    wait: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishPage:
    """The finish route."""

    route: str
    rows: tuple[FinishRow, ...]
    dates: tuple[str, ...]
    rules: tuple[str, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ContentsLine:
    """One line of the table of contents."""

    anchor: str
    number: str
    """Of a step; empty for all else."""
    title: str
    level: int
    piece: str
    """The pages that it leads to (see `Piece.name`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce:
    """Pages of a piece: their numbers, the revision since which they read so, whether that is this one."""

    pages: str
    revision: str
    is_new: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverPage:
    """The cover: with the decisions that stop the work, and no others."""

    picture: PictureBox | None
    verdict: str
    verdict_level: str
    findings: tuple[str, ...]
    facts: tuple[Pair, ...]
    fields: tuple[str, ...]
    documents: tuple[Pair, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforePage:
    """Before you start: how to read the book, safety, people and tools."""

    job: tuple[str, ...]
    facts: tuple[Pair, ...]
    conditions: tuple[Pair, ...]
    tools: tuple[Pair, ...]
    protection: tuple[Pair, ...]
    cautions: tuple[Caution, ...]
    deciding: tuple[str, ...]
    limits: tuple[str, ...]
    reading: tuple[Pair, ...]
    glossary: tuple[Pair, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeRow:
    """When joints of one hold are free: no later than `after`, and by which clock time if closed by another."""

    after: str
    clocks: tuple[Pair, ...]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BondingPage:
    """What is the same at every joint, the adhesive at other temperatures, and what to do if it goes wrong."""

    lines: tuple[str, ...]
    notes: tuple[str, ...]
    checks: tuple[str, ...]
    dry_checks: tuple[str, ...]
    ring: Diagram | None
    temperatures: tuple[TemperatureRow, ...]
    free: tuple[FreeRow, ...]
    wrong: tuple[Pair, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRow:
    """One finding."""

    number: str
    level: str
    word: str
    about: str
    message: str
    remedy: str
    where: str
    """The steps it touches, as words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One part in the parts list."""

    id: str
    name: str
    material: str
    mass: str
    size: str
    section: str
    step: str
    step_anchor: str
    thumbnail: PictureBox | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionRow:
    """One section."""

    id: str
    parts: str
    facts: tuple[Pair, ...]
    road: str
    picture: PictureBox | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsPage:
    """What goes where."""

    rows: tuple[PartRow, ...]
    total_mass: str
    overview: PictureBox | None
    sections: tuple[SectionRow, ...]
    order: tuple[Diagram, ...]
    stacks: tuple[PictureBox, ...]
    """Each kind of bolt once, with all that lies under its head and nut."""
    pockets: tuple[PictureBox, ...]
    """A nut in its pocket, cut open; empty where no nut sits in one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GateLine:
    """One wait at the top of a step, with the clocks of its joints."""

    text: str
    anchor: str
    rings: tuple[Diagram, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRow:
    """Pieces of one kind in the bag of a joint."""

    count: str
    name: str
    """What it is called at the bench ('screws ISO 4017 - M8 x 40 - 8.8')."""
    ref: str
    """Item reference in the picture of the step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltRow:
    """Bolts of one joint that are reached the same way: what lies there, who holds what, how tight, in which order.

    Parameters
    ----------
    joint
        Of the bolts; its bag holds the pieces.
    pieces
        In the bag; only on the first row of a joint.
    head, nut, reach
        Tool, part and way at each end, and how deep a hand goes.
    nut_title
        Who holds the nut, where that takes a hand.
    rounds
        What each round of tightening is, the last one the torque.
    bolts
        Place in the order of tightening, and id.
    is_reachable
        Whether both ends are served at once.
    """

    joint: str
    pieces: tuple[PieceRow, ...]
    head: str
    nut: str
    nut_title: str
    reach: str
    rounds: tuple[str, ...]
    bolts: tuple[Pair, ...]
    is_reachable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueRow:
    """Adhesive of one joint, with its clock."""

    joint: str
    ring: Diagram
    amount: str
    close_within: str
    torque_within: str
    """Empty where no bolt goes through the joint."""
    free_after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueCard:
    """Adhesive of one step, with its clock fields and its times at other temperatures."""

    rows: tuple[GlueRow, ...]
    warnings: tuple[str, ...]
    temperatures: tuple[TemperatureRow, ...]
    """Given where the joint is made on site; the shop has the page on bonding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """What is seen to before a step shuts something for good: what that is, squares to tick, who signs."""

    lead: str
    ticks: tuple[str, ...]
    sign: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLayout:
    """How a step shares its page, or its two pages.

    Parameters
    ----------
    is_short
        Whether the step is one page.
    picture_mm
        Height of the main picture: not so large that its pixels show.
    close_up_mm
        Height of the close-ups on the first page.
    close_ups
        How many stand there: below the picture, or beside the orders of a short step.
    later_mm
        Height of those on the second page; 0: none there.
    dropped
        Close-ups that found no room.
    has_why
        Whether there is room to say why the step comes now.
    """

    is_short: bool
    picture_mm: float
    close_up_mm: float
    close_ups: int
    later_mm: float = 0.0
    dropped: int = 0
    has_why: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPage:
    """One step."""

    number: str
    anchor: str
    title: str
    kind: str
    layout: StepLayout
    gates: tuple[GateLine, ...]
    kept: str
    """Waits that earlier steps have kept already."""
    cells: tuple[Pair, ...]
    picture: PictureBox | None
    close_ups: tuple[PictureBox, ...]
    """Faces first, then cuts."""
    revision: str
    """Since which these pages are in force."""
    changed: str
    """That the pages differ from those before, in words; empty where they do not."""
    changes: tuple[str, ...]
    """In which ways."""
    marked: tuple[str, ...]
    """Places of the pages with a bar of change beside them."""
    closure: Closure | None
    """None where the step shuts nothing."""
    orders: tuple[str, ...]
    bring: tuple[Pair, ...]
    """Parts and bags: id, and what it is."""
    cautions: tuple[Caution, ...]
    bolts: tuple[BoltRow, ...]
    glue: GlueCard | None
    hold: str
    hold_blocks: str
    checks: tuple[str, ...]
    findings: tuple[str, ...]
    why: tuple[str, ...]
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BasePage:
    """Base, anchors, site joints, handing over."""

    base: tuple[Pair, ...]
    anchors: tuple[str, ...]
    site_joints: tuple[tuple[str, str, str, str], ...]
    """Joint, method, seam, anchor of its step."""
    final_checks: tuple[CheckRow, ...]
    care: tuple[str, ...]
    cautions: tuple[Caution, ...]
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """One line of the as-built log."""

    step: str
    anchor: str
    joints: str
    rings: tuple[Diagram, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """The crew book, page by page."""

    figure: str
    client: str
    shop: str
    logo: str
    """The shop's logo as a data address; empty for none."""
    revision: str
    mark: str
    """'DRAFT' or empty."""
    date: str
    language: str
    sheet: str
    contents: tuple[ContentsLine, ...]
    cover: CoverPage
    before: BeforePage
    bonding: BondingPage
    parts: PartsPage
    days: DaysPage
    steps: tuple[StepPage, ...]
    finish: FinishPage | None
    base: BasePage
    log: tuple[LogRow, ...]
