"""The order of the demo can be carried out, as far as an independent replay of plan.json can tell."""

from __future__ import annotations

import shutil
from collections import Counter
from dataclasses import replace
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
import trimesh

from assembler.figure.plan import Plan
from assembler.figure.titles import closing_movement
from assembler.pipeline import Planned, plan_project
from assembler.planning.verify import verify_plan
from assembler.project import open_project
from assembler.projectfiles.planfile import plan_record
from assembler.publishing.words import load_words
from tests.pipeline.demo_parts import demo_folder

ROOT = Path(__file__).resolve().parents[2]

HAND_MIN = {
    "torso 1 left": 36,
    "torso 4 left": 44,
    "torso 5 right": 44,
    "tail tip": 33,
    "tail root": 40,
    "upper arm left": 36,
    "head front": 56,
    "lantern base": 34,
    "toes right": 28,
    "torso 2 left, torso 2 right": 77,
}
"""Minutes of two people by hand, by what is moved; from practice, no source, by other rates than those of [crew].

Both fetch and set out 4, second lifter 2; dry fit 5; each takes one face: abraded at 100 cm2 a minute, wiped twice at
150, 2 to dry; masks 0.67 m of seam a minute together; nozzle and purge 3; one spreads at 120 cm2 a minute, beads 1;
close 3; wipe and untape 0.5 m a minute together; a bolt outside 2 with its three rounds, one reached inside 3.5. Areas,
seams and bolts of the joints are those of the demo. Who estimated had seen the rates of figure.toml before.
"""


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    root = tmp_path_factory.mktemp("demo") / "otter"
    root.mkdir()
    shutil.copy(ROOT / "demo" / "project" / "figure.toml", root / "figure.toml")
    project = open_project(root, lambda _: None, parts_from=demo_folder() / "parts")
    # As surveyed, every ring is bonded: built in one piece. What the demo decides divides it, see demo/build.py.
    whole = replace(project.settings, passages=(), vehicle=None)
    return plan_project(replace(project, settings=whole), lambda _: None)


@pytest.fixture(scope="module")
def on_bolts(planned: Planned) -> Planned:
    # The wish about the lantern saves nights, and on the bolts alone nobody waits for one.
    given = planned.project.settings
    settings = replace(given, work_on_bolts=True, pins=replace(given.pins, apart=()))
    return plan_project(replace(planned.project, settings=settings), lambda _: None)


def _arrivals(plan: Plan) -> list[set[str]]:
    """What arrives on the main bench, in order, by the stems of the files."""
    stems = {part.id: Path(part.file).stem for part in plan.parts}
    return [{stems[part] for part in step.moves} for step in plan.steps if step.bench == "B1" and step.moves]


@pytest.mark.parametrize("kind", ["planned", "on_bolts"])
def test_rings_and_limbs_go_on_as_one_arms_before_the_head_and_the_hatch_last(
    kind: str, request: pytest.FixtureRequest
) -> None:
    found: Planned = request.getfixturevalue(kind)
    arrivals = _arrivals(found.plan)
    for ring in range(1, 6):
        assert {f"torso {ring} left", f"torso {ring} right"} in arrivals
    assert {"head back", "head front"} in arrivals
    head = arrivals.index({"head back", "head front"})
    arms = [place for place, moves in enumerate(arrivals) for one in moves if one.startswith("upper arm")]
    assert len(arms) == 2
    assert max(arms) < head
    assert arrivals[-1] == {"hatch panel"}
    assert [finding for finding in found.plan.findings if finding.level == "stop"] == []


def test_the_replay_refutes_nothing_and_nothing_stops_the_build(planned: Planned) -> None:
    # plan_project has replayed the plan: what is refuted is among the findings.
    assert [finding for finding in planned.plan.findings if finding.level == "stop"] == []


def test_every_bolt_and_joint_is_closed_once_and_can_be_reached(planned: Planned) -> None:
    plan = planned.plan
    bolts = Counter(access.bolt for step in plan.steps for access in step.access)
    assert bolts == Counter(bolt.id for joint in plan.joints for bolt in joint.bolts)
    assert all(access.is_reachable for step in plan.steps for access in step.access)
    assert Counter(j for step in plan.steps for j in step.joints) == Counter(joint.id for joint in plan.joints)


def test_hardware_of_the_steps_is_the_hardware_of_the_bolts(planned: Planned) -> None:
    counts = Counter[str]()
    for step in planned.plan.steps:
        for line in step.hardware:
            counts[line.kind] += line.count
    assert counts["screw"] == counts["nut"] == len(planned.stacks)
    assert counts["washer"] == sum(stack.washers for stack in planned.stacks)


def test_steps_follow_from_each_other_without_a_circle(planned: Planned) -> None:
    graph = nx.DiGraph((before, step.number) for step in planned.plan.steps for before in step.after)
    assert nx.is_directed_acyclic_graph(graph)
    ends = {step.number: step.end_min for step in planned.plan.steps}
    for step in planned.plan.steps:
        assert all(ends[before] <= step.start_min + 1e-6 for before in step.after)
        for gate in step.gates:
            holding = next(one for one in planned.plan.steps if one.number == gate.step)
            assert holding.hold is not None
            assert holding.end_min + holding.hold.minutes <= step.start_min + 1e-6


