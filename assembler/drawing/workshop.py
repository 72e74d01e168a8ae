"""Draws a list of pictures with several processes, those first taken from the shelf that are there.

In: what to draw (`Order`) and names of jobs. Out: the pictures of each job. A job is 'cover', 'overview', 'part P01',
'section S1' or 'step 0' (main picture and details of the first step). Views and key figures of the steps come first,
one after the other: what is in a picture is only known once they are.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from dataclasses import asdict, dataclass, field
from pathlib import Path

from assembler.drawing.details import step_details
from assembler.drawing.keyfigure import Key, has_key, key_figure
from assembler.drawing.overview import cover_picture, exploded_overview, section_picture, thumbnail
from assembler.drawing.parting import parted
from assembler.drawing.reuse import Keys, Seen, choice_of, choice_record, key_of, picture_of, picture_record
from assembler.drawing.stage import staged
from assembler.drawing.stepview import step_picture
from assembler.drawing.studio import Studio, light_copies
from assembler.drawing.viewpoints import Choice, choose
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Step
from assembler.figure.shelf import Shelf

Made = tuple[Picture, ...]

FEW_STEPS = 3
"""So few steps are drawn sooner than a second process is ready."""


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
    """

    plan: Plan
    meshes: Mapping[PartId, Mesh]
    out_dir: Path
    orders: Mapping[JointId, Sequence[BoltId]]
    marks: Mapping[StepNumber, Mapping[PartId, str]]


def step_jobs(plan: Plan) -> tuple[str, ...]:
    """Names of the jobs of all steps."""
    return tuple(f"step {index}" for index in range(len(plan.steps)))


def all_jobs(plan: Plan, meshes: Mapping[PartId, Mesh]) -> tuple[str, ...]:
    """Names of all jobs of a book; parts without a mesh have none."""
    known = {part for part in sorted(meshes) if len(meshes[part].faces)}
    sections = [section.id for section in plan.sections if known & set(section.parts)]
    return (
        "cover",
        "overview",
        *(f"part {part}" for part in sorted(known)),
        *(f"section {section}" for section in sections),
        *step_jobs(plan),
    )


def drawn_pictures(
    order: Order, jobs: Sequence[str], shelf: Shelf, workers: int, say: Callable[[str], None]
) -> dict[str, Made]:
    """The pictures of each job.

    Parameters
    ----------
    order
        What to draw.
    jobs
        Names.
    shelf
        Asked first, and given what was drawn.
    workers
        Processes.
    say
        Told about each step.

    Raises
    ------
    DrawingError
        If something has to be drawn, and this machine cannot.
    """
    order.out_dir.mkdir(parents=True, exist_ok=True)
    with ExitStack() as stack:
        desk = _Desk(order=order, stack=stack)
        keys = Keys(order.plan, order.meshes, order.orders, order.marks)
        desk.seen = list(_seen(desk, keys, shelf))
        wanted = {job: _key(keys, desk, job) for job in jobs}
        found = {job: shelf.files(key, order.out_dir) for job, key in wanted.items()}
        missing = [job for job in jobs if found[job] is None]
        if len(missing) < len(jobs):
            say(f"drawing: {len(jobs) - len(missing)} of {len(jobs)} jobs need not be drawn again")
        made = {job: tuple(map(picture_of, records)) for job, records in found.items() if records is not None}
        for job, pictures in _drawn(desk, missing, workers):
            made[job] = pictures
            files = [order.out_dir / picture.file for picture in pictures]
            shelf.keep_files(wanted[job], [picture_record(picture) for picture in pictures], files)
            if job.startswith("step "):
                count = len(pictures)
                say(f"drawing: step {_step(order, job).number}, {count} {'picture' if count == 1 else 'pictures'}")
    return {job: made[job] for job in jobs}


@dataclass(slots=True, kw_only=True)
class _Desk:
    """What a drawing process holds: its studio, opened when something has to be drawn, and the views."""

    order: Order
    stack: ExitStack
    light: Mapping[PartId, Mesh] | None = None
    seen: list[Seen] = field(default_factory=list)
    opened: list[Studio] = field(default_factory=list)

    def studio(self) -> Studio:
        """The studio of this process."""
        if not self.opened:
            order = self.order
            studio = Studio(order.plan, order.meshes, order.out_dir, self.light_copies())
            self.opened.append(self.stack.enter_context(studio))
        return self.opened[0]

    def light_copies(self) -> Mapping[PartId, Mesh]:
        """Copies to draw, made once."""
        if self.light is None:
            self.light = light_copies(self.order.meshes)
        return self.light


