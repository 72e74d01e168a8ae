"""Where one process draws: what it holds, and how it comes by the pictures of one job.

In: an order, a shelf, names of jobs. Out: pictures, from the shelf where no camera can tell the difference.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from assembler.drawing.copies import Copies, light_copies
from assembler.drawing.details import step_details
from assembler.drawing.keyfigure import Key, has_key, key_drawn, key_sight
from assembler.drawing.overview import cover_picture, exploded_overview, section_picture, thumbnail
from assembler.drawing.reuse import (
    Keys,
    Seen,
    key_of,
    picture_of,
    picture_record,
)
from assembler.drawing.stage import Stage, staged
from assembler.drawing.stepview import main_camera, step_picture, taken
from assembler.drawing.studio import Studio
from assembler.drawing.unseen import is_unseen, standing
from assembler.drawing.viewpoints import Choice
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Step, View
from assembler.figure.shelf import Shelf

Made = tuple[Picture, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to draw.

    Parameters
    ----------
    plan, meshes
        The book's.
    out_dir
        Where pictures are written.
    orders
        Bolts of each joint in the order of tightening.
    marks
        By step: words behind the references of parts.
    issued
        By step: its view in the book that the crew holds.
    """

    plan: Plan
    meshes: Mapping[PartId, Mesh]
    out_dir: Path
    orders: Mapping[JointId, Sequence[BoltId]]
    marks: Mapping[StepNumber, Mapping[PartId, str]]
    issued: Mapping[StepNumber, View] = field(default_factory=dict)

    def step(self, job: str) -> Step:
        """The step of a job such as 'step 0'."""
        return self.plan.steps[int(job.split(" ", 1)[1])]


@dataclass(slots=True, kw_only=True)
class Desk:
    """What a drawing process holds: its studio, opened when something has to be drawn, and the views."""

    order: Order
    stack: ExitStack
    shelf: Shelf
    copies: Copies | None = None
    known_keys: list[Keys] = field(default_factory=list)
    opened: list[Studio] = field(default_factory=list)
    stages: dict[tuple[StepNumber, float | None], Stage] = field(default_factory=dict)

    def studio(self) -> Studio:
        """The studio of this process."""
        if not self.opened:
            order = self.order
            studio = Studio(order.plan, order.meshes, order.out_dir, self.light_copies())
            self.opened.append(self.stack.enter_context(studio))
        return self.opened[0]

    def stage(self, step: Step, distance_mm: float | None = None) -> Stage:
        """The scene of a step with its parts a distance apart (`staged`), laid out once."""
        name = (step.number, distance_mm)
        if name not in self.stages:
            self.stages[name] = staged(self.studio(), step, distance_mm)
        return self.stages[name]

    @property
    def keys(self) -> Keys:
        """Keys of this book, made once in each process."""
        if not self.known_keys:
            order = self.order
            self.known_keys.append(Keys(order.plan, order.meshes, order.orders, order.marks))
        return self.known_keys[0]

    def light_copies(self) -> Copies:
        """Copies to draw, made once."""
        if self.copies is None:
            self.copies = light_copies(self.order.meshes, self.shelf)
        return self.copies


def kept_pictures(desk: Desk, job: str, seen: Seen) -> Any | None:
    """Pictures of a step whose background changed out of the frame; None where its camera has to look (`drawn`)."""
    step = desk.order.step(job)
    entry = desk.shelf.value(desk.keys.step_near(step, seen))
    if entry is None:
        return None
    stage = desk.stage(step, seen.choice.explode_mm)
    stands = standing(desk.studio(), stage, desk.keys.solids)
    is_kept = is_unseen(entry["stands"], stands, [main_camera(stage, seen.choice)])
    return desk.shelf.files(entry["key"], desk.order.out_dir) if is_kept else None


def key_of_step(desk: Desk, step: Step, choice: Choice) -> Key | None:
    """The key figure of a step, drawn only if its camera sees something that is not on the shelf; None without one."""
    if not has_key(step):
        return None
    shelf, order = desk.shelf, desk.order
    whole = desk.keys.key_figure(step, choice)
    known = shelf.files(whole, order.out_dir)
    if known is not None:
        return key_of(known)
    sight = key_sight(desk.studio(), step, choice.eye)
    seen = desk.keys.key_seen(sight.digest)
    known = shelf.files(seen, order.out_dir)
    key = key_drawn(desk.studio(), sight) if known is None else key_of(known)
    for name in (whole, seen) if known is None else (whole,):
        shelf.keep_files(name, asdict(key), [order.out_dir / key.file])
    return key


def drawn(desk: Desk, job: str, seen: Seen | None) -> Made:
    """The pictures of a job.

    Parameters
    ----------
    desk, job
        What to draw: 'cover', 'overview', 'part P01', 'section S1' or 'step 0'.
    seen
        How the step of the job is shown; None for other jobs.

    Raises
    ------
    ValueError
        If that is not said for a step.
    """
    studio, plan = desk.studio(), desk.order.plan
    kind, _, name = job.partition(" ")
    if kind == "cover":
        return (cover_picture(studio),)
    if kind == "overview":
        return (exploded_overview(studio),)
    if kind == "part":
        return (thumbnail(studio, PartId(name)),)
    if kind == "section":
        return (section_picture(studio, next(section for section in plan.sections if section.id == name)),)
    if seen is None:
        raise ValueError(f"nobody said how {job} is shown")
    return _drawn_step(desk, desk.order.step(job), seen)


def _drawn_step(desk: Desk, step: Step, seen: Seen) -> Made:
    """Main picture and details, each drawn only if the camera sees something that is not on the shelf."""
    studio, marks = desk.studio(), desk.order.marks.get(step.number, {})
    stage = desk.stage(step, seen.choice.explode_mm)
    shot = taken(studio, stage, seen.choice)
    stands = standing(studio, stage, desk.keys.solids)
    main = _shelved(
        desk,
        desk.keys.main(step, seen, shot.digest, stands["turn"]),
        lambda: (step_picture(studio, shot, seen.choice, seen.key, marks),),
    )
    details = _shelved(
        desk,
        desk.keys.details(step, seen),
        lambda: step_details(
            studio,
            step,
            desk.order.orders,
            seen.choice.eye,
            lambda name, parts, draw: _shelved(desk, desk.keys.detail(step, seen, name, parts), draw),
        ),
    )
    desk.shelf.renew_value(desk.keys.step_near(step, seen), {"stands": stands, "key": desk.keys.step(step, seen)})
    return (*main, *details)


def _shelved(desk: Desk, key: str, draw: Callable[[], Made]) -> Made:
    """Pictures from the shelf, or drawn and kept there."""
    known = desk.shelf.files(key, desk.order.out_dir)
    if known is not None:
        return tuple(map(picture_of, known))
    made = draw()
    files = [desk.order.out_dir / picture.file for picture in made]
    desk.shelf.keep_files(key, [picture_record(picture) for picture in made], files)
    return made
