"""The order of the build: parts, joints and settings in, a `Plan` out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from assembler.cache import Answers
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.ids import PartId, SectionId
from assembler.figure.joints import Joint
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part
from assembler.figure.plan import Access, OtherOrder, Plan, Section, Step
from assembler.figure.settings import Settings
from assembler.figure.titles import titled
from assembler.planning.access import Hands, Verdict
from assembler.planning.benches import Placed, benches
from assembler.planning.blocking import Paths
from assembler.planning.boltends import with_seats
from assembler.planning.directions import candidate_directions, leg_axes
from assembler.planning.explain import explain
from assembler.planning.guide import Guide, guide_of
from assembler.planning.pieces import groups_worth_apart, impossible_pins
from assembler.planning.reasons import reasons
from assembler.planning.remedies import access_findings
from assembler.planning.scene import PartSet, Scene, members, scene_of
from assembler.planning.search import Search, beam_for
from assembler.planning.shut import shut_bolts, through_openings
from assembler.planning.steps import Drafting, draft_steps
from assembler.planning.support import Support, stated_base
from assembler.planning.swings import SwingWay, swing_way, swing_words
from assembler.planning.weights import EMPHASES, GROUNDED_MIN, Emphasis
from assembler.planning.wholecost import improved, whole_cost_min
from assembler.words import say

__all__ = ["explain", "plan_build"]

MANY = 20
"""A figure of more parts is searched once only."""

ROUNDS = 6
"""How often a plan is made anew after exact checks refuted a movement."""


def plan_build(
    *,
    parts: Sequence[Part],
    meshes: Mapping[PartId, Mesh],
    joints: Sequence[Joint],
    stacks: Sequence[Stack],
    bondings: Sequence[Bonding],
    settings: Settings,
    issued: Sequence[Step] = (),
    answers: Answers | None = None,
    progress: Callable[[str], None] | None = None,
) -> Plan:
    """An order in which every part goes in and every bolt is reached, or the best order there is, and what is wrong.

    Parameters
    ----------
    parts, meshes
        Every part with its mesh in the frame of the figure, mm.
    joints, stacks, bondings
        What joins what, hardware for each bolt, adhesive for each bonded joint.
    settings
        What the shop decides.
    issued
        Steps of the plan.json that the crew holds: its order is kept wherever it can still be carried out.
    answers
        What earlier runs found out about these solids.
    progress
        Takes a line of text from time to time.

    Returns
    -------
    Plan
        Steps in the order of the book. What cannot be satisfied is a finding.
    """
    tell = progress or (lambda _: None)
    scene = scene_of(parts, meshes, with_seats(joints, meshes), stacks, bondings, settings)
    support = Support(scene)
    paths = Paths(scene, candidate_directions(scene))
    tell(f"planning: {len(scene.parts)} parts, {len(paths.directions)} directions")
    hands = Hands(scene, answers=answers)
    whole = _largest_piece(scene)
    search, placed = _soonest_order(scene, paths, hands, support, whole, guide_of(scene, issued), tell)
    verdicts = {number: _verdicts(scene, hands, item) for number, item in enumerate(placed)}
    accesses: dict[int, tuple[Access, ...]] = {
        number: tuple(verdict.access for verdict in found) for number, found in verdicts.items()
    }
    shut = shut_bolts(scene, hands, placed)
    accesses = through_openings(scene, hands, placed, accesses, shut)
    whys = reasons(scene, paths, hands, support, placed, shut)
    base = stated_base(support)
    draft = Drafting(scene=scene, paths=paths, hands=hands, support=support, search=search, base=base)
    steps, total = draft_steps(draft, placed, accesses, shut, whys, _other_orders(search, placed))
    swings = _swings(scene, paths, placed)
    steps = tuple(_with_swing(step, swings, scene) for step in steps)
    findings = [
        *impossible_pins(scene),
        *_broken_pins(search),
        *_floating(scene, whole),
        *_path_findings(scene, paths, placed, swings),
        *access_findings(scene, hands, placed, verdicts),
    ]
    return Plan(
        up=settings.up,
        figure_name=settings.name,
        revision=settings.revision,
        parts=scene.parts,
        joints=_with_heads(scene.joints, steps),
        steps=steps,
        sections=_sections(scene, whole),
        findings=sort_findings(findings),
        base=base,
        total_min=total,
        costs=_costs(placed, total),
    )


def _with_heads(joints: Sequence[Joint], steps: Sequence[Step]) -> tuple[Joint, ...]:
    """The joints with the end at which the head of each bolt goes in."""
    heads = {access.bolt: access.head_end for step in steps for access in step.access}
    return tuple(
        replace(joint, bolts=tuple(replace(bolt, head_end=heads.get(bolt.id)) for bolt in joint.bolts))
        for joint in joints
    )


def _largest_piece(scene: Scene) -> PartSet:
    pieces = scene.pieces(scene.everything)
    if scene.base is not None:
        return next(piece for piece in pieces if piece >> scene.base & 1)
    return min(pieces, key=lambda piece: (-piece.bit_count(), piece))


def _soonest_order(
    scene: Scene,
    paths: Paths,
    hands: Hands,
    support: Support,
    whole: PartSet,
    guide: Guide,
    tell: Callable[[str], None],
) -> tuple[Search, tuple[Placed, ...]]:
    """The order that is done soonest of those that the searches find; with a guide the one that it leads to.

    Where bolts stay out of reach in it, what stands is lifted for nothing: then the order that keeps it on the ground.
    """
    count = len(scene.parts)
    chosen = EMPHASES[: 1 if count > MANY or not scene.bondings or guide.last else None]

    def found(emphases: Sequence[Emphasis]) -> tuple[Search, tuple[Placed, ...]]:
        orders: list[tuple[float, int, Search, tuple[Placed, ...]]] = []
        for emphasis in emphases:
            search = Search(
                scene,
                paths,
                hands,
                support,
                groups_worth_apart(scene),
                beam=beam_for(count),
                emphasis=emphasis,
                progress=tell,
                guide=guide,
            )
            draft = Drafting(scene=scene, paths=paths, hands=hands, support=support, search=search)
            placed, cost = _confirmed_order(draft, whole, tell)
            orders.append((round(cost, 3), len(orders), search, placed))
        _, _, search, placed = min(orders, key=lambda item: item[:2])
        return search, placed

    search, placed = found(chosen)
    if _is_stuck(placed) and _lifts(placed) and not guide.last:
        tell("planning: bolts stay out of reach in any order found: once more, with what stands left on the ground")
        grounded = found([replace(emphasis, lift_min=GROUNDED_MIN) for emphasis in chosen])
        if _lifts(grounded[1]) < _lifts(placed):
            return grounded
    return search, placed


def _is_stuck(placed: Sequence[Placed]) -> bool:
    return any(item.joining.unreachable or item.direction < 0 for item in placed)


def _lifts(placed: Sequence[Placed]) -> int:
    """How often what stands on the main bench is taken off its place, or stands on its head."""
    return sum(
        item.bench == 1
        and item.joining.standing.bit_count() > 1
        and any(name == "lifts of what stands" for name, _ in item.joining.parts_of_cost)
        for item in placed
    )


def _kept(draft: Drafting, whole: PartSet) -> tuple[tuple[Placed, ...], float]:
    """The order that the guide leads to, and its cost: a crew that holds printed pages is not sent another way."""
    placed = benches(draft.search, whole)
    return placed, whole_cost_min(draft, placed)


def _confirmed_order(draft: Drafting, whole: PartSet, tell: Callable[[str], None]) -> tuple[tuple[Placed, ...], float]:
    """The order found, each of its movements confirmed with the full meshes; searched anew where one is refuted."""
    search, paths = draft.search, draft.paths
    placed: tuple[Placed, ...] = ()
    cost = 0.0
    for _ in range(ROUNDS):
        placed, cost = _kept(draft, whole) if search.guide.last else improved(draft, whole, tell)
        refuted = [
            item
            for item in placed
            if item.direction >= 0
            and not paths.is_confirmed(item.direction, item.joining.moving, item.joining.standing)
        ]
        if not refuted:
            break
        tell(f"planning: {len(refuted)} movements refuted by exact overlap, searching again")
        search.forget()
    return placed, cost


def _other_orders(search: Search, placed: Sequence[Placed]) -> dict[int, OtherOrder]:
    """What orders without each joining are weighed at; nothing where the issued order was kept or nothing is known."""
    if search.guide.last:
        return {}
    return {
        number: search.other_order(item.joining, item.target)
        for number, item in enumerate(placed)
        if item.target in search.built
    }


def _verdicts(scene: Scene, hands: Hands, item: Placed) -> tuple[Verdict, ...]:
    joining = item.joining
    standing, floor = joining.moving | joining.standing, item.floor(scene)
    return tuple(
        hands.final(bolt, standing, floor=floor) for bolt in scene.bolts_closed(joining.moving, joining.standing)
    )


def _broken_pins(search: Search) -> list[Finding]:
    """Pins that no order keeps although they do not contradict each other."""
    if not search.broken_pins:
        return []
    pins = search.scene.settings.pins
    names = tuple(
        dict.fromkeys([part for pair in pins.after for part in pair] + [p for group in pins.apart for p in group])
    )
    return [
        Finding(
            level=Level.STOP,
            code="pin-impossible",
            about=names,
            message=say("finding.pin-impossible"),
            remedy=say("remedy.pin-impossible"),
        )
    ]


def _floating(scene: Scene, whole: PartSet) -> list[Finding]:
    return [
        Finding(
            level=Level.STOP,
            code="floating-part",
            about=(scene.parts[number].id,),
            message=say("finding.floating-part", part=scene.parts[number].id, file=scene.parts[number].file),
            remedy=say("remedy.floating-part"),
        )
        for number in members(scene.everything & ~whole)
    ]


def _swings(scene: Scene, paths: Paths, placed: tuple[Placed, ...]) -> dict[tuple[PartId, ...], SwingWay]:
    """Turning ways in of what no straight movement brings into place, by the parts that move."""
    found = {}
    for item in placed:
        moving, standing = item.joining.moving, item.joining.standing
        if item.direction < 0:
            way = swing_way(scene, moving, standing, leg_axes(scene, moving, standing))
            if way is not None:
                found[scene.names(moving)] = way
    return found


def _with_swing(step: Step, swings: Mapping[tuple[PartId, ...], SwingWay], scene: Scene) -> Step:
    way = swings.get(step.moves)
    if way is None or step.path:
        return step
    note = say("note.turning_path", swing=swing_words(way.swing, scene.up))
    return titled(replace(step, path=way.path, swing=way.swing, notes=(*step.notes, note)))


def _path_findings(
    scene: Scene, paths: Paths, placed: tuple[Placed, ...], swings: Mapping[tuple[PartId, ...], SwingWay]
) -> list[Finding]:
    found = []
    for item in placed:
        joining = item.joining
        if item.direction >= 0:
            continue
        blockers = min(
            (
                paths.obstacles.blockers(number, joining.moving, joining.standing)
                for number in range(len(paths.directions))
            ),
            key=lambda chosen: (chosen.bit_count(), chosen),
        )
        names = scene.names(joining.moving)
        way = swings.get(names)
        nothing = say("finding.no-straight-path-way", names=tuple(names), blockers=tuple(scene.names(blockers)))
        if way is not None:
            found.append(
                Finding(
                    level=Level.WARN,
                    code="turning-path",
                    about=names,
                    message=say("finding.turning-path", nothing=nothing, swing=swing_words(way.swing, scene.up)),
                    remedy=say("remedy.turning-path"),
                )
            )
            continue
        found.append(
            Finding(
                level=Level.STOP,
                code="no-straight-path",
                about=(*names, *scene.names(blockers)),
                message=say("finding.no-straight-path", nothing=nothing),
                remedy=say("remedy.no-straight-path"),
            )
        )
    return found


def _sections(scene: Scene, whole: PartSet) -> tuple[Section, ...]:
    """What travels as one piece, in the order of its number."""
    return tuple(
        _section(scene, SectionId(f"S{number}"), chosen)
        for number, chosen in enumerate((one & whole for one in scene.sections if one & whole), 1)
    )


def _section(scene: Scene, name: SectionId, chosen: PartSet) -> Section:
    low, high = scene.box_mm(chosen)
    size = np.subtract(high, low)
    return Section(
        id=name,
        parts=scene.names(chosen),
        mass_kg=scene.mass_kg(chosen),
        size_mm=(float(size[0]), float(size[1]), float(size[2])),
        centre_mm=scene.centre_mm(chosen),
    )


def _costs(placed: tuple[Placed, ...], total_min: float) -> dict[str, float]:
    costs: dict[str, float] = {"total [min]": total_min}
    for item in placed:
        for name, value in item.joining.parts_of_cost:
            if name != "side bench":
                key = f"{name} [min]"
                costs[key] = costs.get(key, 0.0) + value
    return costs
