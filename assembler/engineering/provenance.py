"""How sure each number in the book is: a published check in the tests, or a mark that the page shows.

Every numeric field of the records that reach a page has an entry; a test fails when one is missing, or names a check
that does not exist, or claims a published source without a check under tests/published. `provenance_rows` is the
table that the book prints.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Mark(StrEnum):
    """What the page shows beside a kind of number."""

    PUBLISHED = "checked against a published source"
    PRACTICE = "common practice, no source"
    MEMORY = "from memory"
    STATED = "stated by the shop in figure.toml"
    MEASURED = "measured on the meshes"
    COUNTED = "counted"


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberKind:
    """One kind of number in the book.

    Parameters
    ----------
    title
        As the page calls it.
    fields
        Where it stands: record and field ('Stack.torque_nm').
    mark
        How sure it is, at its weakest link.
    note
        What it stands on, for the page.
    check
        Test that holds it, as path::name below tests/; may be empty only where the mark is not `PUBLISHED`.
    """

    title: str
    fields: tuple[str, ...]
    mark: Mark
    note: str
    check: str = ""


def _fields(text: str) -> tuple[str, ...]:
    """'Stack: head_mm nut_mm; Bolt: hole_mm' as 'Stack.head_mm', ..."""
    groups = (group.split(":") for group in text.split(";"))
    return tuple(f"{record.strip()}.{name}" for record, names in groups for name in names.split())


_MASS = "published/test_mass_properties.py::test_closed_forms"
_SUMS = "engineering/test_counting.py::test_totals_are_sums_of_the_bags"
_SCHEDULE = "published/test_critical_path.py::test_printed_solutions_of_arrow_networks"

NUMBER_KINDS: tuple[NumberKind, ...] = (
    NumberKind(
        title="sizes of screws, nuts and washers",
        fields=_fields(
            "Stack: head_mm nut_mm across_flats_mm nut_across_flats_mm key_mm head_outer_mm washer_mm washer_outer_mm"
        ),
        mark=Mark.PUBLISHED,
        note="tables of the standards, two carriers compared",
        check="published/test_tables.py::test_two_open_table_sets_agree",
    ),
    NumberKind(
        title="length of screws",
        fields=_fields("Stack: length_mm needed_mm protrusion_mm; HardwareLine: length_mm"),
        mark=Mark.PUBLISHED,
        note="grip + washers + nut + 2 pitches, next length of the series",
        check="published/test_lengths.py::test_length_cases",
    ),
    NumberKind(
        title="tightening torque",
        fields=_fields("Stack: torque_nm; HardwareLine: torque_nm"),
        mark=Mark.PRACTICE,
        note="T = K F d, checked against published examples; its limit by pressure under the washer is common practice",
        check="published/test_torque.py::test_worked_examples_of_two_engineering_pages",
    ),
    NumberKind(
        title="holes, grips and places of bolts",
        fields=_fields("Stack: grip_mm; Bolt: at_mm axis hole_mm grip_mm seat_room_mm"),
        mark=Mark.MEASURED,
        note="fitted to the vertices; compared with the known truth of the demo figure",
    ),
    NumberKind(
        title="pieces of hardware",
        fields=_fields("Stack: washers; HardwareLine: count; BuyLine: count"),
        mark=Mark.COUNTED,
        note="sums over bolts, bags and steps agree",
        check=_SUMS,
    ),
    NumberKind(
        title="spares and packs",
        fields=_fields("BuyLine: spares packs pack"),
        mark=Mark.STATED,
        note="share and least number of spares, pieces in a pack",
        check="engineering/test_counting.py::test_spares_by_the_rule",
    ),
    NumberKind(
        title="areas, seams and gaps of joints",
        fields=_fields("Joint: bond_area_mm2 seam_mm normal centre_mm gap_mm; Bonding: area_mm2"),
        mark=Mark.MEASURED,
        note="fitted to the vertices; compared with the known truth of the demo figure",
    ),
    NumberKind(
        title="amount of adhesive",
        fields=_fields("Bonding: volume_ml"),
        mark=Mark.PRACTICE,
        note="area x bond line x (1 + waste); bond line and waste as stated",
        check="published/test_standing.py::test_adhesive_volume_of_a_flange_ring",
    ),
    NumberKind(
        title="open time, working life, fixture, handling, full cure",
        fields=_fields(
            "Bonding: open_min fixture_min handling_min full_cure_min; Hold: minutes; TemperatureRow: open_min "
            "working_life_min fixture_min handling_min full_cure_min"
        ),
        mark=Mark.PUBLISHED,
        note="the data sheet's minutes as stated, halved for each 10 C more; real factors run from 1.5 to 2.5",
        check="published/test_cure_times.py::test_worked_example_of_the_ten_degree_rule",
    ),
    NumberKind(
        title="temperatures",
        fields=_fields("Bonding: temperature_c hold_c; TemperatureRow: temp_c"),
        mark=Mark.STATED,
        note="of the parts, as stated",
    ),
    NumberKind(
        title="time to close a joint, working time of a step",
        fields=_fields("Bonding: needed_min; Step: minutes"),
        mark=Mark.PRACTICE,
        note="rates of the crew as stated, plus common allowances",
    ),
    NumberKind(
        title="start, end and total time",
        fields=_fields("Step: start_min end_min; Plan: total_min"),
        mark=Mark.PUBLISHED,
        note="critical path over the working times above; not clock promises",
        check=_SCHEDULE,
    ),
    NumberKind(
        title="volumes, masses and centres",
        fields=_fields(
            "Part: mass_kg volume_mm3 area_mm2 centre_mm low_mm high_mm; Section: mass_kg size_mm centre_mm; "
            "Lift: mass_kg centre_mm; Standing: mass_kg centre_mm height_mm"
        ),
        mark=Mark.PUBLISHED,
        note="integrals over the mesh, times the density as stated",
        check=_MASS,
    ),
    NumberKind(
        title="triangles of a part",
        fields=_fields("Part: triangles"),
        mark=Mark.COUNTED,
        note="read from the file",
    ),
    NumberKind(
        title="people for a lift",
        fields=_fields("Lift: people"),
        mark=Mark.PUBLISHED,
        note="revised NIOSH lifting equation and the HSE team rule, with assumed holds; no risk assessment",
        check="published/test_lifting.py::test_worked_examples_to_the_printed_digits",
    ),
    NumberKind(
        title="tip angle",
        fields=_fields("Stability: tip_deg"),
        mark=Mark.PUBLISHED,
        note="statics of a rigid body on its support polygon",
        check="published/test_standing.py::test_tip_angle",
    ),
    NumberKind(
        title="reach of a hand",
        fields=_fields("Access: reach_mm head_end"),
        mark=Mark.MEMORY,
        note="way measured on the meshes; openings for hands and arms from memory unless the shop stated its own",
    ),
    NumberKind(
        title="pushes by wind and people, safety against overturning",
        fields=_fields(
            "ExposureRow: wind_m_s force_n moment_nm tip_safety slide_safety anchor_tension_n anchor_shear_n"
        ),
        mark=Mark.PRACTICE,
        note="0.5 rho v^2 and statics, checked; drag, friction, push and asked safety are practice; local codes rule",
        check="published/test_standing.py::test_wind_pressure",
    ),
    NumberKind(
        title="areas seen from the side",
        fields=_fields("Silhouette: toward area_mm2 centre_height_mm"),
        mark=Mark.MEASURED,
        note="counted on a grid over the meshes; compared with closed forms and a solid library",
        check="geometry/test_silhouettes.py::test_the_projection_of_a_general_solid_library_agrees",
    ),
    NumberKind(
        title="forces on the road",
        fields=_fields("TransportForce: acceleration_g force_n"),
        mark=Mark.PUBLISHED,
        note="accelerations of EN 12195-1 times the mass; lashing is for the haulier",
        check="published/test_standing.py::test_road_accelerations_of_en_12195_1",
    ),
    NumberKind(
        title="load on bonds, and on bolts without adhesive",
        fields=_fields(
            "BondStress: force_n moment_nm average_mpa peel_mpa utilisation safety; "
            "BondStrength: shear_mpa peel_mpa; BoltsAlone: preload_n slip_safety gap_safety; "
            "CarriedLoad: mass_kg centre_mm; OnBolts: slip_safety gap_safety"
        ),
        mark=Mark.PRACTICE,
        note="averages by statics; friction, creep and factors of safety are common practice",
        check="engineering/test_loads.py::test_peel_of_a_ring_against_its_integral",
    ),
    NumberKind(
        title="movement of parts",
        fields=_fields("Move: direction travel_mm; Swing: at_mm axis degrees; Step: up; Plan: up"),
        mark=Mark.MEASURED,
        note="found on the meshes; checked again by intersecting solids",
    ),
    NumberKind(
        title="filler, primer, coats and waits",
        fields=_fields(
            "FinishQuantity: amount product_l coats wait_min; FinishOperation: coverage_m2_l groove_mm2 coats wait_min"
        ),
        mark=Mark.PRACTICE,
        note="length or area, times groove or over coverage as stated, plus 30 %",
        check="engineering/test_finishing.py::test_a_litre_at_one_millimetre_covers_a_square_metre",
    ),
    NumberKind(
        title="costs of the chosen order",
        fields=_fields("Plan: costs"),
        mark=Mark.COUNTED,
        note="what orders were compared by",
    ),
    NumberKind(
        title="what the shop states",
        fields=_fields(
            "Material: density_kg_m3 bearing_mpa; HardwareChoice: spares_percent spares_least pack stock_lengths_mm "
            "nut_factor; Adhesive: bond_line_mm waste cartridge_ml open_min working_life_min fixture_min handling_min "
            "full_cure_min sheet_c lowest_c highest_c strength_mpa peel_mpa "
            "handling_mpa; Crew: people hand_opening_mm forearm_opening_mm "
            "reach_mm lift_one_kg bolt_min spread_mm2_min prepare_mm2_min dry_fit_min day_start_h day_end_h; "
            "Climate: shop_c night_min_c site_c night_site_c; "
            "Envelopes: printer_mm door_mm crate_mm; Base: size_mm mass_kg anchors anchors_at_mm; Settings: unit_mm "
            "up moved_mm seam_step_mm; Tolerances: gap_mm overlap_mm angle_deg joint_area_mm2 merge_mm graze_mm"
        ),
        mark=Mark.STATED,
        note="with the source that the shop gives; defaults are typical values from memory",
        check="engineering/test_plausibility.py::test_a_wrong_unit_is_found",
    ),
)
"""Every kind of number, in the order of the table that is printed."""


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


def provenance_rows() -> tuple[tuple[str, str, str], ...]:
    """The table 'how sure each number is': title, mark, what it stands on."""
    return tuple((kind.title, str(kind.mark), kind.note) for kind in NUMBER_KINDS)
