"""What has the shop to decide? Settings, joints and file names in, at most eight `Decision`s out, most costly first.

Meshes do not tell how a joint is held, where it is closed, what a part is made of; the first survey assumes it and
lists under `assumed` in figure.toml what it assumed. A question is open until its word is taken out there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath

from assembler.figure.ids import PartId, natural_key
from assembler.figure.joints import Joint, Method, Origin, Place
from assembler.figure.records import Spoken
from assembler.figure.settings import Assumed, Settings
from assembler.words import Said, Value, also, say

_NAMED = 3
"""Joints that a question names; the others are counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One thing that only the shop knows.

    Parameters
    ----------
    about
        The word of figure.toml that stands for it.
    question
        What is to be decided, with file names and ids.
    assumed
        What the program goes by meanwhile.
    line
        What to type, and where.
    """

    about: Assumed
    question: Spoken
    assumed: Spoken
    line: Spoken


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    settings: Settings
    joints: Sequence[Joint]
    files: Mapping[PartId, str]

    def name(self, part: PartId) -> str:
        """A part as the shop knows it, its id beside."""
        name = PurePath(self.files.get(part, "")).stem
        return f"{name} ({part})" if name and name != part else part

    def pair(self, joint: Joint) -> Said:
        """The two parts of a joint."""
        first, second = joint.parts
        return say("question.pair", joint=joint.id, first=self.name(first), second=self.name(second))


def open_decisions(settings: Settings, joints: Sequence[Joint], files: Mapping[PartId, str]) -> tuple[Decision, ...]:
    """Questions that are not answered yet, those that cost most when they are answered late first.

    Parameters
    ----------
    settings
        What figure.toml says, `assumed` included.
    joints
        With the origin of each value.
    files
        File of each part, for its name.
    """
    asked = _Asked(settings=settings, joints=joints, files=files)
    found = (_QUESTIONS[about](asked) for about in Assumed if about is Assumed.UNBOLTED or about in settings.assumed)
    return tuple(decision for decision in found if decision is not None)


def _base(asked: _Asked) -> Decision:
    base = asked.settings.base
    up = " ".join(f"{value:g}" for value in asked.settings.up)
    front = " ".join(f"{value:g}" for value in asked.settings.front)
    anchors = say("question.anchors", count=base.anchors) if base.anchors else say("question.no_anchors")
    if base.part is None:
        return Decision(
            about=Assumed.BASE,
            question=say("question.ground"),
            assumed=say("assumed.ground", up=up, front=front, anchors=anchors),
            line=say("answer.ground"),
        )
    material = asked.settings.material_of(base.part).name
    return Decision(
        about=Assumed.BASE,
        question=say("question.base", part=asked.name(base.part), material=material),
        assumed=say("assumed.base", material=material, up=up, front=front, anchors=anchors),
        line=say("answer.base", part=base.part, material=material),
    )


def _unbolted(asked: _Asked) -> Decision | None:
    bonded = [
        joint
        for joint in asked.joints
        if joint.method is Method.BONDED and joint.origins.get("method") is Origin.ASSUMED
    ]
    if not bonded:
        return None
    largest = sorted(bonded, key=lambda joint: (-joint.bond_area_mm2, natural_key(joint.id)))
    named = also(
        say("question.unbolted_pair", pair=asked.pair(joint), area_cm2=joint.bond_area_mm2 / 100)
        for joint in largest[:_NAMED]
    )
    return Decision(
        about=Assumed.UNBOLTED,
        question=say("question.unbolted", named=_and_more(named, bonded)),
        assumed=say("assumed.unbolted"),
        line=say("answer.unbolted", joint=largest[0].id),
    )


def _and_more(named: Value, joints: Sequence[Joint]) -> Value:
    """Those that are named, and how many are not."""
    rest = len(joints) - _NAMED
    return say("question.and_more", named=named, count=rest) if rest > 0 else named


def _method(asked: _Asked) -> Decision | None:
    both = [joint for joint in asked.joints if joint.method is Method.BOLTED_AND_BONDED and _is_open(joint, "method")]
    if not both:
        return None
    return Decision(
        about=Assumed.METHOD,
        question=say("question.method", named=_and_more(_first(both), both)),
        assumed=say("assumed.method"),
        line=say("answer.method", joint=both[0].id),
    )


def _place(asked: _Asked) -> Decision | None:
    shop = [joint for joint in asked.joints if joint.made is Place.SHOP and _is_open(joint, "made")]
    if not shop:
        return None
    return Decision(
        about=Assumed.PLACE,
        question=say("question.place", named=_and_more(_first(shop), shop)),
        assumed=say("assumed.place"),
        line=say("answer.place", joint=shop[0].id),
    )


def _first(joints: Sequence[Joint]) -> tuple[str, ...]:
    return tuple(joint.id for joint in joints[:_NAMED])


def _is_open(joint: Joint, key: str) -> bool:
    return joint.origins.get(key) is Origin.ASSUMED


def _material(asked: _Asked) -> Decision:
    material = asked.settings.materials[asked.settings.default_material]
    density = material.density_kg_m3
    return Decision(
        about=Assumed.MATERIAL,
        question=say("question.material"),
        assumed=say(
            "assumed.material",
            name=material.name,
            density_kg_m3=density,
            bearing_mpa=material.bearing_mpa,
            source=material.source,
        ),
        line=say("answer.material", name=material.name, density_kg_m3=density),
    )


def _adhesive(asked: _Asked) -> Decision | None:
    if not any(joint.method.is_bonded for joint in asked.joints):
        return None
    glue = asked.settings.adhesive
    return Decision(
        about=Assumed.ADHESIVE,
        question=say("question.adhesive"),
        assumed=say(
            "assumed.adhesive",
            name=glue.name,
            open_min=glue.open_min,
            handling_min=glue.handling_min,
            sheet_c=glue.sheet_c,
        ),
        line=say("answer.adhesive", open_min=glue.open_min, handling_min=glue.handling_min),
    )


def _passages(asked: _Asked) -> Decision:
    settings = asked.settings
    stated = [
        say("question.passage", name=one.name, size=f"{one.width_mm:g} x {one.height_mm:g}")
        for one in settings.passages
    ]
    if settings.envelopes.printer_mm is not None:
        stated.insert(
            0, say("question.printer", size=" x ".join(f"{edge:g}" for edge in settings.envelopes.printer_mm))
        )
    if settings.vehicle is not None:
        inside = (settings.vehicle.length_mm, settings.vehicle.width_mm, settings.vehicle.height_mm)
        stated.append(say("question.vehicle", size=" x ".join(f"{edge:g}" for edge in inside)))
    return Decision(
        about=Assumed.PASSAGES,
        question=say("question.passages"),
        assumed=also(tuple(stated), "list.comma") or say("assumed.passages"),
        line=say("answer.passages"),
    )


def _people(asked: _Asked) -> Decision:
    crew = asked.settings.crew
    return Decision(
        about=Assumed.PEOPLE,
        question=say("question.people"),
        assumed=say("assumed.people", people=crew.people, glove=say(f"question.glove_{crew.glove.name.lower()}")),
        line=say("answer.people"),
    )


_QUESTIONS: dict[Assumed, Callable[[_Asked], Decision | None]] = {
    Assumed.BASE: _base,
    Assumed.UNBOLTED: _unbolted,
    Assumed.METHOD: _method,
    Assumed.PLACE: _place,
    Assumed.MATERIAL: _material,
    Assumed.ADHESIVE: _adhesive,
    Assumed.PASSAGES: _passages,
    Assumed.PEOPLE: _people,
}
