"""Safety messages: which ones a book and a step need, and the tools and protection that go with them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from assembler.engineering.exposure import PERSON_PUSH_N
from assembler.engineering.fastening import LEAST_WRENCH_NM
from assembler.figure.ids import PartId, natural_key
from assembler.figure.plan import Access, Step, StepKind
from assembler.publishing import quantities
from assembler.publishing.pages import Caution, Pair
from assembler.publishing.source import Source
from assembler.words import Said, Words

LEVELS = {
    "lifting": "warning",
    "tipping": "warning",
    "height": "warning",
    "anchoring": "warning",
    "adhesive": "warning",
    "held": "warning",
    "dust": "warning",
    "solvent": "warning",
    "pinch": "caution",
    "parts": "notice",
}
"""Signal word of each caution."""
HEIGHT_MM = 1500.0
"""Work above this height is called working height: about the shoulder of a standing person. Common practice."""

HANDLED_KG = 3.0
"""Below this nobody is told how to lift: the scope of ISO 11228-1 begins there (from memory)."""
FALL_KGM, WARNING_KGM = 2.0, 5.0
"""Mass times height from which a fall gets a CAUTION, and from which a WARNING.

About a brick from the table, and from above the head (common practice, no source). The order to prop stands in every
step that needs a prop.
"""
CARRIED_M = 0.75
"""Height at which a load is carried that is not lifted higher (common practice, no source)."""
HELD = ("prop.hangs", "prop.leans")
"""What is said of parts that somebody has to hold until their joint does."""
WEIGHT = {"warning": 0, "caution": 1, "notice": 2}
"""Order of safety messages; those of one weight keep their order."""
COLUMN_CHARACTERS, FRAME_LINES = 44, 2.4
"""Characters in a line of half a page; lines that the word panel and the frame of a message take."""
SPANNER = "tool.spanner"
"""Code of what is said of an open-end spanner."""
BOOK = ("lifting", "tipping", "adhesive", "dust", "solvent", "height", "anchoring", "pinch", "parts")


def book_cautions(source: Source) -> tuple[Caution, ...]:
    """All safety messages of the front pages, the heaviest first, then the shop's own."""
    words = source.words
    needed = [name for name in BOOK if _is_needed(name, source)]
    rows = [_caution(words, name) for name in needed]
    own = [
        Caution(level="caution", word=words("signal.caution"), hazard=words("caution.own"), consequence=text, avoid=())
        for text in source.settings.cautions
    ]
    return tuple(sorted([*rows, *own], key=lambda row: (WEIGHT[row.level], row.hazard, row.consequence)))


def step_cautions(source: Source, step: Step) -> tuple[Caution, ...]:
    """The safety messages that belong at the top of one step."""
    names: list[tuple[str, float]] = []
    if is_heavy(step):
        names.append(("lifting", _lift_kgm(step)))
    if step.stability and step.stability.needs_prop:
        names.append(("held" if is_held(step) else "tipping", _fall_kgm(source, step)))
    if step.adhesive:
        names.append(("adhesive", math.inf))
    if top_mm(source, step) > HEIGHT_MM:
        names.append(("height", math.inf))
    rows = [_short(source.words, name, _graded(name, kgm)) for name, kgm in names if kgm >= FALL_KGM]
    if is_loose(step) and step.stability:
        word = source.words
        how = word("caution.loose.slides" if step.stability.push_slides else "caution.loose.tips")
        short = word("caution.loose.short", push=quantities.pull(step.stability.push_n), how=how)
        rows.append(replace(_short(word, "loose", "warning"), consequence=short))
    return tuple(sorted(rows, key=lambda row: WEIGHT[row.level]))


def is_held(step: Step) -> bool:
    """Whether somebody has to hold what arrived until its joint does."""
    reason = step.stability.reason if step.stability else ""
    return isinstance(reason, Said) and reason.code in HELD


def is_loose(step: Step) -> bool:
    """Whether one person's push at shoulder height moves what stands as long as nothing fixes it."""
    return step.stability is not None and 0.0 < step.stability.push_n < PERSON_PUSH_N


def _graded(name: str, kgm: float) -> str:
    """The signal word by what can happen: what falls lightly is not called what kills."""
    return "caution" if LEVELS[name] == "warning" and kgm < WARNING_KGM else LEVELS[name]


def _lift_kgm(step: Step) -> float:
    return step.lift.mass_kg * max(step.lift.height_mm / 1000.0, CARRIED_M) if step.lift else 0.0


def finish_cautions(words: Words) -> tuple[Caution, ...]:
    """The safety messages of the finish."""
    return tuple(_caution(words, name) for name in ("solvent", "dust"))


def base_cautions(words: Words) -> tuple[Caution, ...]:
    """The safety messages of base and anchors."""
    return tuple(_caution(words, name) for name in ("anchoring", "tipping"))


def _is_needed(name: str, source: Source) -> bool:
    steps = source.plan.steps
    has = {
        "lifting": any(step.lift for step in steps),
        "adhesive": bool(source.bondings),
        "dust": bool(source.settings.finish or source.bondings),
        "solvent": bool(source.settings.finish or source.bondings),
        "height": any(top_mm(source, step) > HEIGHT_MM for step in steps),
        "anchoring": bool(source.settings.base.anchors) or any(step.kind is StepKind.BASE for step in steps),
    }
    return has.get(name, True)


