"""What does the figure stand on, and which steps make it stand there? Settings and joining steps in, base steps out.

The ground is a base with a mesh, a base of which only size and mass are stated, or the floor. A base is set down and
levelled before anything stands on it; anchors are tightened where the figure is put up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from assembler.engineering.lifting import lift_for
from assembler.figure.ids import BenchId, SectionId, StepNumber
from assembler.figure.joints import Place
from assembler.figure.plan import CarriedBy, Grounding, Lift, LiftedBy, Stability, StatedBase, Step, StepKind
from assembler.figure.settings import BaseWhen
from assembler.planning.benches import Placed
from assembler.planning.gravity import Side, team_lift
from assembler.planning.headings import heading_of
from assembler.planning.scene import PartSet, Scene, on_the_ground
from assembler.planning.support import SAFE_DEG, Support, stability_of

FIRST_NAME = StepNumber("base")
"""Working name of the step that comes before all others."""

LEVEL_MIN = 15.0
"""To set something down at its place and level it (common practice, no source)."""

_LEVEL = "Check with a spirit level in two directions"
_LOOSE = "Until then nothing holds {what}: keep props and straps on it, and people away"


def is_built_on(scene: Scene, base: StatedBase | None, placed: Sequence[Placed]) -> bool:
    """Whether the figure can stand on its stated base from the first part on: it comes first, and nothing is turned.

    What is laid down, stood on its head or lifted off on the main bench is stood on its base when it is whole.
    """
    main = [item for item in placed if item.bench == 1]
    return (
        base is not None
        and scene.settings.base.when is BaseWhen.FIRST
        and bool(main)
        and bool(main[0].onto & on_the_ground(scene))
        and all(item.up == scene.up and item.side is Side.ARRIVING and not item.is_raised for item in main)
    )


def base_step(scene: Scene, number: int, place: Place = Place.SHOP) -> Step:
    """The base with a mesh is set down before anything stands on it."""
    chosen = 1 << number
    first = "the first part" if scene.is_base_first else "the figure"
    return replace(
        _ground_step(scene, chosen, Grounding.LEVELLED, place),
        lift=team_lift(scene, chosen),
        why=("figure.toml says the base comes first" if scene.is_base_first else "the finished figure goes on it",),
        notes=(f"{_LEVEL} before {first}. The base weighs {scene.mass_kg(chosen):.1f} kg.",),
    )


def stand_step(scene: Scene, base: StatedBase, standing: PartSet, *, is_first: bool) -> Step:
    """A base without a mesh is set down, and what is there stands on it: the first part, or the finished figure."""
    step = _ground_step(scene, standing, Grounding.STOOD, Place.SHOP if is_first else Place.SITE)
    own, base_lift = team_lift(scene, standing), _base_lift(scene, base)
    when = "first" if is_first else "last"
    notes = [f"Set the base down ({_base_words(base)}). {_LEVEL} before anything stands on it."]
    if base.mass_kg:
        notes.append(f"For the base alone: {base_lift.rule}.")
    notes.append(f"Fix {'what stands' if is_first else 'the figure'} to it. {_LOOSE.format(what='it')}.")
    return replace(
        step,
        lift=max(own, base_lift, key=lambda lift: lift.mass_kg),
        stability=_stability(Support(scene, base), standing),
        why=(f"figure.toml says the base comes {when}" if is_first else "finished, the figure meets its base",),
        notes=tuple(notes),
    )


def _stability(support: Support, standing: PartSet) -> Stability:
    """How what is fixed to its base stands: it leans on nothing."""
    up = support.scene.up
    if (angle := support.tip_deg(standing, up)) >= SAFE_DEG:
        return Stability(tip_deg=angle, needs_prop=False, reason="")
    return stability_of(support, standing, 0, up)


def with_ground_on_site(scene: Scene, base: StatedBase | None, steps: Sequence[Step], *, is_stood: bool) -> list[Step]:
    """Steps, trial fits among them, with what stands the figure on its base at last and bolts it to its anchors.

    What goes on site first is anchored before anything is set on it.

    Parameters
    ----------
    scene, base
        The figure, and its base if it has no mesh.
    steps
        In the order of the book.
    is_stood
        Whether the figure has stood on that base from the beginning.
    """
    whole = scene.set_of(part for step in steps for part in (*step.moves, *step.onto))
    steps = _with_late_base(scene, steps)
    if not whole:
        return steps
    if base is not None and not is_stood:
        late = stand_step(scene, base, whole, is_first=False)
        return [*steps, replace(late, notes=(*late.notes, *_anchor_notes(scene)))]
    on_site = [place for place, step in enumerate(steps) if step.place is Place.SITE]
    first = scene.set_of(steps[on_site[0]].onto) if on_site else whole
    if scene.settings.base.is_floor:
        if all(steps[place].carried_by is CarriedBy.GROUND for place in on_site):
            place = on_site[0] if on_site else len(steps)
            return [*steps[:place], _on_the_floor(scene, first), *steps[place:]]
        return [*steps, _on_the_floor(scene, whole)]
    if not scene.settings.base.anchors:
        return steps
    if on_site and (scene.is_base_first or is_stood):
        return [*steps[: on_site[0]], _placed(scene, base, first), *steps[on_site[0] :]]
    return [*steps, _bolted(scene, whole) if on_site else _placed(scene, base, whole)]


def _with_late_base(scene: Scene, steps: Sequence[Step]) -> list[Step]:
    """A base with a mesh that comes after the finish is set down before the figure meets it, wherever that is."""
    if scene.base is None or scene.is_base_first:
        return list(steps)
    found: list[Step] = []
    is_set = set()
    for step in steps:
        if step.onto == scene.names(1 << scene.base) and step.moves and step.place not in is_set:
            found.append(replace(base_step(scene, scene.base, step.place), number=StepNumber("")))
            is_set.add(step.place)
        found.append(step)
    return found


def _on_the_floor(scene: Scene, standing: PartSet) -> Step:
    step = _ground_step(scene, standing, Grounding.FLOOR, Place.SITE)
    loose = "Only its own weight holds it there: until it is fixed keep props and straps on it, and people away"
    return replace(
        step,
        lift=team_lift(scene, standing),
        why=("figure.toml names no base and no anchors: the floor is its ground",),
        notes=(f"{_LEVEL}.", f"{loose}."),
    )


def _placed(scene: Scene, base: StatedBase | None, standing: PartSet) -> Step:
    """What stands is put up at its place, with the base that it is fixed to."""
    step = _ground_step(scene, standing, Grounding.PLACED, Place.SITE)
    lift = team_lift(scene, standing)
    if base is not None:
        mass_kg = lift.mass_kg + base.mass_kg
        people = lift_for(mass_kg, scene.stance_mm(standing), scene.size_mm(standing), scene.settings.crew)
        lift = replace(lift, mass_kg=mass_kg, people=people.people, rule=people.rule)
        lift = replace(lift, by=LiftedBy.HANDS if lift.people else LiftedBy.HOIST)
        step = replace(step, carried_by=CarriedBy.BASE)
    return replace(step, lift=lift, notes=(f"{_LEVEL}.", *_anchor_notes(scene)))


def _bolted(scene: Scene, standing: PartSet) -> Step:
    step = _ground_step(scene, standing, Grounding.BOLTED, Place.SITE)
    return replace(step, minutes=_bolting_min(scene), notes=_anchor_notes(scene))


def _ground_step(scene: Scene, standing: PartSet, grounding: Grounding, place: Place) -> Step:
    section = next((number for number, one in enumerate(scene.sections, 1) if one & standing), 1)
    is_anchored = place is Place.SITE and scene.settings.base.anchors
    return Step(
        number=FIRST_NAME if place is Place.SHOP else StepNumber(""),
        title="",
        heading=replace(heading_of(scene, standing), grounding=grounding),
        kind=StepKind.BASE,
        place=place,
        bench=BenchId("B1"),
        section=SectionId(f"S{section}"),
        up=scene.up,
        onto=scene.names(standing),
        minutes=LEVEL_MIN + (_bolting_min(scene) if is_anchored else 0.0),
        carried_by=CarriedBy.GROUND if grounding is not Grounding.STOOD else CarriedBy.BASE,
        why=() if place is Place.SHOP else ("anchors are in the ground of the place where it stands",),
    )


def _bolting_min(scene: Scene) -> float:
    return scene.settings.base.anchors * scene.settings.crew.bolt_min


def _anchor_notes(scene: Scene) -> tuple[str, ...]:
    base = scene.settings.base
    if not base.anchors:
        return ()
    size = f" {base.anchor_size}" if base.anchor_size else ""
    each = "its anchor" if base.anchors == 1 else f"all {base.anchors} anchors"
    return (f"Tighten{size} nuts on {each} as the person responsible says. {_LOOSE.format(what='it')}.",)


def _base_lift(scene: Scene, base: StatedBase) -> Lift:
    """People that the base takes by itself; no part of the figure is in it."""
    lift = lift_for(base.mass_kg, (0.0, 0.0, base.size_mm[2] / 2.0), base.size_mm, scene.settings.crew)
    centre = np.asarray(base.top_mm) - np.asarray(scene.up) * base.size_mm[2] / 2.0
    x, y, z = centre.tolist()
    return replace(lift, centre_mm=(x, y, z), by=LiftedBy.HANDS if lift.people else LiftedBy.HOIST)


def _base_words(base: StatedBase) -> str:
    size = " x ".join(f"{edge:g}" for edge in base.size_mm)
    words = [f"{size} mm"] if any(base.size_mm) else []
    return ", ".join([*words, f"{base.mass_kg:g} kg"] if base.mass_kg else words)
