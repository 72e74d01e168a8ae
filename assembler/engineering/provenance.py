"""How sure each number in the book is: its rule, what goes into it, and the weaker of both.

Every numeric field of the records that reach a page has a kind. A kind names the rule it follows, the tables and
constants it takes, and the kinds it rests on; how sure its inputs are follows from those, nobody writes it down. A test
fails when a field or a constant of this room has no entry, when a check that is named does not exist, or when a rule
claims a published source without a check under tests/published. `provenance_rows` is the table that the book prints.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from assembler.catalogue import tables
from assembler.catalogue.records import Sureness
from assembler.figure.settings import Settings
from assembler.words import Said, Text, say


class Mark(StrEnum):
    """What the page shows beside a kind of number, the surest first."""

    COUNTED = "counted"
    MEASURED = "measured on the meshes"
    PUBLISHED = "checked against a published source"
    STATED = "stated by the shop in figure.toml"
    PRACTICE = "common practice, no source"
    MEMORY = "from memory"


_ORDER = tuple(Mark)

_OF_TABLES = {
    Sureness.READ: Mark.PUBLISHED,
    Sureness.SECOND_HAND: Mark.PUBLISHED,
    Sureness.COMPUTED: Mark.PUBLISHED,
    Sureness.COMMON_PRACTICE: Mark.PRACTICE,
    Sureness.FROM_MEMORY: Mark.MEMORY,
}


def weakest(marks: Iterable[Mark]) -> Mark | None:
    """The least sure of some marks; None of none."""
    return max(marks, key=_ORDER.index, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberKind:
    """One kind of number in the book.

    Parameters
    ----------
    title
        Its name here; the page calls it `number.<title>.name` in the catalogue and says what it stands on, `note`.
    fields
        Where it stands: record and field ('Stack.torque_nm').
    rule
        How sure the rule is by which it is found.
    check
        Test that holds the rule, as path::name below tests/; may be empty only where the rule is not `PUBLISHED`.
    tables, constants
        What goes in from the catalogue ('materials'), and from this room ('lifting.BENCH_CM').
    rests_on
        Titles of the kinds that go in.
    """

    title: str
    fields: tuple[str, ...]
    rule: Mark
    check: str = ""
    tables: tuple[str, ...] = ()
    constants: tuple[str, ...] = ()
    rests_on: tuple[str, ...] = ()


CONSTANTS: dict[str, Mark] = {
    "basejoint.WIND_M_S": Mark.PRACTICE,
    "basejoint.UNDER_WASHER": Mark.MEMORY,
    "basejoint.ACROSS_MPA": Mark.MEMORY,
    "basejoint.TIMBER_SHARE": Mark.MEMORY,
    "basejoint.DIRECTIONS": Mark.COUNTED,
    "bonding.PREPARED_H": Mark.PRACTICE,
    "bonding.PURGE_ML": Mark.PRACTICE,
    "boltsalone.WET_FRICTION": Mark.PRACTICE,
    "boltsalone.DRY_FRICTION": Mark.PUBLISHED,
    "boltsalone.KEPT_PRELOAD": Mark.PRACTICE,
    "boltsalone.ASKED_SAFETY": Mark.PRACTICE,
    "bondsheet.NO_STRESS_MPA": Mark.PRACTICE,
    "passing.ROOM_MM": Mark.PRACTICE,
    "crating.BEARS_MPA": Mark.PRACTICE,
    "crating.STEADY_DEG": Mark.PRACTICE,
    "crating.CLEAR_MM": Mark.PRACTICE,
    "crating.SHEET_MM": Mark.PRACTICE,
    "crating.BATTEN_MM": Mark.PRACTICE,
    "crating.FLOOR_MM": Mark.PRACTICE,
    "crating.SKID_MM": Mark.PRACTICE,
    "crating.BED_MM": Mark.PRACTICE,
    "crating.SHEET_SIZE_MM": Mark.PRACTICE,
    "crating.SKID_SPACING_MM": Mark.PRACTICE,
    "lashing.STEEP_DEG": Mark.MEMORY,
    "crating.SOFTWOOD_KG_M3": Mark.MEMORY,
    "crating.PLYWOOD_KG_M3": Mark.MEMORY,
    "crating.WASTE": Mark.PRACTICE,
    "lashing.FRICTION": Mark.MEMORY,
    "lashing.STRAP_N": Mark.MEMORY,
    "lashing.SAFETY_FORWARD": Mark.MEMORY,
    "lashing.SAFETY_OTHER": Mark.MEMORY,
    "bondstress.SAFETY_FACTOR": Mark.PRACTICE,
    "bondstress.PEEL_SHARE": Mark.PRACTICE,
    "constants.GRAVITY_M_S2": Mark.PUBLISHED,
    "constants.AIR_KG_M3": Mark.PUBLISHED,
    "constants.STEEL_KG_M3": Mark.MEMORY,
    "curing.DOUBLING_C": Mark.PUBLISHED,
    "curing.HALVING_C": Mark.PUBLISHED,
    "decisions.TIMBER_WIDE": Mark.MEMORY,
    "decisions.TIMBER_THICK": Mark.MEMORY,
    "decisions.FAR_THICKNESSES": Mark.MEMORY,
    "decisions.FAR_MM": Mark.MEMORY,
    "exposure.WIND_SPEEDS_M_S": Mark.PRACTICE,
    "exposure.PERSON_PUSH_N": Mark.PRACTICE,
    "exposure.ASKED_SAFETY": Mark.PRACTICE,
    "exposure.DRAG": Mark.MEMORY,
    "exposure.FRICTION": Mark.PRACTICE,
    "fastening.SAME_LENGTH_MM": Mark.PRACTICE,
    "fastening.LEAST_TORQUE_SHARE": Mark.PRACTICE,
    "fastening.LEAST_WRENCH_NM": Mark.PRACTICE,
    "finishing.FINISH_WASTE": Mark.PRACTICE,
    "holes.HOLE_TOLERANCE_MM": Mark.PRACTICE,
    "holes.INCH_TOLERANCE_MM": Mark.PRACTICE,
    "holes.LEAST_CLEARANCE_MM": Mark.PRACTICE,
    "holes.METRIC_DOUBT_MM": Mark.PRACTICE,
    "lengths.PROTRUSION_PITCHES": Mark.PRACTICE,
    "lengths.MOST_PROTRUSION_PITCHES": Mark.PRACTICE,
    "lengths.INSERT_ENGAGEMENT": Mark.PRACTICE,
    "lengths.THREAD_IN_GRIP_PITCHES": Mark.PRACTICE,
    "lengths.FULL_THREAD_PITCHES": Mark.MEMORY,
    "lifting.BENCH_CM": Mark.PRACTICE,
    "lifting.NEAR_CM": Mark.PUBLISHED,
    "lifting.FAR_CM": Mark.PUBLISHED,
    "lifting.PLATFORM_MM": Mark.PRACTICE,
    "lifting.LONG_MM": Mark.PRACTICE,
    "patterns.TIGHTENING_PASSES": Mark.PRACTICE,
    "patterns.ALIKE": Mark.PRACTICE,
    "patterns.ROW_RATIO": Mark.PRACTICE,
    "schedule.SLACK_TOLERANCE_MIN": Mark.PRACTICE,
    "scheduling.CURE_UNITS": Mark.COUNTED,
    "scheduling.OTHER_AIMS": Mark.COUNTED,
    "selection.ROOM_TOLERANCE_MM": Mark.PRACTICE,
    "selection.TIGHT_MM": Mark.PRACTICE,
    "spacing.LEAST_SPACING_HOLES": Mark.PUBLISHED,
    "spacing.LEAST_EDGE_HOLES": Mark.PUBLISHED,
    "spacing.MEASURED_MM": Mark.PRACTICE,
    "standing.LEAST_ARM_MM": Mark.PRACTICE,
    "tightening.PRELOAD_SHARE": Mark.PUBLISHED,
    "tightening.STRUCTURE_N": Mark.PRACTICE,
    "tightening.BUTTON_SHARE": Mark.MEMORY,
    "workhours.DAY_MIN": Mark.COUNTED,
    "worktimes.HANDS_AT_JOINT": Mark.PRACTICE,
    "worktimes.INSIDE_MM": Mark.PRACTICE,
}
"""Every number that this room holds itself, by module and name."""


def _fields(text: str) -> tuple[str, ...]:
    """'Stack: head_mm nut_mm; Bolt: hole_mm' as 'Stack.head_mm', ..."""
    groups = (group.split(":") for group in text.split(";"))
    return tuple(f"{record.strip()}.{name}" for record, names in groups for name in names.split())


_MASS = "published/test_mass_properties.py::test_closed_forms"
_SUMS = "engineering/test_counting.py::test_totals_are_sums_of_the_bags"

NUMBER_KINDS: tuple[NumberKind, ...] = (
    NumberKind(
        title="sizes of screws, nuts and washers",
        fields=_fields(
            "Stack: head_mm nut_mm across_flats_mm nut_across_flats_mm key_mm head_outer_mm washer_mm washer_outer_mm"
        ),
        rule=Mark.PUBLISHED,
        check="published/test_tables.py::test_hexagon_heads_of_iso_4014_and_4017",
        tables=("screws", "nuts", "washers"),
    ),
    NumberKind(
        title="length of screws",
        fields=_fields("Stack: length_mm needed_mm protrusion_mm; HardwareLine: length_mm"),
        rule=Mark.PRACTICE,
        check="published/test_lengths.py::test_lists_of_lengths",
        tables=("lengths", "nuts", "washers", "threads"),
        constants=("lengths.PROTRUSION_PITCHES", "lengths.INSERT_ENGAGEMENT"),
        rests_on=("holes, grips and places of bolts", "amount of adhesive"),
    ),
    NumberKind(
        title="tightening torque",
        fields=_fields("Stack: torque_nm; HardwareLine: torque_nm"),
        rule=Mark.PRACTICE,
        check="published/test_torque.py::test_torques_at_three_quarters_of_the_proof_load",
        tables=("strength", "threads", "bearing_faces", "washers"),
        constants=("tightening.PRELOAD_SHARE", "tightening.BUTTON_SHARE"),
        rests_on=("what the shop states of materials", "holes, grips and places of bolts"),
    ),
    NumberKind(
        title="holes, grips and places of bolts",
        fields=_fields("Stack: grip_mm; Bolt: at_mm axis hole_mm grip_mm seat_room_mm seats_mm"),
        rule=Mark.MEASURED,
    ),
    NumberKind(
        title="pieces of hardware",
        fields=_fields("Stack: washers; HardwareLine: count; BuyLine: count"),
        rule=Mark.COUNTED,
        check=_SUMS,
    ),
    NumberKind(
        title="spares and packs",
        fields=_fields("BuyLine: spares packs pack"),
        rule=Mark.STATED,
        check="engineering/test_counting.py::test_spares_by_the_rule",
        rests_on=("what else the shop states",),
    ),
    NumberKind(
        title="areas, seams and gaps of joints",
        fields=_fields(
            "Joint: bond_area_mm2 seam_mm normal centre_mm gap_mm; Bonding: area_mm2; Finish: seam_mm skin_mm2"
        ),
        rule=Mark.MEASURED,
    ),
    NumberKind(
        title="amount of adhesive",
        fields=_fields("Bonding: volume_ml"),
        rule=Mark.PRACTICE,
        check="published/test_standing.py::test_adhesive_volume_of_a_flange_ring",
        rests_on=("areas, seams and gaps of joints", "data sheet of the adhesive"),
    ),
    NumberKind(
        title="open time, working life, fixture, handling, full cure",
        fields=_fields(
            "Bonding: open_min fixture_min handling_min full_cure_min; Hold: minutes; TemperatureRow: open_min "
            "working_life_min fixture_min handling_min full_cure_min; "
            "DayAndNight: opens_min closes_min day_share night_share; CureShares: day_share night_share"
        ),
        rule=Mark.PUBLISHED,
        check="published/test_cure_times.py::test_a_whole_hold_from_the_sheet_to_the_night",
        constants=("curing.DOUBLING_C", "curing.HALVING_C"),
        rests_on=("data sheet of the adhesive", "temperatures"),
    ),
    NumberKind(
        title="temperatures",
        fields=_fields("Bonding: temperature_c hold_c; TemperatureRow: temp_c; Done: temperature_c"),
        rule=Mark.STATED,
        rests_on=("what else the shop states",),
    ),
    NumberKind(
        title="time to close a joint, working time of a step",
        fields=_fields("Bonding: needed_min; Step: minutes costs; Instead: minutes; OtherOrder: dearer_min"),
        rule=Mark.PRACTICE,
        constants=(
            "worktimes.HANDS_AT_JOINT",
            "worktimes.INSIDE_MM",
            "patterns.TIGHTENING_PASSES",
        ),
        rests_on=("what else the shop states", "areas, seams and gaps of joints"),
    ),
    NumberKind(
        title="start, end and total time",
        fields=_fields(
            "Step: start_min end_min free_min; Plan: total_min; Errand: people start_min end_min; "
            "FloorPlace: spot start_min end_min; Shortening: days; Calendar: hours end_min least_end_min days"
        ),
        rule=Mark.PUBLISHED,
        check="published/test_scheduling.py::test_proven_optima_of_thirty_jobs",
        constants=("scheduling.CURE_UNITS", "workhours.DAY_MIN"),
        rests_on=(
            "time to close a joint, working time of a step",
            "open time, working life, fixture, handling, full cure",
        ),
    ),
    NumberKind(
        title="volumes, masses and centres",
        fields=_fields(
            "Part: mass_kg volume_mm3 area_mm2 centre_mm; Section: mass_kg size_mm centre_mm; "
            "Lift: mass_kg centre_mm height_mm; Stand: at_mm height_mm; FloorPlace: size_mm; Heading: raised_mm; "
            "Standing: mass_kg centre_mm height_mm"
        ),
        rule=Mark.PUBLISHED,
        check=_MASS,
        rests_on=("what the shop states of materials",),
    ),
    NumberKind(
        title="triangles of a part",
        fields=_fields("Part: triangles"),
        rule=Mark.COUNTED,
    ),
    NumberKind(
        title="people for a lift",
        fields=_fields("Lift: people"),
        rule=Mark.PUBLISHED,
        check="published/test_lifting.py::test_who_lifts",
        tables=("lifting_frequency", "team_lifting"),
        constants=(
            "lifting.BENCH_CM",
            "lifting.NEAR_CM",
            "lifting.FAR_CM",
            "lifting.PLATFORM_MM",
            "lifting.LONG_MM",
        ),
        rests_on=("volumes, masses and centres",),
    ),
    NumberKind(
        title="tip angle",
        fields=_fields("Stability: tip_deg overhang_mm toward moment_nm"),
        rule=Mark.PUBLISHED,
        check="published/test_standing.py::test_tip_angle",
        rests_on=("volumes, masses and centres",),
    ),
    NumberKind(
        title="reach of a hand",
        fields=_fields("Access: reach_mm head_end; Bolt: head_end"),
        rule=Mark.MEMORY,
        tables=("openings", "body"),
        rests_on=("what else the shop states",),
    ),
    NumberKind(
        title="pushes by wind and people, safety against overturning",
        fields=_fields(
            "ExposureRow: wind_m_s force_n moment_nm tip_safety slide_safety anchor_tension_n anchor_shear_n; "
            "Stability: push_n"
        ),
        rule=Mark.PRACTICE,
        check="published/test_standing.py::test_wind_pressure",
        tables=("body",),
        constants=(
            "constants.AIR_KG_M3",
            "exposure.WIND_SPEEDS_M_S",
            "exposure.PERSON_PUSH_N",
            "exposure.ASKED_SAFETY",
            "exposure.DRAG",
            "exposure.FRICTION",
            "standing.LEAST_ARM_MM",
        ),
        rests_on=("volumes, masses and centres", "areas seen from the side"),
    ),
    NumberKind(
        title="areas seen from the side",
        fields=_fields("Silhouette: toward area_mm2 centre_height_mm"),
        rule=Mark.MEASURED,
        check="geometry/test_silhouettes.py::test_the_projection_of_a_general_solid_library_agrees",
    ),
    NumberKind(
        title="forces on the road",
        fields=_fields("TransportForce: acceleration_g force_n"),
        rule=Mark.PUBLISHED,
        check="published/test_standing.py::test_road_accelerations_of_en_12195_1",
        tables=("transport",),
        rests_on=("volumes, masses and centres", "tip angle"),
    ),
    NumberKind(
        title="load on bonds, and on bolts without adhesive",
        fields=_fields(
            "BondStress: force_n moment_nm average_mpa peel_mpa utilisation safety; "
            "BondStrength: shear_mpa peel_mpa; BoltsAlone: preload_n slip_safety gap_safety; "
            "CarriedLoad: mass_kg centre_mm; BaseJoint: wind_m_s tension_n pressure_mpa allowed_mpa preload_n; "
            "OnBolts: slip_safety gap_safety"
        ),
        rule=Mark.PRACTICE,
        check="engineering/test_loads.py::test_peel_of_a_ring_against_its_integral",
        constants=(
            "boltsalone.WET_FRICTION",
            "boltsalone.DRY_FRICTION",
            "boltsalone.KEPT_PRELOAD",
            "boltsalone.ASKED_SAFETY",
            "basejoint.WIND_M_S",
            "basejoint.UNDER_WASHER",
            "basejoint.ACROSS_MPA",
            "basejoint.TIMBER_SHARE",
            "bondstress.SAFETY_FACTOR",
            "bondstress.PEEL_SHARE",
        ),
        rests_on=("volumes, masses and centres", "data sheet of the adhesive", "tightening torque"),
    ),
    NumberKind(
        title="boxes and passages",
        fields=_fields("Passing: size_mm up; SectionWay: mass_kg; Division: weighed least"),
        rule=Mark.PRACTICE,
        check="planning/test_division.py::test_two_rings_pass_the_door_at_a_time",
        constants=("passing.ROOM_MM", "crating.CLEAR_MM"),
        rests_on=("volumes, masses and centres", "what else the shop states"),
    ),
    NumberKind(
        title="crates and beds",
        fields=_fields(
            "Bed: up along size_mm centre_mm borne_mm2 tip_deg cradles_mm shares; Timber: count length_mm width_mm; "
            "Crate: inner_mm outer_mm net_kg gross_kg centre_mm boards_m sheets forces_n people; "
            "Stowed: at_mm; Trip: mass_kg centre_mm"
        ),
        rule=Mark.PRACTICE,
        check="transport/test_consignment.py::test_a_plinth_lies_as_low_as_it_bears",
        constants=(
            "crating.BEARS_MPA",
            "crating.STEADY_DEG",
            "crating.CLEAR_MM",
            "crating.SOFTWOOD_KG_M3",
            "crating.PLYWOOD_KG_M3",
            "crating.WASTE",
        ),
        rests_on=("boxes and passages", "forces on the road"),
    ),
    NumberKind(
        title="straps",
        fields=_fields("Straps: sliding_forward sliding_side tipping blocked; Tipping: stands_g asked_g"),
        rule=Mark.PUBLISHED,
        check="published/test_lashing.py::test_mass_that_one_strap_keeps_from_sliding",
        constants=("lashing.FRICTION", "lashing.STRAP_N", "lashing.SAFETY_FORWARD", "lashing.SAFETY_OTHER"),
        rests_on=("crates and beds",),
    ),
    NumberKind(
        title="movement of parts",
        fields=_fields("Move: direction travel_mm; Swing: at_mm axis degrees; Step: up; Plan: up"),
        rule=Mark.MEASURED,
    ),
    NumberKind(
        title="filler, primer, coats and waits",
        fields=_fields(
            "FinishQuantity: amount product_l coats wait_min; FinishOperation: coverage_m2_l groove_mm2 coats wait_min"
        ),
        rule=Mark.PRACTICE,
        check="engineering/test_finishing.py::test_a_litre_at_one_millimetre_covers_a_square_metre",
        tables=("finish_routes",),
        constants=("finishing.FINISH_WASTE",),
        rests_on=("areas, seams and gaps of joints",),
    ),
    NumberKind(
        title="costs of the chosen order",
        fields=_fields("Plan: costs"),
        rule=Mark.COUNTED,
    ),
    NumberKind(
        title="what the shop states of materials",
        fields=_fields("Material: density_kg_m3 ballast_kg_m3 bearing_mpa"),
        rule=Mark.STATED,
        check="engineering/test_plausibility.py::test_a_wrong_unit_is_found",
    ),
    NumberKind(
        title="data sheet of the adhesive",
        fields=_fields(
            "Adhesive: bond_line_mm waste cartridge_ml open_min working_life_min fixture_min handling_min "
            "full_cure_min sheet_c lowest_c highest_c strength_mpa peel_mpa handling_mpa"
        ),
        rule=Mark.STATED,
        check="engineering/test_plausibility.py::test_a_wrong_unit_is_found",
    ),
    NumberKind(
        title="what else the shop states",
        fields=_fields(
            "HardwareChoice: spares_percent spares_least pack stock_lengths_mm nut_factor; Crew: people "
            "hand_opening_mm forearm_opening_mm upper_arm_opening_mm reach_mm lift_one_kg fetch_min second_person_min "
            "hoist_min dry_fit_min prepare_mm2_min mask_mm_min mix_min spread_mm2_min close_min bolt_min round_min "
            "inside_factor wipe_mm_min prop_min turn_min seam_mm_min coat_mm2_min team day_start_h day_end_h shifts_h; "
            "Wishes: places hoists warm_c; Calendar: people team hoists spots handling_min full_cure_min; "
            "Climate: shop_c night_min_c site_c night_site_c; "
            "Envelopes: printer_mm section_max_kg; Passage: width_mm height_mm turn_mm; "
            "Vehicle: length_mm width_mm height_mm payload_kg; Base: size_mm mass_kg anchors anchors_at_mm; "
            "StatedBase: size_mm mass_kg top_mm; "
            "Settings: unit_mm up front moved_mm seam_step_mm; "
            "Tolerances: gap_mm overlap_mm angle_deg joint_area_mm2 merge_mm graze_mm"
        ),
        rule=Mark.STATED,
        check="engineering/test_plausibility.py::test_a_wrong_unit_is_found",
    ),
    NumberKind(
        title="numbers in orders and checks",
        fields=(),
        rule=Mark.PRACTICE,
        constants=(
            "bonding.PREPARED_H",
            "bonding.PURGE_ML",
            "patterns.TIGHTENING_PASSES",
            "fastening.LEAST_WRENCH_NM",
            "tightening.STRUCTURE_N",
            "spacing.LEAST_SPACING_HOLES",
            "spacing.LEAST_EDGE_HOLES",
        ),
        tables=("tools", "prevailing_torques"),
    ),
)
"""Every kind of number, in the order of the table that is printed."""


_BY_TITLE = {kind.title: kind for kind in NUMBER_KINDS}


def kind_of(field: str) -> NumberKind:
    """The entry of a field ('Stack.torque_nm').

    Raises
    ------
    KeyError
        If the field has no entry: then it must not be printed.
    """
    for kind in NUMBER_KINDS:
        if field in kind.fields:
            return kind
    raise KeyError(f"{field} has no provenance; a number without one is not printed")


def inputs_mark(kind: NumberKind, settings: Settings | None = None) -> Mark | None:
    """How sure the least sure thing is that goes into a kind of number; None where nothing does.

    Parameters
    ----------
    kind
        An entry.
    settings
        What the shop stated: sources that say 'from memory' count as that. None: everything stated counts as stated.
    """
    marks = [CONSTANTS[name] for name in kind.constants]
    marks += [_OF_TABLES[how] for name in kind.tables for how in tables.surenesses(name)]
    for title in kind.rests_on:
        other = _BY_TITLE[title]
        inner = inputs_mark(other, settings)
        marks += [other.rule] if inner is None else [other.rule, inner]
    return weakest([*marks, *_stated_from_memory(kind, settings)])


def overall_mark(kind: NumberKind, settings: Settings | None = None) -> Mark:
    """The weaker of rule and inputs."""
    inner = inputs_mark(kind, settings)
    return kind.rule if inner is None else weakest((kind.rule, inner)) or kind.rule


def _stated_from_memory(kind: NumberKind, settings: Settings | None) -> list[Mark]:
    """A mark where the shop's own source says that it only remembers."""
    if settings is None:
        return []
    said = {
        "what the shop states of materials": [item.source for item in settings.materials.values()],
        "data sheet of the adhesive": [settings.adhesive.source],
    }.get(kind.title, [])
    return [Mark.MEMORY] if any("from memory" in source for source in said) else []


def provenance_rows(settings: Settings | None = None) -> tuple[tuple[Text, Text, Text, Text], ...]:
    """The table 'how sure each number is': title, mark of the rule, mark of what goes in, what it stands on."""
    rows = []
    for kind in NUMBER_KINDS:
        inner = inputs_mark(kind, settings)
        name, note = (say(f"number.{kind.title}.{text}") for text in ("name", "note"))
        rows.append((name, _marked(kind.rule), "" if inner is None else _marked(inner), note))
    return tuple(rows)


def _marked(mark: Mark) -> Said:
    return say(f"number.mark.{mark.name.lower()}")