def _caution(words: Words, name: str) -> Caution:
    level = LEVELS[name]
    avoid = tuple(line.strip() for line in words(f"caution.{name}.avoid").splitlines() if line.strip())
    return Caution(
        level=level,
        word=words(f"signal.{level}"),
        hazard=words(f"caution.{name}.hazard"),
        consequence=words(f"caution.{name}.consequence"),
        avoid=avoid,
    )


def _short(words: Words, name: str, level: str) -> Caution:
    return Caution(
        level=level,
        word=words(f"signal.{level}"),
        hazard=words(f"caution.{name}.hazard"),
        consequence="" if name == "loose" else words(f"caution.{name}.short"),
        avoid=(),
    )


def top_mm(source: Source, step: Step) -> float:
    """Height of the highest point above the lowest, on the bench, of what stands after a step; 0 for no parts."""
    names: tuple[PartId, ...] = (*step.moves, *step.onto)
    heights = [
        sum(corner * way for corner, way in zip((x, y, z), step.up, strict=True))
        for name in names
        for part in (source.part(name),)
        for x in (part.low_mm[0], part.high_mm[0])
        for y in (part.low_mm[1], part.high_mm[1])
        for z in (part.low_mm[2], part.high_mm[2])
    ]
    return max(heights) - min(heights) if heights else 0.0


def is_heavy(step: Step) -> bool:
    """Whether a lift takes more than one person, or a hoist, for its mass."""
    return step.lift is not None and step.lift.people != 1 and step.lift.mass_kg >= HANDLED_KG


def _fall_kgm(source: Source, step: Step) -> float:
    """Mass of what stands after a step, times its height."""
    mass_kg = sum(source.part(name).mass_kg for name in (*step.moves, *step.onto))
    return mass_kg * top_mm(source, step) / 1000.0


def tool_rows(source: Source) -> tuple[Pair, ...]:
    """Tools with their sizes, as the hardware asks for them."""
    words = source.words
    heads = _sizes(words.text(stack.tool) for stack in source.stacks)
    nuts = _sizes(words.text(stack.nut_tool) for stack in source.stacks if stack.nut)
    rows = [(words("tools.head"), ", ".join(heads)), (words("tools.nut"), ", ".join(nuts))]
    rows = [(label, value) for label, value in rows if value]
    torques = [stack.torque_nm for stack in source.stacks if stack.torque_nm > 0]
    by_wrench = [torque for torque in torques if torque >= LEAST_WRENCH_NM]
    by_driver = [torque for torque in torques if torque < LEAST_WRENCH_NM]
    rows += [
        (words(f"tools.{tool}"), _torques(source, given))
        for tool, given in (("torque", by_wrench), ("screwdriver", by_driver))
        if given
    ]
    reach = max((row.reach_mm for step in source.plan.steps for row in step.access if row.is_reachable), default=0.0)
    if reach > 0:
        rows.append((words("tools.extension"), words("tools.reach", reach=source.units.length(reach))))
    if source.bondings:
        rows.append((words("tools.adhesive"), ", ".join(sorted({row.name for row in source.bondings}))))
        rows.append((words("tools.clock"), words("tools.clock_use")))
    if any(step.stability and step.stability.needs_prop for step in source.plan.steps):
        rows.append((words("tools.prop"), words("tools.prop_use")))
    if any(is_by_spanner(row) for step in source.plan.steps for row in step.access):
        rows.append((words("tools.balance"), words("tools.balance_use")))
    rows.append((words("tools.mark"), words("tools.mark_use")))
    return tuple(rows)


def is_by_spanner(access: Access) -> bool:
    """Whether only an open-end spanner comes to the head of a bolt."""
    return isinstance(access.tool, Said) and access.tool.code == SPANNER


def _torques(source: Source, torques: Sequence[float]) -> str:
    low, high = source.units.torque(min(torques)), source.units.torque(max(torques))
    return low if low == high else source.words("tools.range", low=low, high=high)


def _sizes(tools: Iterable[str]) -> list[str]:
    return sorted(set(tools), key=natural_key)


def protection_rows(source: Source) -> tuple[Pair, ...]:
    """Protective equipment, with what it is for."""
    words = source.words
    names = ["shoes", "gloves", "eyes"]
    if source.bondings or source.settings.finish:
        names += ["chemical", "dust"]
    if source.settings.finish:
        names += ["respirator"]
    if any(top_mm(source, step) > HEIGHT_MM for step in source.plan.steps):
        names += ["head"]
    return tuple((words(f"protection.{name}.what"), words(f"protection.{name}.when")) for name in names)


def in_columns(rows: Sequence[Caution]) -> tuple[Sequence[Caution], Sequence[Caution]]:
    """Safety messages in two columns about equally high, the heaviest at the top of the left one.

    The height is estimated by lines of text: columns that a typesetter balances are laid out again and again.
    """
    heights = [_lines(row) for row in rows]
    left = min(range(len(rows) + 1), key=lambda count: max(sum(heights[:count]), sum(heights[count:])), default=0)
    return rows[:left], rows[left:]


def _lines(row: Caution) -> float:
    """Lines of a message in a column of half a page, with what its frame takes."""
    texts = (f"{row.hazard}. {row.consequence}", *row.avoid)
    return FRAME_LINES + sum(math.ceil(len(text) / COLUMN_CHARACTERS) for text in texts)
