"""Re-cut stories: for each, what is said is exactly the truth, nothing more, nothing missed."""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from typing import Any

import manifold3d
import pytest

from assembler.figure.parts import Fingerprint
from assembler.figure.plan import Plan
from assembler.geometry.fingerprints import fingerprint
from assembler.projectfiles.planfile import as_written, plan_of, plan_record
from assembler.recut.changes import Changes, EffectivePage, Fate, PartFate, changes_of, changes_record
from assembler.recut.compare import compare_plans
from assembler.recut.numbering import keep_numbers
from assembler.recut.wording import change_lines
from tests.recut.tower import Recipe, mesh_of, plan

A = Recipe()
B = replace(A, revision="B")
SPLIT = replace(
    B,
    cuts=(0.0, 120.0, 180.0, 240.0, 360.0, 480.0),
    tubes=("P01", "P07", "P08", "P03", "P04"),
    joints=("J06", "J07", "J08", "J03"),
    arms_on=3,
)
SCREW, NUT, WASHER = (
    "Hexagon head screw ISO 4017 - M8 x 35 - 8.8",
    "Hexagon nut ISO 4032 - M8 - 8",
    "Washer ISO 7089 - 8",
)
ALL = [f"P{n:02d}" for n in range(1, 7)]


RECORD = plan_record(plan(A))
OLD = plan_of(RECORD)


def _compared(old: Plan | dict[str, Any], new: Plan | dict[str, Any]) -> Changes:
    """The changes between two plans, or between contents of plan.json."""
    first, second = (each if isinstance(each, Plan) else plan_of(each) for each in (old, new))
    return compare_plans(first, second)


def _issued(recipe: Recipe, old: Plan = OLD) -> Plan:
    """The book that follows another, as it would be read back."""
    return as_written(keep_numbers(plan(recipe), old))


def _changes(recipe: Recipe, old: Plan = OLD) -> Changes:
    return compare_plans(old, _issued(recipe, old))


