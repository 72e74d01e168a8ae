"""Rules and tables that the other files here do not reach, and the list that says which check holds which table."""

from __future__ import annotations

import ast
import csv
import math
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from assembler.catalogue import tables
from assembler.catalogue.records import Sureness
from assembler.engineering.boltsalone import DRY_FRICTION
from assembler.engineering.bondstress import PEEL_SHARE
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.finishing import FINISH_WASTE, finish_quantities
from assembler.engineering.lifting import person_limit
from assembler.engineering.niosh import Coupling, Duration, recommended_weight_limit
from assembler.engineering.spacing import LEAST_EDGE_HOLES, LEAST_SPACING_HOLES
from assembler.engineering.standing import Push, anchor_demand, tip_angle_deg, wind_push
from assembler.engineering.transport import asked_in_transport_g, stands_in_transport, tips_at_g
from assembler.figure.settings import Crew, FinishOperation
from tests.engineering.specimens import glue
from tests.published.reading import source

HERE = Path(__file__).resolve().parent

# The check that reaches each table; where there is none, the table may hold only rows that say where they come from.
CHECKED = {
    "adhesives": "test_rules.py::test_times_of_a_slow_epoxy",
    "bearing_faces": "test_tables.py::test_nuts_of_iso_4032_against_a_suppliers_page",
    "body": "test_standing.py::test_body_measures",
    "clearance_holes": "test_tables.py::test_clearance_holes_against_a_second_table_page",
    "inch_holes": "test_tables.py::test_inch_holes_of_asme_b18_2_8",
    "lengths": "test_lengths.py::test_lists_of_lengths",
    "lifting_frequency": "test_lifting.py::test_frequency_table",
    "prevailing_torques": "test_rules.py::test_first_run_torques_of_iso_2320",
    "nuts": "test_tables.py::test_nuts_of_iso_4032_against_a_suppliers_page",
    "screws": "test_tables.py::test_open_table_sets_of_one_lineage",
    "strength": "test_rules.py::test_loads_of_a2_70",
    "team_lifting": "test_lifting.py::test_team_rule",
    "threads": "test_tables.py::test_stress_area_formula_of_iso_898_1",
    "transport": "test_standing.py::test_road_accelerations_of_en_12195_1",
    "washers": "test_tables.py::test_open_table_sets_of_one_lineage",
}
UNSURE = {"finish_routes", "materials", "openings", "tools"}
NO_NUMBERS = {"sources"}


def test_every_table_has_a_check_or_says_that_it_is_from_memory() -> None:
    data = {Path(item.name).stem for item in files("assembler.catalogue").joinpath("data").iterdir()}
    assert data == set(CHECKED) | UNSURE | NO_NUMBERS
    for check in CHECKED.values():
        path, name = check.split("::")
        tree = ast.parse((HERE / path).read_text(encoding="utf-8"))
        assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, check
    for table in sorted(UNSURE):
        text = files("assembler.catalogue").joinpath("data").joinpath(f"{table}.csv").read_text(encoding="utf-8")
        assert {row["how"] for row in csv.DictReader(text.splitlines())} <= {"M", "P"}, table


@pytest.mark.parametrize("size", [row.size for row in tables.threads()])
@source("iso-3506-1")
def test_loads_of_a2_70(size: str) -> None:
    # V2: ISO 3506-1 on a two-page table of metric fastener properties: A2-70 to M20, Rm 700 MPa, Rp0.2 450 MPa.
    row, area = tables.strength("A2-70", size), tables.thread(size).stress_area_mm2
    assert row.proof_n == pytest.approx(450.0 * area, abs=0.5)
    assert row.ultimate_n == pytest.approx(700.0 * area, abs=0.5)


@pytest.mark.parametrize("size", [row.size for row in tables.threads()])
@source("iso-898-1")
def test_ultimate_loads_of_class_8_8(size: str) -> None:
    # C from M: Rm 800 MPa up to M16 and 830 MPa above (ISO 898-1, from memory); the loads themselves are V2.
    stress = 830.0 if tables.thread(size).diameter_mm > 16 else 800.0
    assert tables.strength("8.8", size).ultimate_n == pytest.approx(
        stress * tables.thread(size).stress_area_mm2, rel=0.005
    )


@source("one-table")
def test_prevailing_torque_nuts_of_iso_7040() -> None:
    # V2, one open table set only: width across flats and greatest height.
    printed = {
        "M3": (5.5, 4.5),
        "M4": (7.0, 6.0),
        "M5": (8.0, 6.8),
        "M6": (10.0, 8.0),
        "M8": (13.0, 9.5),
        "M10": (16.0, 11.9),
        "M12": (18.0, 14.9),
        "M14": (21.0, 17.0),
        "M16": (24.0, 19.1),
        "M20": (30.0, 22.8),
    }
    for size, expected in printed.items():
        nut = tables.nut("ISO 7040", size)
        assert (nut.across_flats_mm, nut.height_mm) == expected


