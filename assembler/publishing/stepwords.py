"""What a step tells people to do, in order and in the imperative, from what the plan knows of it."""

from __future__ import annotations

from assembler.catalogue import tables
from assembler.engineering.bonding import batches, working_life_min
from assembler.engineering.lifting import grip
from assembler.engineering.patterns import joints_in_turn
from assembler.figure.hardware import Bonding
from assembler.figure.ids import natural_key
from assembler.figure.plan import CarriedBy, Lift, Step, StepKind
from assembler.figure.sides import side_of
from assembler.figure.titles import Movement, closing_movement
from assembler.publishing import quantities
from assembler.publishing.cautions import is_heavy, is_held, is_loose
from assembler.publishing.closures import shut_by, unbonded
from assembler.publishing.nuts import captive_nuts
from assembler.publishing.source import Source

PREVAILING = "ISO 7040"
"""Nuts that turn hard by themselves."""
_TAKEN_OFF = (CarriedBy.BED, CarriedBy.STANDS, CarriedBy.HANDS, CarriedBy.HOIST)
SPELT_OUT = 3
"""Of more parts than these the step's title says which."""


def orders(source: Source, step: Step) -> tuple[str, ...]:
    """The orders of a step, one sentence or two each.

    A step without movement, joints or notes gets none: its title says it all.
    """
    lines = [*_preparing(source, step), *_pressing(source, step), *_closing(source, step), *_after(source, step)]
    return (*lines, *(source.words.text(note) for note in step.notes))


def _preparing(source: Source, step: Step) -> list[str]:
    words = source.words
    lines = []
    if step.kind is StepKind.DRY_FIT:
        lines.append(words("orders.dry_only"))
    if step.gates:
        lines.append(words("orders.gate"))
    if step == next((other for other in source.plan.steps if is_loose(other)), None):
        lines.append(words("orders.fix_base"))
    laid = source.first_laid(step)
    # A base is set down as its title says; it lies on the floor, not propped on a bench.
    if laid and step.kind is not StepKind.BASE:
        lines.append(words("orders.lay", parts=words.listed(laid), bench=step.bench))
    lines += _taking_off(source, step)
    if step.lift and is_heavy(step):
        key = "orders.hoist" if step.lift.people == 0 else "orders.lift"
        lines.append(words(key, people=step.lift.people, mass=source.units.mass(step.lift.mass_kg)))
        # A base without a mesh has no place to hold it that anybody knows of.
        if step.lift.parts or step.moves:
            lines.append(_grip(source, step, step.lift))
    return lines


def _taking_off(source: Source, step: Step) -> list[str]:
    """What is done with the work that stands before anything arrives: bedded, put on stands, or lifted off."""
    lift = step.lift
    if lift is None or step.carried_by not in _TAKEN_OFF:
        return []
    return [
        source.words(
            f"orders.carried.{step.carried_by}",
            parts=source.words.listed(step.onto if step.carried_by is CarriedBy.BED else lift.parts),
            onto=source.words.listed(step.onto),
            mass=source.units.mass(lift.mass_kg),
            height=source.units.length(round(lift.height_mm)),
        )
    ]


def _pressing(source: Source, step: Step) -> list[str]:
    """Captive nuts go in before the adhesive: nobody comes to them afterwards."""
    nuts = captive_nuts(source, step)
    if not nuts:
        return []
    return [source.words.count("orders.press", count, size=size, part=part) for part, size, count in nuts]


def _closing(source: Source, step: Step) -> list[str]:
    words = source.words
    lines = []
    for row in step.adhesive:
        count = batches(row.area_mm2, working_life_min(row, source.settings.adhesive), source.settings.crew)
        if count > 1:
            lines.append(words("orders.batches", count=count, joint=row.joint))
    if step.adhesive:
        doses = [
            words("orders.dose", joint=row.joint, volume=quantities.volume(row.volume_ml)) for row in step.adhesive
        ]
        lines.append(words("orders.bond", doses=words.listed(doses)))
    movement = closing_movement(step)
    if step.moves and movement is not None:
        lines.append(_movement(source, step, movement))
    bolts = len(step.stacks)
    if bolts:
        lines += _holding(source, step)
        lines.append(words.count("orders.enter", bolts))
        lines += _tightening(source, step)
        if any(stack.nut == PREVAILING for stack in step.stacks):
            most_nm = max(tables.prevailing_torque(row.size).torque_nm for row in step.stacks if row.nut == PREVAILING)
            lines.append(words("orders.prevailing", most=source.units.torque(most_nm)))
    return lines + _recheck(source, step)