def _parts(changes: Changes) -> list[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    return [(change.fate.value, change.before, change.after) for change in changes.parts]


def _bolts(changes: Changes) -> dict[str, str]:
    return {change.bolt: change.fate.value for change in changes.bolts}


def _steps(changes: Changes) -> list[tuple[str, str]]:
    return [(change.number, change.fate.value) for change in changes.steps]


def _supplies(changes: Changes) -> tuple[dict[str, float], dict[str, float]]:
    return (
        {line.item: line.amount for line in changes.buy},
        {line.item: line.amount for line in changes.give_back},
    )


def _bags(changes: Changes) -> dict[str, str]:
    return {bag.joint: bag.action for bag in changes.bags}


def _labels(changes: Changes) -> dict[str, str]:
    return {label.about: label.action for label in changes.labels}


def test_the_same_geometry_again_changes_nothing() -> None:
    changes = _changes(B)
    assert changes.is_empty
    assert list(changes.same_parts) == ALL
    assert list(changes.same_joints) == ["J01", "J02", "J03", "J04", "J05"]
    assert len(changes.same_bolts) == 22
    assert list(changes.same_steps) == ["1", "2", "3", "4", "5", "6", "7"]
    assert {page.revision for page in changes.effective_pages} == {"A"}
    assert change_lines(changes) == ("Tower: revision B against A", "Nothing has changed.")


def test_numbers_within_rounding_change_nothing() -> None:
    new = copy.deepcopy(RECORD)
    for part in new["parts"]:
        mark = part["fingerprint"]
        mark["volume_mm3"] += 0.1
        mark["area_mm2"] += 0.1
        mark["centre_mm"] = [value + 0.001 for value in mark["centre_mm"]]
        mark["low_mm"] = [value - 0.001 for value in mark["low_mm"]]
    for joint in new["joints"]:
        joint["bond_area_mm2"] += 0.1
        for bolt in joint["bolt"]:
            bolt["at"] = [value + 0.02 for value in bolt["at"]]
            bolt["grip_mm"] += 0.04
    for step in new["steps"]:
        step["minutes"] += 0.1
        for access in step["access"]:
            access["reach_mm"] += 3.0
    assert _compared(OLD, new).is_empty


def test_a_flange_moved_by_20_mm() -> None:
    changes = _changes(replace(B, cuts=(0.0, 120.0, 260.0, 360.0, 480.0)))
    assert _parts(changes) == [
        ("reshaped", ("P02",), ("P02",)),
        ("reshaped", ("P03",), ("P03",)),
        ("moved", ("P05",), ("P05",)),
        ("moved", ("P06",), ("P06",)),
    ]
    assert [change.offset_mm for change in changes.parts][2:] == [pytest.approx((0, 0, 20), abs=0.002)] * 2
    assert list(changes.same_parts) == ["P01", "P04"]
    assert [(change.joint, change.fate) for change in changes.joints] == [
        ("J02", Fate.MOVED),
        ("J04", Fate.MOVED),
        ("J05", Fate.MOVED),
    ]
    moved = [*(f"J02.{n}" for n in range(1, 7)), "J04.1", "J04.2", "J05.1", "J05.2"]
    assert _bolts(changes) == dict.fromkeys(moved, "moved")
    assert {words for change in changes.bolts for words in change.words} == {"moved by (0.00, 0.00, 20.00) mm"}
    assert _steps(changes) == [("1", "changed"), ("2", "changed"), ("3", "changed"), ("4", "changed")]
    assert list(changes.background_steps) == ["5", "6", "7"]
    assert _supplies(changes) == ({}, {})
    assert _bags(changes) == {}
    assert _labels(changes) == {"P02": "make", "P03": "make"}
    assert list(changes.pages_in) == list(changes.pages_out) == ["1", "2", "3", "4"]
    assert changes.untold == ()


def test_six_bolts_became_eight() -> None:
    changes = _changes(replace(B, bolts={1: 8}))
    assert _parts(changes) == [("reshaped", ("P02",), ("P02",)), ("reshaped", ("P03",), ("P03",))]
    assert [(change.joint, change.fate) for change in changes.joints] == [("J02", Fate.CHANGED)]
    moved = {f"J02.{n}": "moved" for n in range(2, 7)}
    assert _bolts(changes) == {**moved, "J02.7": "new", "J02.8": "new"}
    assert _supplies(changes) == ({SCREW: 2, NUT: 2, WASHER: 4}, {})
    assert _bags(changes) == {"J02": "change"}
    assert changes.bags[0].words == (f"8 x {SCREW} (was 6)", f"8 x {NUT} (was 6)", f"16 x {WASHER} (was 12)")
    assert _labels(changes) == {"P02": "make", "P03": "make", "J02": "make"}
    assert _steps(changes) == [("1", "changed"), ("2", "changed")]
    assert (changes.extra_work_min, changes.extra_total_min) == (2.0, 2.0)


def test_eight_bolts_became_six_gives_hardware_back() -> None:
    old = as_written(plan(replace(A, bolts={1: 8})))
    changes = _changes(B, old)
    assert _supplies(changes) == ({}, {SCREW: 2, NUT: 2, WASHER: 4})
    assert {bolt: fate for bolt, fate in _bolts(changes).items() if fate != "moved"} == {
        "J02.7": "gone",
        "J02.8": "gone",
    }


def test_a_part_split_in_two() -> None:
    changes = _changes(SPLIT)
    assert _parts(changes) == [("split", ("P02",), ("P07", "P08"))]
    assert {change.joint: change.fate.value for change in changes.joints} == {
        "J01": "gone",
        "J02": "gone",
        "J06": "new",
        "J07": "new",
        "J08": "new",
    }
    assert changes.joints[0].words[1:] == ("6 of its axes are those of J06",)
    assert changes.joints[3].words == ("between P07 and P08, bolted, shop, 6 bolts",)
    assert _supplies(changes) == ({SCREW: 6, NUT: 6, WASHER: 12}, {})
    assert _steps(changes) == [("1", "gone"), ("1a", "new"), ("1b", "new"), ("2", "changed")]
    assert list(changes.pages_out) == ["1", "2"]
    assert list(changes.pages_in) == ["1a", "1b", "2"]
    assert [(page.number, page.revision) for page in changes.effective_pages] == [
        ("1a", "B"),
        ("1b", "B"),
        ("2", "B"),
        *((number, "A") for number in "34567"),
    ]
    assert _labels(changes)["P02"] == "take off"
    assert changes.untold == ()


def test_a_part_split_so_that_one_piece_keeps_the_old_file() -> None:
    kept = replace(SPLIT, tubes=("P01", "P02", "P07", "P03", "P04"), joints=("J01", "J06", "J07", "J03"))
    assert _parts(_changes(kept)) == [("split", ("P02",), ("P02", "P07"))]


def test_two_parts_merged_is_a_split_read_backwards() -> None:
    old = as_written(plan(replace(SPLIT, revision="A")))
    changes = _changes(replace(B, tubes=("P01", "P09", "P03", "P04"), joints=("J10", "J11", "J03")), old)
    assert _parts(changes) == [("merged", ("P07", "P08"), ("P09",))]
    assert _supplies(changes) == ({}, {SCREW: 6, NUT: 6, WASHER: 12})
    assert _bags(changes) == {"J06": "empty", "J07": "empty", "J08": "empty", "J10": "make up", "J11": "make up"}


def test_a_renamed_file_is_only_a_label() -> None:
    changes = _changes(replace(B, files={"P02": "waist.stl"}))
    assert _parts(changes) == [("renamed", ("P02",), ("P02",))]
    assert (changes.steps, changes.joints, changes.bolts, changes.bags) == ((),) * 4
    assert _labels(changes) == {"P02": "make"}


def test_mirror_twins_whose_files_were_exchanged() -> None:
    changes = _changes(replace(B, files={"P05": "P06.stl", "P06": "P05.stl"}))
    assert _parts(changes) == [("swapped", ("P05", "P06"), ("P05", "P06"))]
    assert "mirror twins" in str(changes.parts[0].words)
    assert (changes.steps, changes.joints, changes.bolts, changes.bags, changes.pages_in) == ((),) * 5
    assert _labels(changes) == {"P05": "make", "P06": "make"}


def test_mirror_twins_whose_numbers_were_exchanged() -> None:
    new = copy.deepcopy(RECORD)
    left, right = (next(part for part in new["parts"] if part["id"] == name) for name in ("P05", "P06"))
    left["fingerprint"], right["fingerprint"] = right["fingerprint"], left["fingerprint"]
    changes = _compared(OLD, new)
    assert _parts(changes) == [("swapped", ("P05", "P06"), ("P05", "P06"))]
    assert "its mirror twin" in str(changes.parts[0].words)
    assert _steps(changes) == [("3", "changed"), ("4", "changed")]


def test_a_part_cut_as_its_own_mirror_image() -> None:
    new = copy.deepcopy(RECORD)
    part = new["parts"][4]
    part["fingerprint"]["skew_mm6"] *= -1
    changes = _compared(OLD, new)
    assert _parts(changes) == [("swapped", ("P05",), ("P05",))]
    assert changes.parts[0].words == "is now its own mirror image, the shape of P06"
    assert changes.parts[0].is_remade


def test_a_shifted_figure_is_not_all_parts_moved() -> None:
    changes = _changes(replace(B, shift_mm=(10.0, 0.0, -3.0)))
    assert changes.motion is not None
    assert changes.motion.words() == "shifted by (10.00, 0.00, -3.00) mm"
    assert (changes.parts, changes.joints, changes.bolts, changes.steps) == ((),) * 4
    assert list(changes.same_parts) == ALL


def test_a_shifted_figure_with_one_joint_cut_again_shows_that_joint() -> None:
    changes = _changes(replace(B, shift_mm=(10.0, 0.0, 0.0), bolts={1: 8}))
    still = _changes(replace(B, bolts={1: 8}))
    assert changes.motion is not None
    assert _parts(changes) == _parts(still)
    assert _bolts(changes) == _bolts(still)
    assert _steps(changes) == _steps(still)


def test_a_slip_of_units_is_said_once() -> None:
    changes = _changes(replace(B, factor=25.4))
    assert changes.motion is not None
    assert "inches" in str(changes.motion.words())
    assert changes.parts == ()
    assert list(changes.same_parts) == ALL
    assert "joints, bolts and steps were not compared" in str(changes.untold[0])


def test_a_missing_part() -> None:
    changes = _changes(replace(B, absent=("P06",)))
    assert _parts(changes) == [("gone", ("P06",), ())]
    assert [(change.joint, change.fate) for change in changes.joints] == [("J05", Fate.GONE)]
    assert _bolts(changes) == {"J05.1": "gone", "J05.2": "gone"}
    assert _steps(changes) == [("4", "gone")]
    assert _supplies(changes) == ({}, {SCREW: 2, NUT: 2, WASHER: 4})
    assert _bags(changes) == {"J05": "empty"}
    assert _labels(changes) == {"P06": "take off", "J05": "take off"}
    assert list(changes.pages_out) == ["4"]
    assert changes.pages_in == ()


def test_a_part_that_comes_back_reads_backwards() -> None:
    changes = _changes(B, as_written(plan(replace(A, absent=("P06",)))))
    assert _parts(changes) == [("new", (), ("P06",))]
    assert _steps(changes) == [("3a", "new")]


def test_a_joint_that_is_now_bonded_tells_adhesive_hold_and_gate() -> None:
    changes = _changes(replace(B, bonded=(1,)))
    assert changes.parts == ()
    assert [change.words for change in changes.joints] == [("method is bolted and bonded (was bolted)",)]
    assert [line.amount for line in changes.adhesive_more] == [6.1]
    words = {change.number: change.words for change in changes.steps}
    assert words == {
        "2": ("J02: changed", "J02: 6 ml of two-part epoxy", "starts a hold of 240 min"),
        "3": ("waits until J02 of step 2 is free",),
    }
    assert (changes.extra_work_min, changes.extra_total_min) == (0.0, 240.0)


def test_a_hole_of_another_size_and_a_longer_grip_are_told_by_bolt() -> None:
    new = copy.deepcopy(RECORD)
    bolt = new["joints"][0]["bolt"][2]
    bolt.update(hole_mm=11.0, grip_mm=26.0)
    changes = _compared(OLD, new)
    assert [(change.bolt, change.fate, change.words) for change in changes.bolts] == [
        ("J01.3", Fate.CHANGED, ("hole 11.0 mm (was 9.0)", "grip 26.0 mm (was 20.0)"))
    ]
    assert _steps(changes) == [("1", "changed")]
    assert changes.steps[0].words == ("J01: 1 bolt changed",)


def test_an_axis_written_the_other_way_round_is_the_same_axis() -> None:
    new = copy.deepcopy(RECORD)
    for bolt in new["joints"][0]["bolt"]:
        bolt["axis"] = [-value for value in bolt["axis"]]
        bolt["through"].reverse()
        bolt["seats"].reverse()
    assert _compared(OLD, new).bolts == ()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"bench": "B2"}, "bench B2 (was B1)"),
        ({"place": "site"}, "place site (was shop)"),
        ({"up": [0, 0, -1]}, "lies otherwise on the bench: up is (0, 0, -1), was (0, 0, 1)"),
        ({"travel_mm": 250.0}, "comes in 250 mm along (0, 0, -1) (was 150 mm along (0, 0, -1))"),
        ({"minutes": 31.0}, "takes 31 min (was 11)"),
        ({"notes": ["Wear goggles."]}, "note added: Wear goggles."),
        ({"lift": None}, "nothing is lifted any more"),
        ({"after": []}, "needs step - first (was 1)"),
        ({"stability": {"tip_deg": 30.0, "needs_prop": True, "reason": ""}}, "needs a prop"),
    ],
)
def test_each_thing_on_a_page_that_differs_is_said(change: dict[str, Any], said: str) -> None:
    new = copy.deepcopy(RECORD)
    new["steps"][1].update(change)
    changes = _compared(OLD, new)
    assert [(step.number, step.words) for step in changes.steps] == [("2", (said,))]