@source("slow-epoxy")
def test_times_of_a_slow_epoxy() -> None:
    # V2: Petrie, Handbook of Adhesives and Sealants, p. 311: working life about 30 min, full cure 3 to 7 days.
    slow = next(row for row in tables.adhesive_families() if row.family == "two-part epoxy, slow")
    assert slow.working_life_min == 30.0
    assert 3.0 <= slow.full_cure_min / 1440.0 <= 7.0
    others = [row for row in tables.adhesive_families() if row is not slow]
    assert {row.how for row in others} == {Sureness.FROM_MEMORY}


@source("en-1993-1-8")
def test_least_distances_of_en_1993_1_8() -> None:
    # V2: EN 1993-1-8:2005, table 3.3: e1 and e2 at least 1.2 d0, p1 at least 2.2 d0 (a rule for steel).
    assert (LEAST_EDGE_HOLES, LEAST_SPACING_HOLES) == (1.2, 2.2)


@source("niosh")
def test_reach_estimated_from_the_width_of_the_load() -> None:
    # V2: Applications manual p. 8: H = 20 + W/2 cm where it was not measured, W from 25 cm up; never below 25.
    assert person_limit(750.0, 400.0, is_team=False).horizontal == pytest.approx(25.0 / 40.0)
    assert person_limit(750.0, 100.0, is_team=False).horizontal == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("task", "name"),
    # V2: Applications manual p. 7 to 12: beyond 63 cm, 175 cm, 175 cm and 135 degrees the multiplier is 0.
    [
        ({"horizontal": 63.1}, "horizontal"),
        ({"vertical": 175.1}, "vertical"),
        ({"distance": 175.1}, "distance"),
        ({"asymmetry_deg": 135.1}, "asymmetric"),
    ],
)
@source("niosh")
def test_lifts_that_the_equation_does_not_allow(task: dict[str, float], name: str) -> None:
    ideal = {"horizontal": 25.0, "vertical": 75.0, "distance": 25.0, "asymmetry_deg": 0.0}
    found = recommended_weight_limit(**(ideal | task), duration=Duration.SHORT, coupling=Coupling.GOOD)  # type: ignore[arg-type]
    assert getattr(found, name) == 0.0
    assert found.limit == 0.0
    inside = {key: math.floor(value) for key, value in task.items()}
    assert recommended_weight_limit(**(ideal | inside), coupling=Coupling.GOOD).limit > 0.0  # type: ignore[arg-type]


@source("asce-7", "air")
def test_wind_pressure_in_two_other_forms() -> None:
    # C: 45 m/s gives 1240.3 Pa. M: ASCE 7 prints 0.613 V^2 = 1241.3 Pa, and 0.00256 V^2 lb/ft2 with V in mile/h.
    push = wind_push(1e6, 1000.0, 45.0, drag=1.0)
    assert push.force_n == pytest.approx(1240.3, abs=0.05)
    assert push.force_n == pytest.approx(1241.325, rel=0.001)
    mile_h, psf_pa = 45.0 / 0.44704, 47.880259
    assert push.force_n == pytest.approx(0.00256 * mile_h**2 * psf_pa, rel=0.003)


@source("en-12195-1", "statics")
def test_a_section_on_its_skids_tips_before_the_lorry_stops() -> None:
    # C from V2: EN 12195-1 asks 0.8 forward. A section of 27 parts stands on skids -440..440 by -460..540 mm, its box
    # being 1000 x 1076 mm; centre of mass -6.7, -5.7, 585.7 mm up. To the edges: 446.7, 433.3, 545.7 and 454.3 mm, so
    # 433.3 / 585.7 = 0.740 is the least; its box would give 0.854.
    feet = np.array([[-440.0, -460.0], [440.0, -460.0], [440.0, 540.0], [-440.0, 540.0]])
    tip_deg = tip_angle_deg(feet, (-6.7, -5.7, 585.7), (0.0, 0.0, 1.0))
    assert tip_deg == pytest.approx(36.49, abs=0.01)
    assert tips_at_g(tip_deg) == pytest.approx(0.740, abs=0.0005)
    assert asked_in_transport_g() == 0.8
    assert not stands_in_transport(tip_deg)


@source("en-12195-1", "statics")
def test_a_load_stands_by_half_its_width_over_its_height() -> None:
    # C from V2 accelerations of EN 12195-1: half of 1610 mm over 1000 mm is above 0.8, half of 1590 mm is not.
    assert stands_in_transport(math.degrees(math.atan(805.0 / 1000.0)))
    assert not stands_in_transport(math.degrees(math.atan(795.0 / 1000.0)))


@source("statics")
def test_anchors_of_a_slab_by_moments() -> None:
    # C, any statics text: four anchors at +-0.3 m, 600 N at 2 m, 20 kg in the middle. Two anchors pull, two are
    # relieved: 600 x 2 / (4 x 0.3) = 1000 N each, less a quarter of the weight.
    anchors = np.array([[-300.0, -300.0], [300.0, -300.0], [300.0, 300.0], [-300.0, 300.0]])
    found = anchor_demand(anchors, 20.0, (0.0, 0.0), Push(force_n=600.0, height_mm=2000.0), (1.0, 0.0))
    assert found.tension_n == pytest.approx(1000.0 - 20.0 * GRAVITY_M_S2 / 4)
    assert found.shear_n == pytest.approx(150.0)