def _seen(desk: _Desk, keys: Keys, shelf: Shelf) -> Iterator[Seen]:
    """View and key figure of every step, one after the other: each view leans on the one before on its bench."""
    last: dict[str, tuple[Vector, Vector]] = {}
    for step in desk.order.plan.steps:
        choice = _choice(desk, step, last.get(step.bench), keys, shelf)
        last[step.bench] = (choice.eye, choice.up)
        yield Seen(choice=choice, key=_key_figure(desk, step, choice, keys, shelf))


def _choice(desk: _Desk, step: Step, before: tuple[Vector, Vector] | None, keys: Keys, shelf: Shelf) -> Choice:
    key = keys.choice(step, before)
    known = shelf.value(key)
    if known is not None:
        return choice_of(known)
    studio = desk.studio()
    choice = parted(studio, step, choose(staged(studio, step).subject(), studio.rasteriser, before))
    shelf.keep_value(key, choice_record(choice))
    return choice


def _key_figure(desk: _Desk, step: Step, choice: Choice, keys: Keys, shelf: Shelf) -> Key | None:
    if not has_key(step):
        return None
    key = keys.key_figure(step, choice)
    known = shelf.files(key, desk.order.out_dir)
    if known is not None:
        return key_of(known)
    figure = key_figure(desk.studio(), step, choice.eye)
    if figure is not None:
        shelf.keep_files(key, asdict(figure), [desk.order.out_dir / figure.file])
    return figure


def _step_index(job: str) -> int:
    return int(job.split(" ", 1)[1])


def _key(keys: Keys, desk: _Desk, job: str) -> str:
    kind, _, name = job.partition(" ")
    plan = desk.order.plan
    if kind == "step":
        index = _step_index(job)
        return keys.step(plan.steps[index], desk.seen[index])
    if kind == "part":
        return keys.thumbnail(PartId(name))
    if kind == "section":
        return keys.section(next(section for section in plan.sections if section.id == name))
    return keys.whole(kind)


def _drawn(desk: _Desk, jobs: Sequence[str], workers: int) -> Iterator[tuple[str, Made]]:
    """Each job with its pictures, in the order given."""
    steps = sum(1 for job in jobs if job.startswith("step "))
    if workers < 2 or steps <= FEW_STEPS:
        yield from ((job, _draw(desk, job)) for job in jobs)
        return
    # Graphics contexts do not survive a fork.
    context = multiprocessing.get_context("spawn")
    order = desk.order
    given = (
        order.plan, dict(order.meshes), desk.light_copies(), order.out_dir, desk.seen, order.orders, order.marks,
    )  # fmt: skip
    with ProcessPoolExecutor(workers, mp_context=context, initializer=_open_desk, initargs=given) as pool:
        yield from zip(jobs, pool.map(_draw_at_desk, jobs), strict=True)


def _draw(desk: _Desk, job: str) -> Made:
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
    step, seen = _step(desk.order, job), desk.seen[_step_index(job)]
    stage = staged(studio, step, seen.choice.explode_mm)
    main = step_picture(studio, stage, seen.choice, seen.key, desk.order.marks.get(step.number, {}))
    return (main, *step_details(studio, step, desk.order.orders, seen.choice.eye))


def _step(order: Order, job: str) -> Step:
    return order.plan.steps[_step_index(job)]


_DESKS: list[_Desk] = []
"""The one desk of a worker process, set up when the process starts."""


def _open_desk(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    light: Mapping[PartId, Mesh],
    out_dir: Path,
    seen: list[Seen],
    orders: Mapping[JointId, Sequence[BoltId]],
    marks: Mapping[StepNumber, Mapping[PartId, str]],
) -> None:
    order = Order(plan=plan, meshes=meshes, out_dir=out_dir, orders=orders, marks=marks)
    _DESKS.append(_Desk(order=order, stack=ExitStack(), light=light, seen=seen))


def _draw_at_desk(job: str) -> Made:
    return _draw(_DESKS[0], job)