def test_torque_tool_and_bolt_length_are_said() -> None:
    new = copy.deepcopy(RECORD)
    step = new["steps"][0]
    step["hardware"][0]["torque_nm"] = 12.0
    step["access"][0].update(tool="hexagon key 6 mm", ok=False)
    new["steps"][2]["stacks"][0]["length_mm"] = 40.0
    words = {change.number: change.words for change in _compared(OLD, new).steps}
    assert words == {
        "1": (
            f"J01: tighten {SCREW} to 12 Nm (was 9)",
            "J01.1: tool hexagon key 6 mm (was socket 13 mm)",
            "J01.1 can no longer be reached",
        ),
        "3": ("J04.1: M8 x 40 (was M8 x 35)",),
    }


def test_trial_fittings_are_not_counted_as_hardware() -> None:
    new = copy.deepcopy(RECORD)
    trial = copy.deepcopy(new["steps"][4])
    trial.update(kind="dry fit", number="4a", title="Try P04", joints=[])
    new["steps"].insert(4, trial)
    changes = _compared(OLD, new)
    assert _steps(changes) == [("4a", "new")]
    assert _supplies(changes) == ({}, {})
    assert changes.bags == ()


def test_another_material_means_made_again() -> None:
    new = copy.deepcopy(RECORD)
    new["parts"][0]["material"] = "ASA"
    changes = _compared(OLD, new)
    assert _parts(changes) == [("respecified", ("P01",), ("P01",))]
    assert changes.parts[0].words == "material ASA (was PA12)"
    assert "P01" not in changes.same_parts
    assert _labels(changes) == {"P01": "make"}