@source("finish-typical")
def test_coverage_by_solids_and_film() -> None:
    # P formula of the trade: solids % x 10 / dry film in micrometres; C: 50 % and 100 micrometres cover 5 m2 a litre.
    paint = FinishOperation(name="paint", on="surface", coverage_m2_l=50.0 * 10.0 / 100.0)
    (found,) = finish_quantities([paint], 0.0, 10.0 * 1e6)
    assert found.product_l == pytest.approx(2.0 * (1.0 + FINISH_WASTE))


@pytest.mark.parametrize(
    ("name", "low", "high"),
    # M: typical ranges, from memory; weaker than a published check.
    [
        ("PA12, sintered", 930, 950),
        ("PA12, fused agent", 990, 1010),
        ("PA11, sintered", 1020, 1050),
        ("PLA", 1240, 1240),
        ("PETG", 1270, 1270),
        ("ABS", 1040, 1040),
        ("ASA", 1070, 1070),
        ("UV resin", 1100, 1200),
        ("steel", 7850, 7850),
        ("aluminium", 2700, 2700),
    ],
)
@source("densities")
def test_densities_lie_in_remembered_ranges(name: str, low: float, high: float) -> None:
    row = next(row for row in tables.typical_materials() if row.name == name)
    assert low <= row.density_kg_m3 <= high


@source("screw-tables", "iso-4762", "iso-7380")
def test_sizes_of_keys_and_spanners() -> None:
    # V2: keys of ISO 4762 and widths of ISO 4017 in two open table sets; nominal keys of ISO 7380-1.
    printed = {
        "M3": (5.5, 2.5, 2.0),
        "M4": (7.0, 3.0, 2.5),
        "M5": (8.0, 4.0, 3.0),
        "M6": (10.0, 5.0, 4.0),
        "M8": (13.0, 6.0, 5.0),
        "M10": (16.0, 8.0, 6.0),
        "M12": (18.0, 10.0, 8.0),
        "M16": (24.0, 14.0, 10.0),
    }
    for size, (flats, socket, button) in printed.items():
        assert tables.screw("ISO 4017", size).across_flats_mm == flats
        assert tables.screw("ISO 4762", size).key_mm == socket
        assert tables.screw("ISO 7380-1", size).key_mm == button
        # The shop needs a tool for each of them.
        assert tables.tool("socket", flats).outer_mm > flats
        assert tables.tool("hexagon key", socket)
        assert tables.tool("hexagon key", button)


@source("iso-2320")
def test_first_run_torques_of_iso_2320() -> None:
    # V2: a page that reproduces the table of ISO 2320 (class 04): greatest torque at the first run on.
    printed = {"M3": 0.43, "M5": 1.6, "M6": 3.0, "M8": 6.0, "M10": 10.5, "M12": 15.5, "M16": 32.0, "M20": 54.0}
    assert {size: tables.prevailing_torque(size).torque_nm for size in printed} == printed


@source("nylon-friction")
def test_friction_of_nylon_on_itself() -> None:
    # V2: Shackelford, Materials Science and Engineering Handbook, 3rd ed., table 399: 6/6 nylon against itself, static,
    # 0.04 to 0.13.
    assert 0.04 <= DRY_FRICTION <= 0.13


@source("grip-length")
def test_reach_of_small_hands_to_what_they_grip() -> None:
    # V2: Pheasant, British adults of 19 to 65: shoulder-grip length, 5th percentile: women 555 mm, men 610 mm.
    assert Crew().reach_mm <= 555.0
    grip = tables.body_measure("shoulder-grip length")
    assert (grip.small_mm, grip.large_mm) == (555, 715)
    # V2: elbow-fingertip length, 5th percentile woman 400 mm, 95th percentile man 510 mm.
    elbow = tables.body_measure("elbow-fingertip length")
    assert (elbow.small_mm, elbow.large_mm) == (400, 510)


@source("handling-strength")
def test_default_strength_after_the_hold() -> None:
    # V2: Leitfaden Kleben, 4.3: handling strength is 0.2 to 1 MPa; the default takes the least.
    assert glue().handling_mpa == 0.2


@source("petrie-peel")
def test_peel_is_far_below_shear() -> None:
    # V2: Petrie, p. 98: a rigid epoxy shears above 2000 psi (13.8 MPa) and peels at about 2 lb an inch (0.35 N/mm).
    # What counts here is a quarter: more than peel tests give, for a bond that also has bolts; marked as practice.
    assert 0.0 < PEEL_SHARE <= 0.25


@source("en-338")
def test_timber_is_light_where_it_holds_down() -> None:
    # V2: EN 338, mean density of C24: 420 kg/m3; lifting counts with more.
    timber = next(row for row in tables.typical_materials() if row.name == "timber")
    assert timber.ballast_kg_m3 == 420.0
    assert timber.density_kg_m3 > timber.ballast_kg_m3