def test_title_and_orders_of_every_step_name_the_same_movement(planned: Planned) -> None:
    words = load_words()
    moved = [step for step in planned.plan.steps if step.heading and step.moves and step.path]
    assert len(moved) > 20
    for step in moved:
        order = words(f"orders.move.{closing_movement(step)}", parts="P01", onto="P02")
        assert str(step.title).removeprefix("Trial fit: ").split()[0] == order.split()[0], step.number
        assert ("sideways" in str(step.title)) == ("sideways" in order), step.number


def test_the_replay_does_refute_a_movement_through_a_wall(planned: Planned) -> None:
    record = plan_record(planned.plan)
    step = next(one for one in record["steps"] if one["joints"] and one["direction"] == [0.0, 0.0, -1.0])
    step.update(direction=[0.0, 0.0, 1.0], after=[], gates=[], hold=None)
    only = {part: planned.project.meshes[part] for part in (*step["moves"], *step["onto"])}
    record["steps"] = [step]
    refuted = verify_plan(record, only, planned.project.settings.tolerances)
    assert [finding.about[0] for finding in refuted if finding.code == "movement-refuted"] == [f"step {step['number']}"]


def test_every_head_and_nut_sits_on_a_face(planned: Planned) -> None:
    """Points of a ring round each hole, at the height of the seat, lie on the mesh: asked of another library."""
    rings: dict[str, list[np.ndarray]] = {}
    for joint in planned.plan.joints:
        for bolt in joint.bolts:
            across = np.linalg.svd(np.array([bolt.axis]))[2][1:]
            angles = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
            arms = (bolt.hole_mm / 2 + 1.2) * (
                np.outer(np.cos(angles), across[0]) + np.outer(np.sin(angles), across[1])
            )
            for end, part in ((0, bolt.through[0]), (1, bolt.through[-1])):
                rings.setdefault(part, []).append(np.asarray(bolt.seat_mm(end)) + arms)
    off = []
    for part, wanted in rings.items():
        mesh = planned.project.meshes[part]
        body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        _, distance, _ = trimesh.proximity.closest_point(body, np.vstack(wanted))
        off += [float(d) for d in np.median(distance.reshape(len(wanted), -1), axis=1)]
    assert len(off) == 2 * sum(len(joint.bolts) for joint in planned.plan.joints)
    assert max(off) <= 0.3


@pytest.mark.parametrize("kind", ["planned", "on_bolts"])
def test_no_step_takes_more_than_an_hour(kind: str, request: pytest.FixtureRequest) -> None:
    found: Planned = request.getfixturevalue(kind)
    assert max(step.minutes for step in found.plan.steps) <= 60.0
    glued = [step.minutes for step in found.plan.steps if step.adhesive and 4 <= len(step.stacks) <= 8]
    assert len(glued) >= 10
    assert 25.0 <= min(glued) <= max(glued) <= 60.0


def test_ten_steps_agree_with_an_estimate_by_hand_to_a_third(planned: Planned) -> None:
    stems = {part.id: Path(part.file).stem for part in planned.plan.parts}
    minutes = {
        ", ".join(sorted(stems[part] for part in step.moves)): step.minutes
        for step in planned.plan.steps
        if step.adhesive
    }
    differing = {
        name: (hand_min, minutes[name])
        for name, hand_min in HAND_MIN.items()
        if not 2.0 / 3.0 <= minutes[name] / hand_min <= 4.0 / 3.0
    }
    assert differing == {}


def _nights(plan: Plan) -> int:
    """Nights that the longest chain of holds, and of bolts tightened again a day after, takes at least."""
    level: dict[str, int] = {}
    for step in plan.steps:
        again = [
            level[other.number] + 1
            for other in plan.steps
            if other.number in level
            and {stack.bolt for stack in other.stacks if stack.joint not in {row.joint for row in other.adhesive}}
            & set(step.shuts)
        ]
        before = [level[name] for name in step.after]
        level[step.number] = max([0, *before, *again, *(level[gate.step] + 1 for gate in step.gates)])
    return max(level[step.number] for step in plan.steps if step.adhesive)


@pytest.mark.parametrize(("kind", "days"), [("planned", 7), ("on_bolts", 4)])
def test_no_day_is_lost_to_people_or_hours(kind: str, days: int, request: pytest.FixtureRequest) -> None:
    """Each ring waits a night for the one below it: by holds alone the demo takes as many days as its calendar says."""
    found: Planned = request.getfixturevalue(kind)
    calendar = found.plan.calendar
    assert calendar is not None
    assert calendar.is_proven
    assert calendar.days == _nights(found.plan) + 1 <= days
    moments = [calendar.start, calendar.built, calendar.full_cure, calendar.finished, calendar.end]
    assert sorted({str(moment) for moment in moments}) == [str(moment) for moment in moments]


def test_the_lantern_is_up_after_three_nights(planned: Planned) -> None:
    stems = {part.id: Path(part.file).stem for part in planned.plan.parts}
    arrival = next(
        step
        for step in planned.plan.steps
        if step.bench == "B1" and "lantern roof" in {stems[one] for one in step.moves}
    )
    own = [joint.id for joint in planned.plan.joints if set(joint.parts) <= set(arrival.moves)]
    ends = {step.number: str(step.ends).split()[0] for step in planned.plan.steps}
    waited = {ends[gate.step] for gate in arrival.gates if gate.joint in own}
    assert 1 <= len(waited) <= 3