def test_a_lost_ledger_is_noticed() -> None:
    new = json.loads(json.dumps(RECORD).replace('"P06"', '"P16"'))
    assert _parts(_compared(OLD, new)) == [("renamed", ("P06",), ("P16",))]


def test_findings_come_and_go() -> None:
    new = copy.deepcopy(RECORD)
    finding = {"level": "stop", "code": "x", "about": ["J01"], "message": "m", "remedy": ""}
    new["findings"] = [finding]
    assert [item.code for item in _compared(OLD, new).findings_new] == ["x"]
    assert [item.code for item in _compared(new, OLD).findings_solved] == ["x"]


def test_comparing_backwards_mirrors_everything() -> None:
    new = _issued(SPLIT)
    there, back = _compared(OLD, new), _compared(new, OLD)
    assert there.buy == back.give_back
    assert there.extra_work_min == -back.extra_work_min
    flip = {Fate.NEW: Fate.GONE, Fate.GONE: Fate.NEW}
    assert {(c.bolt, flip[c.fate]) for c in there.bolts} == {(c.bolt, c.fate) for c in back.bolts}
    assert {(c.joint, flip[c.fate]) for c in there.joints} == {(c.joint, c.fate) for c in back.joints}
    assert [c.fate for c in back.parts] == [PartFate.MERGED]


