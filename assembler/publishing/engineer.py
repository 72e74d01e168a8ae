"""The engineer's file: every joint in one table, how its numbers are found, how the figure stands, what is open.

Goes in: what the crew book is composed from. Comes out: page records for engineer.html.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from assembler.catalogue import tables
from assembler.engineering.boltsalone import preload_n
from assembler.engineering.bondstress import BondStress, bond_stress
from assembler.engineering.calculation import WorksheetRow
from assembler.engineering.exposure import ASKED_SAFETY, DRAG, FRICTION, PERSON_PUSH_N
from assembler.engineering.loads import levers_mm
from assembler.engineering.provenance import provenance_rows
from assembler.engineering.tightening import STRUCTURE_N
from assembler.figure.exposure import ExposureRow
from assembler.figure.findings import Level
from assembler.figure.hardware import Stack
from assembler.figure.ids import JointId, natural_key
from assembler.figure.joints import Joint
from assembler.publishing import quantities
from assembler.publishing.endpages import base_facts
from assembler.publishing.frontpages import finding_rows, road_facts
from assembler.publishing.pages import FindingRow, Pair
from assembler.publishing.source import Source
from assembler.publishing.wording import ranges
from assembler.words import Text, Words

ROUNDING_MPA = 5e-4
"""A stress below this is rounding of the load's place, not a number for a table."""
BOND_TIMES = ("open_time", "hold", "full_cure")
"""Rows of a bond's calculation that differ by place and temperature, not by joint."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JointRow:
    """One joint in the table of all: cells as printed, in the order of `HEADS`."""

    joint: str
    cells: tuple[str, ...]


HEADS = (
    "parts",
    "made",
    "bolts",
    "grip",
    "torque",
    "limit",
    "preload",
    "area",
    "adhesive",
    "hold",
    "load",
    "shear",
    "peel",
    "used",
)
"""Columns of the table of joints, after the joint itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One line of a derivation; `source` is the number of its source."""

    quantity: str
    formula: str
    inputs: str
    result: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Derivation:
    """How the numbers of one kind of stack, or of one kind of bond, are found; given once, for one of its joints."""

    title: str
    rows: tuple[SheetRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineersFile:
    """The file page by page.

    Parameters
    ----------
    open_findings, notes
        Decisions with a field for the engineer, and what is good to know.
    joints, joints_note, derivations
        See the records; what the table does not say.
    stages
        Step, what is lifted, by whom, at which angle it tips, what holds it.
    base, pushes, push_notes, road
        Base and anchors; wind and people; transport, by section.
    materials, adhesive, sources, certainty, references
        Where numbers come from, with the address where it can be read, and how sure they are.
    """

    open_findings: tuple[FindingRow, ...]
    notes: tuple[FindingRow, ...]
    joints: tuple[JointRow, ...]
    joints_note: str
    derivations: tuple[Derivation, ...]
    stages: tuple[tuple[str, ...], ...]
    base: tuple[Pair, ...]
    pushes: tuple[tuple[str, ...], ...]
    push_notes: tuple[str, ...]
    road: tuple[tuple[str, str, str, str], ...]
    materials: tuple[tuple[str, str, str, str], ...]
    adhesive: tuple[Pair, ...]
    sources: tuple[Pair, ...]
    certainty: tuple[tuple[str, str, str, str], ...]
    references: tuple[tuple[str, str, str, str], ...]


def engineers_file(source: Source) -> EngineersFile:
    """Everything that whoever is responsible for the structure asks for."""
    findings = finding_rows(source)
    derived = list(_derived(source))
    numbers = {named: str(place) for place, named in enumerate(dict.fromkeys(_sources(derived)), start=1)}
    text = source.words.text
    pushes, push_notes = push_rows(source)
    return EngineersFile(
        open_findings=tuple(row for row in findings if row.level != Level.NOTE.value),
        notes=tuple(row for row in findings if row.level == Level.NOTE.value),
        joints=tuple(_joint_row(source, joint) for joint in _ordered(source.plan.joints)),
        joints_note=source.words("engineer.joints_note", least=quantities.force(STRUCTURE_N)),
        derivations=tuple(
            Derivation(title=title, rows=tuple(_sheet_row(row, numbers, source.words) for row in rows))
            for title, rows in derived
        ),
        stages=tuple(_stages(source)),
        base=base_facts(source),
        pushes=pushes,
        push_notes=push_notes,
        road=tuple(road_facts(source, section) for section in source.plan.sections),
        materials=_materials(source),
        adhesive=_adhesive(source),
        sources=tuple((number, text(named)) for named, number in numbers.items()),
        certainty=tuple(
            (text(name), text(rule), text(inputs), text(note))
            for name, rule, inputs, note in provenance_rows(source.settings)
        ),
        references=_references(source.words),
    )


def _ordered(joints: Sequence[Joint]) -> list[Joint]:
    return sorted(joints, key=lambda joint: natural_key(joint.id))


def _joint_row(source: Source, joint: Joint) -> JointRow:
    stacks = [row for row in source.stacks if row.joint == joint.id]
    bond = next((row for row in source.bondings if row.joint == joint.id), None)
    load, stress = source.loads.get(joint.id), _stress(source, joint)
    preloads = sorted({preload_n(row, source.settings.hardware.nut_factor) for row in stacks})
    cells = (
        ", ".join(joint.parts),
        source.words(f"cell.place_value.{joint.made}"),
        _bolts(stacks),
        _spread(sorted({row.grip_mm for row in stacks}), "mm"),
        _spread(sorted({row.torque_nm for row in stacks}), "N·m"),
        ", ".join(sorted({source.words.text(row.torque_rule) for row in stacks})),
        " / ".join(quantities.force(one) for one in preloads if one > 0),
        f"{joint.bond_area_mm2 / 100:.0f} cm²" if joint.bond_area_mm2 > 0 else "",
        quantities.volume(bond.volume_ml) if bond else "",
        quantities.duration(bond.handling_min) if bond else "",
        source.units.mass(load.mass_kg) if load else "",
        _stress_text(stress.average_mpa) if stress else "",
        _stress_text(stress.peel_mpa) if stress else "",
        _share(stress),
    )
    return JointRow(joint=joint.id, cells=cells)


def _stress(source: Source, joint: Joint) -> BondStress | None:
    """Shear and peel under what hangs on a bonded joint alone; None where nothing does."""
    load = source.loads.get(joint.id)
    if load is None or not joint.method.is_bonded or joint.bond_area_mm2 <= 0:
        return None
    lever_mm, _ = levers_mm(joint, load, source.settings.up)
    stress, _ = bond_stress(joint, load.mass_kg, source.settings.adhesive, lever_mm=lever_mm)
    return stress


def _stress_text(stress_mpa: float) -> str:
    return f"{stress_mpa:.2g} MPa" if stress_mpa >= ROUNDING_MPA else ""


def _share(stress: BondStress | None) -> str:
    if stress is None or stress.utilisation is None or max(stress.average_mpa, stress.peel_mpa) < ROUNDING_MPA:
        return ""
    return f"{100.0 * stress.utilisation:.0f} %"


def _bolts(stacks: Sequence[Stack]) -> str:
    kinds: dict[str, int] = {}
    for row in sorted(stacks, key=lambda row: (natural_key(row.size), row.length_mm, natural_key(row.bolt))):
        name = f"{row.size} × {row.length_mm:g}"
        kinds[name] = kinds.get(name, 0) + 1
    return ", ".join(f"{count} × {name}" for name, count in kinds.items())


def _spread(values: Sequence[float], unit: str) -> str:
    if not values:
        return ""
    low, high = f"{values[0]:g}", f"{values[-1]:g}"
    return f"{low if low == high else f'{low}–{high}'} {unit}"


def _derived(source: Source) -> Iterator[tuple[str, list[WorksheetRow]]]:
    """Each different stack, then each different bond, with the joints it stands for."""
    words = source.words
    stacks: dict[tuple[object, ...], list[tuple[JointId, list[WorksheetRow]]]] = {}
    bonds: dict[tuple[object, ...], list[tuple[JointId, list[WorksheetRow]]]] = {}
    for joint in sorted(source.worksheets, key=natural_key):
        own = [row for row in source.worksheets[joint] if row.about == joint]
        by_bolts: dict[Text, list[WorksheetRow]] = {}
        for row in source.worksheets[joint]:
            if row.about != joint:
                by_bolts.setdefault(row.about, []).append(row)
        for rows in by_bolts.values():
            stacks.setdefault(tuple((row.quantity, row.inputs, row.result) for row in rows), []).append((joint, rows))
        times = tuple((row.code, row.result) for row in own if row.code in BOND_TIMES)
        if times:
            bonds.setdefault(times, []).append((joint, own))
    for alike in stacks.values():
        yield words("engineer.stack", joints=ranges(joint for joint, _ in alike)), alike[0][1]
    for alike in bonds.values():
        shown, rows = max(alike, key=lambda one: (_utilisation(source, one[0]), one[0]))
        yield words("engineer.bond", joint=shown, joints=ranges(joint for joint, _ in alike)), _worth(rows)


def _utilisation(source: Source, name: JointId) -> float:
    stress = _stress(source, source.joint(name))
    return stress.utilisation or 0.0 if stress else 0.0


def _worth(rows: Sequence[WorksheetRow]) -> list[WorksheetRow]:
    """Rows without those whose stress is rounding noise."""
    return [row for row in rows if row.unit != "MPa" or float(str(row.result)) >= ROUNDING_MPA]


def _sources(derived: Sequence[tuple[str, Sequence[WorksheetRow]]]) -> Iterator[Text]:
    for _, rows in derived:
        yield from (row.source for row in rows)


def _sheet_row(row: WorksheetRow, numbers: Mapping[Text, str], words: Words) -> SheetRow:
    return SheetRow(
        quantity=words.text(row.quantity),
        formula=words.text(row.formula),
        inputs=words.text(row.inputs),
        result=f"{words.text(row.result)} {row.unit}".strip(),
        source=numbers[row.source],
    )


def _stages(source: Source) -> Iterator[tuple[str, ...]]:
    """Steps in which something is lifted, or after which something has to stand; cells as printed."""
    words = source.words
    for step in source.plan.steps:
        lift, stands = step.lift, step.stability
        if lift is None and stands is None:
            continue
        how = ""
        if lift:
            how = words("engineer.hoist") if lift.people == 0 else words.count("engineer.people", lift.people)
        yield (
            step.number,
            source.units.mass(lift.mass_kg) if lift else "",
            how,
            quantities.angle(stands.tip_deg) if stands else "",
            (words.text(stands.reason) or words("engineer.prop")) if stands and stands.needs_prop else "",
        )


def push_rows(source: Source) -> tuple[tuple[tuple[str, ...], ...], tuple[str, ...]]:
    """What winds and one person do to the figure, row by row, and what that stands on."""
    return tuple(_push(source, row) for row in source.exposure), _push_notes(source)


def _push(source: Source, row: ExposureRow) -> tuple[str, ...]:
    """One wind, or one person: cause, force, moment, safety against tipping and sliding, pull and shear of anchors."""
    words = source.words
    return (
        words("push.wind", speed=quantities.speed(row.wind_m_s)) if row.wind_m_s else words("push.person"),
        quantities.force(row.force_n),
        quantities.moment(row.moment_nm),
        quantities.safety(row.tip_safety),
        quantities.safety(row.slide_safety),
        quantities.force(row.anchor_tension_n) if row.anchor_tension_n is not None else "",
        quantities.force(row.anchor_shear_n) if row.anchor_shear_n is not None else "",
    )


def _push_notes(source: Source) -> tuple[str, ...]:
    """What the table of pushes stands on, and what it is not."""
    if not source.exposure:
        return ()
    words = source.words
    notes = [
        words("push.how", drag=f"{DRAG:g}", friction=f"{FRICTION:g}", asked=f"{ASKED_SAFETY:g}"),
        words("push.person_how", force=quantities.force(PERSON_PUSH_N)),
    ]
    if source.settings.base.anchors and not source.settings.base.anchors_at_mm:
        notes.append(words("push.no_places"))
    return (*notes, words("push.not"))


def _references(words: Words) -> tuple[tuple[str, str, str, str], ...]:
    """What tables and rules were taken from, and where it can be read, with the day it was."""
    rows = []
    for row in tables.references():
        what = ", ".join(text for text in (row.author, row.title) if text) or row.text
        # An address of a query has no place where a line may break, and would run out of its cell.
        address = row.address.replace("?", "?\N{ZERO WIDTH SPACE}").replace("&", "&\N{ZERO WIDTH SPACE}")
        where = f"{address} ({row.read})" if address and row.read else address
        rows.append((what, row.place, where, words.text(row.how.label)))
    return tuple(rows)


def _materials(source: Source) -> tuple[tuple[str, str, str, str], ...]:
    used = {part.material for part in source.plan.parts}
    return tuple(
        (row.name, f"{row.density_kg_m3:.0f} kg/m³", f"{row.bearing_mpa:g} MPa", row.source)
        for name, row in sorted(source.settings.materials.items())
        if name in used
    )


def _adhesive(source: Source) -> tuple[Pair, ...]:
    words, row = source.words, source.settings.adhesive
    if not source.bondings:
        return ()
    low, high = source.units.temperature(row.lowest_c), source.units.temperature(row.highest_c)
    return (
        (words("adhesive.name"), row.name),
        (words("adhesive.bond_line"), f"{row.bond_line_mm:g} mm"),
        (words("adhesive.waste"), f"{row.waste * 100:.0f} %"),
        (words("adhesive.sheet"), source.units.temperature(row.sheet_c)),
        (words("adhesive.open"), quantities.span(row.open_min)),
        (words("adhesive.handling"), quantities.duration(row.handling_min)),
        (words("adhesive.full_cure"), quantities.duration(row.full_cure_min)),
        (words("adhesive.range"), words("adhesive.range_value", low=low, high=high)),
        (words("adhesive.source"), row.source),
    )
