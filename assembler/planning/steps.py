"""From an order of sets to the steps of the book: benches, titles, hardware, holds, gates, calendar, reasons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembler.engineering.boltsalone import ASKED_SAFETY, BoltsAlone
from assembler.engineering.bonding import hold_clocks, night_temperature
from assembler.engineering.counting import hardware_lines
from assembler.engineering.worktimes import step_minutes
from assembler.figure.ids import BenchId, JointId, PartId, SectionId, StepNumber, natural_key
from assembler.figure.joints import Place
from assembler.figure.parts import Vector
from assembler.figure.plan import (
    Access,
    CarriedBy,
    Gate,
    Heading,
    Hold,
    Instead,
    Lift,
    LiftedBy,
    Move,
    OnBolts,
    OtherOrder,
    Stand,
    StatedBase,
    Step,
    StepKind,
)
from assembler.figure.titles import titled
from assembler.planning.access import Hands
from assembler.planning.benches import Placed
from assembler.planning.blocking import Paths
from assembler.planning.calendar import Task, Times, calendar_of
from assembler.planning.gravity import EXCHANGED, Side, peeled, rise_mm, team_lift
from assembler.planning.ground import FIRST_NAME, base_step, is_built_on, stand_step, with_ground_on_site
from assembler.planning.headings import heading_of
from assembler.planning.onbolts import carried_on_bolts
from assembler.planning.scene import Floor, PartSet, Scene, members
from assembler.planning.search import Search
from assembler.planning.stands import parts_on, stands_under
from assembler.planning.support import Support, stability_of
from assembler.planning.trialfits import with_trial_fits
from assembler.planning.turns import turn_step, with_blocks


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drafting:
    """What step writing asks.

    Parameters
    ----------
    scene, paths, hands, support, search
        The figure and what answers questions about it.
    base
        The base, where it has size and mass only.
    """

    scene: Scene
    paths: Paths
    hands: Hands
    support: Support
    search: Search
    base: StatedBase | None = None


def draft_steps(
    draft: Drafting,
    placed: Sequence[Placed],
    accesses: Mapping[int, tuple[Access, ...]],
    whys: Mapping[int, tuple[str, ...]],
    others: Mapping[int, OtherOrder],
) -> tuple[tuple[Step, ...], float]:
    """All steps, numbered in the order of their start, and the total minutes.

    Parameters
    ----------
    draft
        What answers questions.
    placed
        From `benches`.
    accesses, whys, others
        By place in `placed`: access to the bolts closed there, what forced the place, and what an order without it is
        weighed at; may be left out.
    """
    made = {item.target: item.bench for item in placed if item.bench > 1}
    scene, base = draft.scene, draft.base
    is_stood = is_built_on(scene, base, placed)
    on_base = Support(scene, base) if is_stood else draft.support
    steps: list[Step] = []
    lies: dict[int, Vector] = {}
    for number, item in enumerate(placed):
        support = on_base if item.bench == 1 else draft.support
        step = _join_step(draft, item, accesses.get(number, ()), made, support)
        step = replace(step, why=whys.get(number, ()), other_order=others.get(number))
        standing = item.joining.standing
        if lies.get(item.bench, item.up) != item.up:
            steps.append(_turn(draft, item, standing, lies[item.bench], item.up, _turn_reason(draft, item)))
        steps.append(with_blocks(step) if item.is_raised and item.side is not Side.RAISED else step)
        lies[item.bench] = item.up
        if item.leaves_up is not None and item.leaves_up != item.up:
            reason = "it goes on like this" if item.bench > 1 else "finished, it stands upright"
            steps.append(_turn(draft, item, item.joining.moving | standing, item.up, item.leaves_up, reason))
            lies[item.bench] = item.leaves_up
    if scene.base is not None and scene.is_base_first:
        steps.insert(0, base_step(scene, scene.base))
    elif base is not None and is_stood:
        first = next(item for item in placed if item.bench == 1)
        steps.insert(0, stand_step(scene, base, first.onto, is_first=True))
    steps = with_ground_on_site(scene, base, with_trial_fits(steps), is_stood=is_stood)
    return _timed(draft, _linked(draft, [titled(step) for step in steps]))


def _turn(draft: Drafting, item: Placed, standing: PartSet, before: Vector, after: Vector, reason: str) -> Step:
    return turn_step(
        draft.scene,
        standing,
        bench=item.bench,
        section=_section_of(draft.scene, standing),
        before=before,
        after=after,
        minutes=draft.search.costs.turn_min(standing),
        lift=_lift(draft, standing),
        stability=stability_of(
            draft.support, standing, 0, after, is_on_bench=item.bench > 1 or after != draft.scene.up
        ),
        reason=reason,
    )


def _turn_reason(draft: Drafting, item: Placed) -> str:
    """What the next joining needs that the work did not give as it lay."""
    names = ", ".join(draft.scene.names(item.joining.moving))
    bolts = draft.scene.bolts_closed(item.joining.moving, item.joining.standing)
    return f"{names} comes next: {'its bolts are reached and it' if bolts else 'it'} goes in with the work like this"


def _join_step(
    draft: Drafting, item: Placed, access: tuple[Access, ...], made: Mapping[PartSet, int], support: Support
) -> Step:
    scene, joining = draft.scene, item.joining
    is_base = scene.base is not None and not scene.is_base_first and joining.standing == 1 << scene.base
    numbers = scene.joints_between(joining.moving, joining.standing)
    joints = tuple(scene.joints[number] for number in numbers)
    bolts = scene.bolts_closed(joining.moving, joining.standing)
    path = movement(draft, item)
    stands = _stands(draft, item, path)
    lift = _arrival_lift(draft, item, path, has_stands=bool(stands))
    stability = stability_of(support, item.moves, item.onto, item.up, is_on_bench=item.bench > 1)
    stacks = tuple(scene.stacks[bolt.id] for bolt in bolts if bolt.id in scene.stacks)
    bondings = tuple(scene.bondings[joint.id] for joint in joints if joint.id in scene.bondings)
    hold = None
    if bondings:
        slowest = max(bondings, key=lambda bonding: (bonding.handling_min, natural_key(bonding.joint)))
        place = next(joint.made for joint in joints if joint.id == slowest.joint)
        night_c = night_temperature(place, scene.settings.climate)
        hold = Hold(
            minutes=slowest.handling_min,
            joints=tuple(bonding.joint for bonding in bondings),
            before=(),
            reason=(
                f"handling strength of {slowest.name}, {slowest.temperature_c:g} \N{DEGREE SIGN}C at work and "
                f"{night_c:g} \N{DEGREE SIGN}C at night"
            ),
            clocks=hold_clocks(place, scene.settings),
        )
    return Step(
        number=StepNumber(""),
        title="",
        heading=_join_heading(draft, item, made),
        kind=StepKind.BASE if is_base else StepKind.JOIN,
        place=Place.SITE if any(joint.made is Place.SITE for joint in joints) else Place.SHOP,
        bench=BenchId(f"B{item.bench}"),
        section=_section_of(scene, item.moves),
        up=item.up,
        moves=scene.names(item.moves),
        onto=scene.names(item.onto),
        path=path,
        joints=tuple(joint.id for joint in joints),
        hardware=hardware_lines(stacks, scene.settings.hardware),
        stacks=stacks,
        adhesive=bondings,
        hold=hold,
        lift=lift,
        stability=stability,
        access=access,
        carried_by=_carried_by(scene, item, lift, is_on_base=support.base is not None),
        stands=stands,
        costs=dict(joining.parts_of_cost),
        instead=_instead(scene, item),
        peels=_peels(draft, item, lift, stands),
        minutes=step_minutes(
            joints,
            _reaches_mm(draft, item, access),
            scene.settings.crew,
            people=lift.people,
            has_prop=stability.needs_prop,
        ),
    )


def _reaches_mm(draft: Drafting, item: Placed, access: tuple[Access, ...]) -> list[float]:
    """How deep inside each bolt of a step is reached; asked where the search only weighs the step."""
    if access:
        return [row.reach_mm for row in access]
    whole, floor = item.joining.moving | item.joining.standing, item.floor(draft.scene)
    bolts = draft.scene.bolts_closed(item.joining.moving, item.joining.standing)
    return [draft.hands.verdict(bolt, whole, floor=floor).access.reach_mm for bolt in bolts]


def movement(draft: Drafting, item: Placed) -> tuple[Move, ...]:
    """Legs along which what moves comes in, first to last; what is lowered moves the other way round."""
    joining = item.joining
    if item.direction < 0:
        return ()
    if item.side in EXCHANGED:
        legs = draft.paths.path(item.direction, joining.moving, joining.standing).assembly
        return tuple(replace(leg, direction=_opposite(leg.direction)) for leg in legs)
    up, floor_mm = draft.scene.floor(joining.moving | joining.standing, item.up)
    floor = Floor(up, floor_mm - (item.rise_mm if _is_lifted_over(draft, item) else 0.0))
    return draft.paths.path(item.direction, joining.moving, joining.standing, floor).assembly


def _is_lifted_over(draft: Drafting, item: Placed) -> bool:
    """Whether what stands is lifted because the way in leads from under it, though the place itself does not."""
    joining = item.joining
    return item.side is Side.RAISED and not rise_mm(draft.scene, joining.moving, joining.standing, item.up)


def _stands(draft: Drafting, item: Placed, path: Sequence[Move]) -> tuple[Stand, ...]:
    if item.side is not Side.RAISED:
        return ()
    return stands_under(draft.support, item.moves, item.onto, item.up, path, item.rise_mm)


def _opposite(direction: Vector) -> Vector:
    x, y, z = direction
    return (0.0 - x, 0.0 - y, 0.0 - z)


def _arrival_lift(draft: Drafting, item: Placed, path: Sequence[Move], *, has_stands: bool) -> Lift:
    """What leaves the ground, and how high its lower end comes."""
    scene, lifted = draft.scene, item.lifted
    lift = _lift(draft, lifted)
    if item.side is Side.RAISED:
        hung = replace(lift, by=LiftedBy.HOIST, people=0, height_mm=item.rise_mm)
        return replace(lift, by=LiftedBy.STANDS, height_mm=item.rise_mm) if has_stands else hung
    floor_mm = scene.lowest_mm(item.moves | item.onto, item.up)
    height = best = scene.lowest_mm(lifted, item.up) - floor_mm
    for leg in reversed(path):
        height -= float(np.dot(leg.direction, item.up)) * leg.travel_mm
        best = max(best, height)
    return replace(lift, height_mm=best)


def _carried_by(scene: Scene, item: Placed, lift: Lift, *, is_on_base: bool) -> CarriedBy:
    """What holds the things that stand, or stood before they were lifted off."""
    if item.side is Side.RAISED:
        return CarriedBy.STANDS if lift.by is LiftedBy.STANDS else CarriedBy.HOIST
    if item.side is Side.LOWERED and item.lifted.bit_count() > 1:
        return CarriedBy.HANDS if team_lift(scene, item.lifted).people else CarriedBy.HOIST
    if is_on_base or (scene.base is not None and item.onto >> scene.base & 1):
        return CarriedBy.BASE
    if item.side is Side.BEDDED:
        return CarriedBy.BED
    return CarriedBy.GROUND if item.bench == 1 else CarriedBy.BENCH


def _section_of(scene: Scene, moving: PartSet) -> SectionId:
    number = next(number for number, section in enumerate(scene.sections, 1) if section & moving)
    return SectionId(f"S{number}")


def _instead(scene: Scene, item: Placed) -> tuple[Instead, ...]:
    other = item.instead
    return () if other is None else (Instead(moves=scene.names(other.moving), minutes=other.cost_min),)


def _peels(draft: Drafting, item: Placed, lift: Lift, stands: Sequence[Stand]) -> tuple[JointId, ...]:
    """Joints whose glue alone holds what hangs below them while what stands is lifted, on stands or by a hoist."""
    if item.side not in (Side.RAISED, Side.LOWERED) or item.lifted.bit_count() == 1 or lift.by is LiftedBy.HANDS:
        return ()
    below = item.onto if item.side is Side.LOWERED else item.moves
    on_stands = parts_on(draft.support, stands, item.lifted, item.up)
    return tuple(joint.id for joint in peeled(draft.support, below, item.lifted, item.up, on_stands))


def _lift(draft: Drafting, lifted: PartSet) -> Lift:
    return team_lift(draft.scene, lifted)


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def _join_heading(draft: Drafting, item: Placed, made: Mapping[PartSet, int]) -> Heading:
    heading = heading_of(draft.scene, item.moves, made, _met(draft, item))
    if item.side is not Side.RAISED:
        return heading
    stands = heading_of(draft.scene, item.joining.standing, made)
    return replace(heading, raised=stands, raised_mm=item.rise_mm)


def _met(draft: Drafting, item: Placed) -> tuple[PartId, ...]:
    """Parts that what moves is joined to."""
    joining = item.joining
    scene, touched = draft.scene, 0
    for number in draft.scene.joints_between(joining.moving, joining.standing):
        for part in draft.scene.pairs[number]:
            touched |= 1 << part
    return tuple(scene.names(touched & item.onto))


def _linked(draft: Drafting, steps: list[Step]) -> list[Step]:
    """Steps with working names, what they come after, and their gates."""
    named = [replace(step, number=StepNumber(step.number or f"t{number:03d}")) for number, step in enumerate(steps)]
    by_bench: dict[str, Step] = {}
    maker: dict[frozenset[PartId], Step] = {}
    closed: dict[JointId, Step] = {}
    found: list[Step] = []
    before: dict[StepNumber, set[StepNumber]] = {}
    for step in named:
        after = [by_bench[step.bench].number] if step.bench in by_bench else []
        if step.place is Place.SITE or step.kind in (StepKind.DRY_FIT, StepKind.OPEN):
            after += [earlier.number for earlier in found]
        for piece in (step.moves, step.onto):
            made = maker.get(frozenset(piece))
            if made is not None:
                after.append(made.number)
        loaded = {
            joint: found for joint, found in _loaded(draft, step).items() if joint in closed and closed[joint].hold
        }
        may = draft.scene.settings.work_on_bolts
        gates = tuple(
            Gate(joint=joint, step=closed[joint].number, bolts_carry=found is not None)
            for joint, found in loaded.items()
            if not (found and may)
        )
        on_bolts = tuple(
            OnBolts(joint=joint, slip_safety=found.slip_safety, gap_safety=found.gap_safety)
            for joint, found in loaded.items()
            if found and may
        )
        step = replace(step, after=_nearest(after, before), gates=gates, on_bolts=on_bolts)
        before[step.number] = set(step.after).union(*(before[name] for name in step.after))
        if on_bolts:
            step = replace(step, notes=(*step.notes, _on_bolts_note(step)))
        found.append(step)
        by_bench[step.bench] = step
        if step.kind in (StepKind.DRY_FIT, StepKind.OPEN):
            continue
        maker[frozenset((*step.moves, *step.onto))] = step
        if step.kind is StepKind.TURN:
            continue
        closed |= {joint: step for joint in step.joints}
    return found


def _nearest(after: Sequence[StepNumber], before: Mapping[StepNumber, set[StepNumber]]) -> tuple[StepNumber, ...]:
    """Those of some steps that none of the others comes after: they imply the rest."""
    implied = set().union(*(before[name] for name in after))
    return tuple(name for name in dict.fromkeys(after) if name not in implied)


def _loaded(draft: Drafting, step: Step) -> dict[JointId, BoltsAlone | None]:
    """Bonded joints that the step would load or disturb, each with what lets its bolts carry that alone, or None.

    Under what arrives, inside what is lifted, which may be what stood, and all of what is turned. A turn disturbs: no
    bolts excuse it.
    """
    scene, support = draft.scene, draft.support
    moving, standing = scene.set_of(step.moves), scene.set_of(step.onto)
    lifted = scene.set_of(step.lift.parts) if step.lift else moving
    if step.kind is StepKind.BASE and not moving and step.lift:
        # The base may be the heavier load; what stands is lifted too.
        lifted = standing
    is_turn = step.kind is StepKind.TURN
    numbers: set[int] = set() if is_turn else _stood_on(draft, moving, standing, step.up)
    if step.up == scene.up:
        numbers |= {number for part in members(moving) for number in support.crossed[part]}
    found: dict[JointId, BoltsAlone | None] = {}
    for number, joint in enumerate(scene.joints):
        a, b = (1 << part for part in scene.pairs[number])
        is_below = (number in numbers or is_turn) and a & standing and b & standing
        is_inside = (a & moving and b & moving) or (a & lifted and b & lifted)
        if joint.method.is_bonded and joint.id not in step.joints and (is_below or is_inside):
            carried = lifted if is_inside else moving | _upon(draft, number, standing)
            found[joint.id] = None if is_turn else carried_on_bolts(scene, number, carried, step.up, is_asked=True)
    return {name: found[name] for name in sorted(found, key=natural_key)}


def _on_bolts_note(step: Step) -> str:
    lines = []
    for row in step.on_bolts:
        least = min(row.slip_safety, row.gap_safety)
        safety = f"{least:.1f} times safe" if math.isfinite(least) else "not loaded"
        lines.append(f"{row.joint} ({safety}; {ASKED_SAFETY:g} asked)")
    return f"Bolts tight to their torque first: {_and(lines)} cures while its bolts alone carry the load."


def _upon(draft: Drafting, number: int, standing: PartSet) -> PartSet:
    """Parts of what stands whose load paths cross a joint."""
    return sum(1 << part for part in members(standing) if number in draft.support.crossed[part])


def _stood_on(draft: Drafting, moving: PartSet, standing: PartSet, up: Vector) -> set[int]:
    """Joints that what arrives stands on, followed downwards through what is there at that moment.

    The load paths of the finished figure may run another way: a part in a closed shell hangs on its neighbours later,
    but stands on them now. What hangs puts its load on everything that it is joined to.
    """
    scene = draft.scene
    found: set[int] = set()
    edge, seen = list(members(moving)), moving
    while edge:
        upper = edge.pop()
        carriers = 0
        for number, pair in enumerate(scene.pairs):
            lower = draft.support.lower(number, up)
            if lower is None or upper not in pair or lower == upper or not (moving | standing) >> lower & 1:
                continue
            found.add(number)
            carriers |= 1 << lower
        if not carriers and moving >> upper & 1 and up == scene.up:
            carriers = scene.joined[upper] & standing
        edge += members(carriers & ~seen)
        seen |= carriers
    return found


def _timed(draft: Drafting, steps: list[Step]) -> tuple[tuple[Step, ...], float]:
    by_name = {step.number: step for step in steps}
    tasks = []
    for step in steps:
        waits: dict[str, float] = {}
        for gate in step.gates:
            cure = draft.scene.bondings[gate.joint].handling_min
            waits[gate.step] = max(waits.get(gate.step, 0.0), cure)
        tasks.append(
            Task(
                name=step.number,
                rank=int(step.number != FIRST_NAME),
                minutes=step.minutes,
                after=step.after,
                waits=waits,
            )
        )
    times = calendar_of(tasks)
    number = {name: StepNumber(str(place + 1)) for place, name in enumerate(times.order)}
    done = [_renumbered(by_name[StepNumber(name)], number, times) for name in times.order]
    done = _with_before(done)
    end = max((step.end_min + (step.hold.minutes if step.hold else 0.0) for step in done), default=0.0)
    return tuple(done), end


def _renumbered(step: Step, number: dict[str, StepNumber], times: Times) -> Step:
    return replace(
        step,
        number=number[step.number],
        after=tuple(sorted((number[name] for name in step.after), key=natural_key)),
        gates=tuple(replace(gate, step=number[gate.step]) for gate in step.gates),
        start_min=times.start[step.number],
        end_min=times.end[step.number],
        is_critical=step.number in times.critical,
    )


def _with_before(steps: list[Step]) -> list[Step]:
    """Holds with the steps that they block."""
    blocked: dict[StepNumber, list[StepNumber]] = {}
    for step in steps:
        for gate in step.gates:
            blocked.setdefault(gate.step, []).append(step.number)
    return [
        replace(
            step,
            hold=replace(step.hold, before=tuple(sorted(set(blocked.get(step.number, ())), key=natural_key))),
        )
        if step.hold
        else step
        for step in steps
    ]