def test_effective_pages_are_carried_over_revisions() -> None:
    first = _issued(replace(B, bolts={1: 8}))
    book_b = changes_of(json.loads(json.dumps(changes_record(_compared(OLD, first)))))
    third = _issued(replace(A, revision="C", bolts={1: 8, 2: 8}), first)
    changes = compare_plans(first, third, earlier_pages=book_b.effective_pages)
    assert changes.effective_pages == tuple(
        EffectivePage(number=number, revision=revision)  # type: ignore[arg-type]
        for number, revision in zip("1234567", "BCAACAA", strict=True)
    )


def test_the_record_is_plain_json_and_reads_back_as_the_same_changes() -> None:
    changes = _changes(SPLIT)
    text = json.dumps(changes_record(changes))
    assert json.loads(text) == changes_record(changes)
    assert changes_record(changes)["parts"]["changed"][0]["fate"] == "split"
    assert changes_of(json.loads(text)) == changes


def test_every_part_joint_bolt_and_step_is_told_exactly_once() -> None:
    for recipe in (SPLIT, replace(B, bolts={1: 8}), replace(B, absent=("P06",)), replace(B, bonded=(0, 2))):
        new = _issued(recipe)
        changes = _compared(OLD, new)
        told = [part for change in changes.parts for part in {*change.before, *change.after}]
        assert sorted([*told, *changes.same_parts]) == sorted({p.id for plan_ in (OLD, new) for p in plan_.parts})
        bolts = {bolt.id for plan_ in (OLD, new) for joint in plan_.joints for bolt in joint.bolts}
        assert sorted([*(c.bolt for c in changes.bolts), *changes.same_bolts]) == sorted(bolts)
        steps = [c.number for c in changes.steps if c.fate is not Fate.GONE]
        assert sorted([*steps, *changes.same_steps]) == sorted(step.number for step in new.steps)


def _block(size: tuple[float, float, float], at: tuple[float, float, float]) -> Fingerprint:
    return fingerprint(mesh_of(manifold3d.Manifold.cube(size).translate(at)))