def _holding(source: Source, step: Step) -> list[str]:
    """Who holds and who turns, where one alone has not hands enough."""
    words, lines = source.words, []
    people = source.settings.crew.people
    if people > 1 and step.moves and is_held(step):
        lines.append(words("orders.one_holds", parts=_moved(source, step)))
    return lines


def _tightening(source: Source, step: Step) -> list[str]:
    """Rounds, and which joint first where a step closes several."""
    words = source.words
    joints = [source.joint(name) for name in sorted({stack.joint for stack in step.stacks}, key=natural_key)]
    if len(joints) < 2 or not step.path:
        return [words("orders.tighten")]
    first, *later = (
        words.listed([joint.id for joint in group]) for group in joints_in_turn(joints, step.path[-1].direction)
    )
    if not later:
        return [words("orders.tighten_alike", joints=first)]
    return [words("orders.tighten_first", joints=first), words("orders.tighten_later", joints=later[0], first=first)]


def _recheck(source: Source, step: Step) -> list[str]:
    """Bolts without adhesive are checked again when they have settled."""
    glued = {row.joint for row in step.adhesive}
    alone = sorted({stack.joint for stack in step.stacks} - glued, key=natural_key)
    if not alone or step.kind is StepKind.DRY_FIT:
        return []
    joints, shutting = source.words.listed(alone), shut_by(source, unbonded(step))
    if shutting is None:
        return [source.words("orders.recheck", joints=joints)]
    return [source.words("orders.recheck_before", joints=joints, step=shutting.number)]


def torque_within(source: Source, step: Step, row: Bonding) -> str:
    """Until when after mixing the torque of a bonded joint may be checked again; empty where it has no bolts."""
    if not any(stack.joint == row.joint for stack in step.stacks):
        return ""
    return quantities.span(working_life_min(row, source.settings.adhesive))


def _grip(source: Source, step: Step, lift: Lift) -> str:
    """Where the load is held."""
    words = source.words
    bodies = [source.part(name) for name in (lift.parts or step.moves or step.onto)]
    low_mm, high_mm = (
        (pick(part[0] for part in corners), pick(part[1] for part in corners), pick(part[2] for part in corners))
        for pick, corners in (
            (min, [part.low_mm for part in bodies]),
            (max, [part.high_mm for part in bodies]),
        )
    )
    found = grip(lift.centre_mm, low_mm, high_mm, step.up)
    key = "hoist" if lift.people == 0 else "long" if found.is_long else "around"
    line = words(f"grip.{key}", rise=source.units.length(round(found.rise_mm, -1)))
    if found.is_lopsided:
        line = f"{line} {words('grip.lopsided', aside=source.units.length(round(found.aside_mm, -1)))}"
    return line


def _movement(source: Source, step: Step, movement: Movement) -> str:
    words = source.words
    side = came_from(source, step) if movement in (Movement.SLIDE, Movement.SLANT) else ""
    key = f"orders.move.{movement}_from" if side else f"orders.move.{movement}"
    onto = sorted({name for joint in step.joints for name in source.joint(joint).parts if name not in step.moves})
    target = words.listed(onto) if onto else words("orders.its_place")
    line = words(key, parts=_moved(source, step), onto=target, **({"side": words(f"side.{side}")} if side else {}))
    if len(step.path) > 1:
        line = f"{words('orders.legs', count=len(step.path))} {line}"
    return line


def came_from(source: Source, step: Step) -> str:
    """The side of the figure from which a step's parts arrive; empty where the work does not stand upright."""
    if not step.path or step.up != source.settings.up:
        return ""
    x, y, z = step.path[-1].direction
    return side_of((-x, -y, -z), source.settings.up, source.settings.front)


def _moved(source: Source, step: Step) -> str:
    if not step.moves:
        return source.words("orders.the_parts")
    if len(step.moves) > SPELT_OUT:
        if step.heading and step.heading.unit:
            return source.words("orders.the_unit", unit=step.heading.unit)
        return source.words("orders.the_piece", count=len(step.moves))
    return source.words.listed(step.moves)


def _after(source: Source, step: Step) -> list[str]:
    words = source.words
    if step.stability and step.stability.needs_prop:
        reason = step.stability.reason
        return [words("orders.prop_reason", reason=reason) if reason else words("orders.prop")]
    return []
