"""What stands on each page, as data: every string is ready to print, so templates hold markup only."""

from __future__ import annotations

from collections.abc import Mapping
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
class ContentsLine:
    """One line of the table of contents."""

    anchor: str
    number: str
    title: str
    level: int
    piece: str = ""
    """The pages that it leads to (see `Piece.name`); empty where they are listed one by one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverPage:
    """The cover."""

    picture: PictureBox | None
    verdict: str
    verdict_level: str
    findings: tuple[str, ...]
    facts: tuple[Pair, ...]
    fields: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforePage:
    """Before you start."""

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
class FindingRow:
    """One finding."""

    number: str
    level: str
    word: str
    about: str
    message: str
    remedy: str
    steps: tuple[Pair, ...]
    """Anchor and number of the steps it touches; none when they are many."""
    where: str
    """The steps as words, when they are many."""
    pictures: tuple[PictureBox, ...]
    """Parts it is about, at most three."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One part in the parts list."""

    id: str
    file: str
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


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyRow:
    """One line of the buying list."""

    item: str
    count: str
    spares: str
    total: str
    packs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRow:
    """Pieces of one kind in a step or a bag."""

    count: str
    name: str
    """What it is called at the bench ('screw M8 × 40')."""
    item: str
    """Full designation; on a step page the standard alone follows the name."""
    ref: str = ""
    """Item reference in the picture of the step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BagRow:
    """The bag of one joint."""

    joint: str
    step: str
    step_anchor: str
    pieces: tuple[PieceRow, ...]


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
class HardwarePage:
    """Hardware, adhesive and finish to buy, and the bags."""

    buy: tuple[BuyRow, ...]
    bags: tuple[BagRow, ...]
    adhesives: tuple[AmountRow, ...]
    finishes: tuple[AmountRow, ...]
    notes: tuple[str, ...]
    temperatures: tuple[TemperatureRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysPage:
    """The days."""

    charts: tuple[Diagram, ...]
    facts: tuple[Pair, ...]
    meanwhile: tuple[str, ...]
    critical: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GateLine:
    """One wait at the top of a step."""

    text: str
    anchor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """Up to twelve bolts side by side."""

    heads: tuple[tuple[str, int], ...]
    """Joints, and how many of the bolts below belong to each."""
    bolts: tuple[Pair, ...]
    """Order number and bolt id."""
    rounds: tuple[str, ...]
    """What each round of tightening is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueRow:
    """Adhesive of one joint."""

    joint: str
    amount: str
    close_within: str
    needed: str
    free_after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueCard:
    """Adhesive of one step, with its clock fields and its times at other temperatures."""

    title: str
    rows: tuple[GlueRow, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    temperatures: tuple[TemperatureRow, ...]
    """Given where the joint is made on site; the shop has the page of the adhesive."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepBag:
    """The bag of one joint as it is opened in a step."""

    joint: str
    pieces: tuple[PieceRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AccessRow:
    """Bolts that are reached the same way."""

    bolts: str
    head: str
    nut: str
    reach: str
    is_reachable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow:
    """What is checked, and what is good enough."""

    what: str
    accept: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLayout:
    """How the pages of a step share their room.

    Parameters
    ----------
    stage_mm, picture_mm
        Height for the main picture, and its own height there: not so large that its pixels show.
    detail_mm, section_mm
        Height of a close-up beside the orders, and beside the checks; 0: none there.
    is_apart, is_joined
        What to bring stands on a page after the picture; and what to do follows it there.
    more, later
        Further close-ups, below what to bring, and below the checks.
    is_checked_apart
        The checks stand on a page after the clocks.
    notes_mm
        Height of ruled lines for notes at the end; 0: none.
    """

    stage_mm: float
    picture_mm: float
    detail_mm: float
    section_mm: float
    is_apart: bool = False
    is_joined: bool = False
    more: int = 0
    later: int = 0
    is_checked_apart: bool = False
    notes_mm: float = 0.0

    @property
    def beside(self) -> int:
        """How many close-ups stand beside orders and checks."""
        return (self.detail_mm > 0) + (self.section_mm > 0)

    @property
    def shown(self) -> int:
        """How many close-ups stand on the pages of the step."""
        return self.beside + self.more + self.later


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPage:
    """One step."""

    number: str
    anchor: str
    title: str
    kind: str
    tab_top: str
    layout: StepLayout
    gates: tuple[GateLine, ...]
    kept: str
    """Waits that earlier steps have kept already."""
    cells: tuple[Pair, ...]
    picture: PictureBox | None
    close_ups: tuple[PictureBox, ...]
    """All of them; the layout says how many stand beside the words."""
    view_note: str
    revision: str
    """Since which these pages are in force."""
    changed: str
    """That the pages differ from those before, in words; empty where they do not."""
    changes: tuple[str, ...]
    """In which ways."""
    marked: tuple[str, ...]
    """Places of the pages with a bar of change beside them."""
    orders: tuple[str, ...]
    parts: tuple[PartRow, ...]
    bags: tuple[StepBag, ...]
    cautions: tuple[Caution, ...]
    strips: tuple[Strip, ...]
    limit: str
    access: tuple[AccessRow, ...]
    glue: GlueCard | None
    hold: str
    hold_blocks: str
    checks: tuple[str, ...]
    findings: tuple[str, ...]
    why: tuple[str, ...]
    signs: tuple[str, ...]


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
    rules: tuple[str, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PushRow:
    """What one wind, or one person, does to the finished figure."""

    cause: str
    force: str
    moment: str
    tips: str
    slides: str
    tension: str
    shear: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BasePage:
    """Base, anchors, site joints, handing over."""

    base: tuple[Pair, ...]
    anchors: tuple[str, ...]
    pushes: tuple[PushRow, ...]
    push_notes: tuple[str, ...]
    site_joints: tuple[tuple[str, str, str, str], ...]
    """Joint, method, seam, anchor of its step."""
    final_checks: tuple[CheckRow, ...]
    care: tuple[str, ...]
    cautions: tuple[Caution, ...]
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TotalRow:
    """One kind of hardware, counted three ways."""

    item: str
    in_steps: str
    in_bags: str
    in_list: str
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One line of a calculation."""

    quantity: str
    formula: str
    inputs: str
    result: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Worksheet:
    """The calculation of one joint."""

    joint: str
    title: str
    rows: tuple[SheetRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """One line of the as-built log."""

    step: str
    joints: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseUp:
    """A close-up that found no room on the pages of its step."""

    step: str
    anchor: str
    picture: PictureBox
    is_first: bool
    """Whether it is the first of its step here: links lead to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PagesInForce:
    """A run of pages that are in force, or such runs of several steps or joints."""

    what: str
    pages: int
    """Of each run."""
    revision: str
    kind: str = ""
    """'steps' or 'joints': runs of a kind that are alike are listed together."""
    id: str = ""
    """Of the step or the joint."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AppendixPage:
    """Totals, calculations, sources, log."""

    totals: tuple[TotalRow, ...]
    sheets: tuple[Worksheet, ...]
    sources: tuple[Pair, ...]
    """Number and text; the calculations name the number."""
    materials: tuple[tuple[str, str, str, str], ...]
    """Name, density, pressure under a washer, source."""
    adhesive: tuple[Pair, ...]
    certainty: tuple[tuple[str, str, str, str], ...]
    """Kind of number, how sure its rule and its inputs are, what it stands on."""
    references: tuple[tuple[str, str, str, str], ...]
    """What, the place in it, where it can be read and when it was, how sure."""
    close_ups: tuple[CloseUp, ...]
    log: tuple[LogRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """The whole book, page by page."""

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
    numbers: Mapping[str, str]
    """Number of each section by its key."""
    cover: CoverPage
    before: BeforePage
    findings: tuple[FindingRow, ...]
    parts: PartsPage
    hardware: HardwarePage
    days: DaysPage
    steps: tuple[StepPage, ...]
    finish: FinishPage | None
    base: BasePage
    appendix: AppendixPage