def _blocks(*blocks: tuple[str, Fingerprint], joints: tuple[tuple[str, str], ...] = ()) -> dict[str, Any]:
    parts = [
        {
            "id": name,
            "file": f"{name}.stl",
            "mass_kg": 0.0,
            "volume_mm3": mark.volume_mm3,
            "fingerprint": {
                "volume_mm3": mark.volume_mm3,
                "area_mm2": mark.area_mm2,
                "centre_mm": list(mark.centre_mm),
                "inertia_mm5": list(mark.inertia_mm5),
                "skew_mm6": mark.skew_mm6,
                "low_mm": list(mark.box_mm[0]),
                "high_mm": list(mark.box_mm[1]),
            },
        }
        for name, mark in blocks
    ]
    figure = {"name": "Blocks", "revision": "A", "mass_kg": 0.0, "parts": len(parts), "joints": len(joints), "bolts": 0}
    pairs = [
        {"id": f"J{n}", "parts": list(pair), "method": "bonded", "made": "shop", "bond_area_mm2": 1.0, "seam_mm": 1.0,
         "bolt": []}
        for n, pair in enumerate(joints)
    ]  # fmt: skip
    rest: dict[str, Any] = {"steps": [], "sections": [], "findings": []}
    return {"schema": "assembler/plan/1", "figure": figure, "parts": parts, "joints": pairs, **rest}


WHOLE = ("P01", _block((100, 60, 40), (0, 0, 0)))
FOOT = ("P09", _block((50, 50, 10), (0, 0, -10)))


def test_a_plain_cut_adds_up_exactly() -> None:
    old = _blocks(WHOLE, FOOT)
    new = _blocks(("P02", _block((30, 60, 40), (0, 0, 0))), ("P03", _block((70, 60, 40), (30, 0, 0))), FOOT)
    changes = _compared(old, new)
    assert _parts(changes) == [("split", ("P01",), ("P02", "P03"))]
    assert "volume, centre and moments add up" in str(changes.parts[0].words)
    assert _parts(_compared(new, old)) == [("merged", ("P02", "P03"), ("P01",))]


def test_a_split_into_three() -> None:
    thirds = [(f"P0{n + 2}", _block((30 if n < 2 else 40, 60, 40), (30 * n, 0, 0))) for n in range(3)]
    assert _parts(_compared(_blocks(WHOLE, FOOT), _blocks(*thirds, FOOT))) == [
        ("split", ("P01",), ("P02", "P03", "P04"))
    ]


def test_parts_recut_across_old_seams_are_not_guessed() -> None:
    old = _blocks(
        ("P01", _block((50, 60, 40), (0, 0, 0))),
        ("P02", _block((50, 60, 40), (50, 0, 0))),
        FOOT,
        joints=(("P01", "P02"),),
    )
    new = _blocks(
        ("P03", _block((100, 30, 40), (0, 0, 0))), ("P04", _block((100, 30, 40), (0, 30, 0))), FOOT,
        joints=(("P03", "P04"),),
    )  # fmt: skip
    changes = _compared(old, new)
    assert _parts(changes) == [
        ("gone", ("P01",), ()),
        ("gone", ("P02",), ()),
        ("new", (), ("P03",)),
        ("new", (), ("P04",)),
    ]
    assert changes.untold == (
        "P01, P02 went and P03, P04 came in the same space: how the one was cut into the other is not told from "
        "numbers",
    )


def test_pieces_without_a_joint_that_do_not_add_up_are_no_split() -> None:
    old = _blocks(WHOLE, FOOT)
    pieces = (("P02", _block((30, 60, 40), (0, 0, 0))), ("P03", _block((65, 60, 40), (35, 0, 0))))
    assert [fate for fate, _, _ in _parts(_compared(old, _blocks(*pieces, FOOT)))] == ["gone", "new", "new"]
    joined = _blocks(*pieces, FOOT, joints=(("P02", "P03"),))
    # Five per cent are missing: more than a kerf. Not called a split either.
    assert [fate for fate, _, _ in _parts(_compared(old, joined))] == ["gone", "new", "new"]


def test_file_names_in_titles_are_no_change() -> None:
    new = copy.deepcopy(RECORD)
    new["steps"][0]["title"] = "Lower P02 waist final onto P01 foot"
    assert _compared(OLD, new).is_empty
