"""Which pictures need not be drawn again? A key over everything that is in a picture, and a shelf that is asked for it.

In: a plan, its meshes, what a drawing is marked with. Out: keys, and pictures as plain values and back. The shelf
itself belongs to the caller: this room knows no folders but the one it draws to.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from assembler.codemark import code_mark
from assembler.drawing.copies import half_pixel_mm
from assembler.drawing.keyfigure import Key
from assembler.drawing.stage import set_up
from assembler.drawing.turning import up_before
from assembler.drawing.viewpoints import Choice
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber
from assembler.figure.joints import Joint
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Section, Step, StepKind, View
from assembler.figure.records import read_as

DRAWN_FIELDS = (
    "number", "title", "kind", "up", "moves", "onto", "path", "joints", "hardware", "stacks", "adhesive", "hold",
    "access",
)  # fmt: skip
"""Of a step: all that its pictures draw on. A test holds that no module of this room reads another."""

_LIBRARIES = ("numpy", "scipy", "pyrender", "PyOpenGL", "pillow", "fast-simplification", "trimesh", "manifold3d")


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """How a step is shown: its view, and its key figure if it has one."""

    choice: Choice
    key: Key | None


class Keys:
    """Keys of all pictures of one book.

    Parameters
    ----------
    plan, meshes
        What is drawn; steps that are asked for are those of the plan.
    orders
        Bolts of each joint in the order of tightening.
    marks
        By step: words behind the references of parts.
    """

    def __init__(
        self,
        plan: Plan,
        meshes: Mapping[PartId, Mesh],
        orders: Mapping[JointId, Sequence[BoltId]],
        marks: Mapping[StepNumber, Mapping[PartId, str]],
    ) -> None:
        self._plan = plan
        self._solids = {part: mesh_digest(mesh) for part, mesh in meshes.items()}
        self._bought = {part.id for part in plan.parts if not part.is_printed}
        self._orders = orders
        self._marks = marks
        self._scenes: dict[StepNumber, dict[str, Any]] = {}
        # Copies that are drawn are as fine as half a pixel of the whole figure: its size is in every picture.
        self._common = (
            code_mark(("drawing", "figure"), _LIBRARIES),
            half_pixel_mm(meshes),
            sorted(part for part in meshes if part.isdigit()),
        )

    @property
    def solids(self) -> Mapping[PartId, str]:
        """Digest of each part's mesh."""
        return self._solids

    def choice(self, step: Step, before: tuple[Vector, Vector] | None, issued: Vector | None) -> str:
        """Of the view of a step; it leans on the one before on the bench, and on the one in the book that is out."""
        return self._key("view", self._scene(step), before, issued)

    def choice_near(self, step: Step, before: tuple[Vector, Vector] | None, issued: Vector | None) -> str:
        """Of the same, whatever stands in the background."""
        return self._key("view, near", self._near_scene(step), before, issued)

    def step(self, step: Step, seen: Seen) -> str:
        """Of all pictures of a step; of its key figure only the room that it takes."""
        return self._key("step", self._scene(step), *self._around(step, seen))

    def step_near(self, step: Step, seen: Seen) -> str:
        """Of the same, whatever stands in the background."""
        return self._key("step, near", self._near_scene(step), *self._around(step, seen))

    def main(self, step: Step, seen: Seen, sight: str, turn: str) -> str:
        """Of the main picture, by what its camera sees (`Shot.digest`) and the words about how the work lies."""
        return self._key("main", self._near_scene(step), *self._around(step, seen), sight, turn)

    def details(self, step: Step, seen: Seen) -> str:
        """Of the details; nothing but the parts of its joints is in them."""
        return self._key("details", self._near_scene(step), self._orders_of(step), seen.choice.eye)

    def detail(self, step: Step, seen: Seen, name: str, parts: Iterable[PartId]) -> str:
        """Of one of them, in which some of the step's parts are."""
        scene = {**self._near_scene(step), "parts": self._parts(parts)}
        return self._key("detail", name, scene, self._orders_of(step), seen.choice.eye)

    def key_figure(self, step: Step, choice: Choice) -> str:
        """Of the small figure in the corner: all parts are in it."""
        return self._key("key", self._parts(self._solids), step.number, step.moves, step.onto, step.up, choice.eye)

    def key_near(self, step: Step, choice: Choice) -> str:
        """Of the same, whatever solids they are."""
        parts = [(part, part in self._bought) for part in sorted(self._solids)]
        return self._key("key, near", parts, step.number, step.moves, step.onto, step.up, choice.eye)

    @property
    def all_solids(self) -> str:
        """Of the solids themselves, to be remembered once for all pictures."""
        return self._key("solids", sorted(self._solids.items()))

    def key_seen(self, sight: str) -> str:
        """Of the same, by what its camera sees (`KeySight.digest`)."""
        return self._key("key, seen", sight)

    def whole(self, name: str) -> str:
        """Of a picture in which all parts are."""
        return self._key(name, self._parts(self._solids))

    def whole_near(self, kind: str, name: str, parts: Iterable[PartId]) -> str:
        """Of a picture of some parts, whatever solids they are."""
        return self._key(f"{kind}, near", name, [(part, part in self._bought) for part in sorted(parts)])

    def thumbnail(self, part: PartId) -> str:
        """Of the small picture of a part."""
        return self._key("part", self._parts([part]))

    def section(self, section: Section) -> str:
        """Of the picture of a section."""
        return self._key("section", section.id, self._parts(section.parts))

    def _around(self, step: Step, seen: Seen) -> tuple[object, ...]:
        """What is in the pictures of a step besides its scene."""
        marks = {part: word for part, word in self._marks.get(step.number, {}).items() if part in self._in_scene(step)}
        return (asdict(seen), up_before(self._plan, step), self._orders_of(step), marks)

    def _orders_of(self, step: Step) -> dict[JointId, list[BoltId]]:
        return {joint: list(self._orders[joint]) for joint in step.joints if joint in self._orders}

    def _in_scene(self, step: Step) -> set[PartId]:
        return {*step.moves, *step.onto, *self._partners(step)}

    def _partners(self, step: Step) -> set[PartId]:
        return {part for joint in self._plan.joints if joint.id in step.joints for part in joint.parts}

    def _near_scene(self, step: Step) -> dict[str, Any]:
        """The scene without its background: what is new, and what it is joined to."""
        if step.kind is StepKind.TURN:
            return self._scene(step)
        near = {*step.moves, *set_up(self._plan, step), *self._partners(step)}
        scene = self._scene(step)
        onto = [part for part in step.onto if part in near]
        return {
            **scene,
            "step": {**scene["step"], "onto": onto, "stands": bool(step.onto)},
            "parts": self._parts(near),
        }

    def _scene(self, step: Step) -> dict[str, Any]:
        if step.number not in self._scenes:
            self._scenes[step.number] = self._scene_of(step)
        return self._scenes[step.number]

    def _scene_of(self, step: Step) -> dict[str, Any]:
        # Which steps a hold keeps waiting is on the page, not in a picture.
        hold = replace(step.hold, before=()) if step.hold else None
        record = asdict(replace(step, view=View(), hold=hold))
        fitted = {stack.bolt for stack in step.stacks}
        joints = [
            asdict(replace(joint, origins={})) for joint in self._plan.joints if _is_in(joint, set(step.joints), fitted)
        ]
        return {
            "step": {name: record[name] for name in DRAWN_FIELDS},
            "joints": joints,
            "set_up": set_up(self._plan, step),
            "parts": self._parts(self._in_scene(step)),
        }

    def _parts(self, names: Iterable[PartId]) -> list[tuple[str, str, bool]]:
        """Solids by id."""
        return [(name, self._solids.get(name, ""), name in self._bought) for name in sorted(names)]

    def _key(self, *pieces: object) -> str:
        text = json.dumps([self._common, *pieces], sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()


def _is_in(joint: Joint, closed: set[JointId], fitted: set[BoltId]) -> bool:
    return joint.id in closed or any(bolt.id in fitted for bolt in joint.bolts)


def picture_record(picture: Picture) -> dict[str, Any]:
    """A picture as JSON values."""
    return asdict(picture)


def picture_of(record: Mapping[str, Any]) -> Picture:
    """The picture of such values."""
    return read_as(Picture, record)


def choice_record(choice: Choice) -> dict[str, Any]:
    """A view as JSON values."""
    return asdict(choice)


def choice_of(record: Mapping[str, Any]) -> Choice:
    """The view of such values."""
    return read_as(Choice, record)


def key_of(record: Mapping[str, Any]) -> Key:
    """The key figure of such values."""
    up = record["up"]
    return Key(**{**record, "up": None if up is None else (float(up[0]), float(up[1]))})


def vector_of(values: Sequence[float]) -> Vector:
    """A vector from JSON values."""
    return (float(values[0]), float(values[1]), float(values[2]))
