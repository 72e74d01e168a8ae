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
from assembler.figure.settings import Assumed, Settings

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
    question: str
    assumed: str
    line: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    settings: Settings
    joints: Sequence[Joint]
    files: Mapping[PartId, str]

    def name(self, part: PartId) -> str:
        """A part as the shop knows it, its id beside."""
        name = PurePath(self.files.get(part, "")).stem
        return f"{name} ({part})" if name and name != part else part

    def pair(self, joint: Joint) -> str:
        """The two parts of a joint."""
        return f"{joint.id}, {self.name(joint.parts[0])} to {self.name(joint.parts[1])}"


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
    anchors = f"{base.anchors} anchors" if base.anchors else "no anchors"
    up = " ".join(f"{value:g}" for value in asked.settings.up)
    if base.part is None:
        return Decision(
            about=Assumed.BASE,
            question="What does the figure stand on, which way is up, and what holds it down?",
            assumed=f"its lowest parts stand on the floor, up is {up}, {anchors}",
            line='figure.toml, [base]: part = "P01", or size_mm and mass_kg of a base without a mesh; anchors = 4',
        )
    material = asked.settings.material_of(base.part).name
    return Decision(
        about=Assumed.BASE,
        question=f"Is {asked.name(base.part)} the base, and made of {material}? Its name alone says so.",
        assumed=f"it is the base, of {material}, up is {up}, {anchors}",
        line=f'figure.toml, [base]: part = "{base.part}", anchors = 4; [parts.{base.part}]: material = "{material}"',
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
    named = "; ".join(f"{asked.pair(joint)}, {joint.bond_area_mm2 / 100:.0f} cm2" for joint in largest[:_NAMED])
    return Decision(
        about=Assumed.UNBOLTED,
        question=f"Joints without bolts: bonded, dry, or are holes missing? {named}{_more(bonded)}",
        assumed="bonded",
        line=f'joints.toml, under id = "{largest[0].id}": method = "dry"; or take "method" out of its assumed',
    )


def _more(joints: Sequence[Joint]) -> str:
    return f"; and {len(joints) - _NAMED} more" if len(joints) > _NAMED else ""


def _method(asked: _Asked) -> Decision | None:
    both = [joint for joint in asked.joints if joint.method is Method.BOLTED_AND_BONDED and _is_open(joint, "method")]
    if not both:
        return None
    return Decision(
        about=Assumed.METHOD,
        question=f"Is adhesive used in the bolted joints ({_first(both)}{_more(both)}), or are some only bolted?",
        assumed="bolted and bonded",
        line=f'joints.toml, under id = "{both[0].id}": method = "bolted"',
    )


def _place(asked: _Asked) -> Decision | None:
    shop = [joint for joint in asked.joints if joint.made is Place.SHOP and _is_open(joint, "made")]
    if not shop:
        return None
    return Decision(
        about=Assumed.PLACE,
        question=f"Which joints are closed only where the figure will stand ({_first(shop)}{_more(shop)})?",
        assumed="none, all are closed in the shop",
        line=f'joints.toml, under id = "{shop[0].id}": made = "site"',
    )


def _first(joints: Sequence[Joint]) -> str:
    return ", ".join(joint.id for joint in joints[:_NAMED])


def _is_open(joint: Joint, key: str) -> bool:
    return joint.origins.get(key) is Origin.ASSUMED


def _material(asked: _Asked) -> Decision:
    material = asked.settings.materials[asked.settings.default_material]
    return Decision(
        about=Assumed.MATERIAL,
        question="What is each part made of, and what does the material weigh and bear under a washer?",
        assumed=f"{material.name}, {material.density_kg_m3:g} kg/m3, {material.bearing_mpa:g} MPa ({material.source})",
        line=f'figure.toml, [materials."{material.name}"]: density_kg_m3 = {material.density_kg_m3:g}; '
        '[parts.P01]: material = "timber"',
    )


def _adhesive(asked: _Asked) -> Decision | None:
    if not any(joint.method.is_bonded for joint in asked.joints):
        return None
    glue = asked.settings.adhesive
    return Decision(
        about=Assumed.ADHESIVE,
        question="Which adhesive, and what does its data sheet say?",
        assumed=f"{glue.name}: open {glue.open_min:g} min, handling {glue.handling_min:g} min at {glue.sheet_c:g} C",
        line=f"figure.toml, [adhesive]: open_min = {glue.open_min:g}, handling_min = {glue.handling_min:g}, "
        'source = "data sheet of ..."',
    )


def _passages(asked: _Asked) -> Decision:
    boxes = asked.settings.envelopes
    known = ("printer", boxes.printer_mm), ("door", boxes.door_mm), ("crate", boxes.crate_mm)
    stated = [f"{name} {box[0]:g} x {box[1]:g} x {box[2]:g} mm" for name, box in known if box is not None]
    return Decision(
        about=Assumed.PASSAGES,
        question="Which door, crate and printer do things have to fit?",
        assumed=", ".join(stated) or "everything passes everywhere",
        line="figure.toml, [envelopes]: door_mm = [1000, 2000, 10000]",
    )


def _people(asked: _Asked) -> Decision:
    crew = asked.settings.crew
    return Decision(
        about=Assumed.PEOPLE,
        question="How many people build, and with which gloves do their hands go inside?",
        assumed=f"{crew.people} people, gloves: {crew.glove}",
        line='figure.toml, [crew]: people = 3, glove = "heavy"',
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
