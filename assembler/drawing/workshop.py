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
from dataclasses import asdict, dataclass
from typing import Any

from assembler.drawing.copies import Copies
from assembler.drawing.desk import Desk, Made, Order, chosen_view, drawn, kept_pictures
from assembler.drawing.keyfigure import Key, has_key, key_figure
from assembler.drawing.reuse import Seen, key_of, picture_of, picture_record
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.plan import Plan
from assembler.figure.shelf import Shelf

FEW_STEPS = 3.0
"""So few steps are drawn sooner than a second process is ready."""
KEY_WORK = 0.1
"""A key figure takes so much of the time of a step."""


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
        desk = Desk(order=order, stack=stack, shelf=shelf)
        crew = _Crew(desk=desk, workers=workers)
        views = dict(zip(step_jobs(order.plan), _seen(desk, crew), strict=True))
        wanted = {job: _key(desk, job, views.get(job)) for job in jobs}
        made = {job: pictures for job in jobs if (pictures := _known(desk, job, wanted[job], views.get(job)))}
        missing = [job for job in jobs if job not in made]
        if len(missing) < len(jobs):
            say(f"drawing: {len(jobs) - len(missing)} of {len(jobs)} jobs need not be drawn again")
        steps = sum(1 for job in missing if job in views)
        tasks = [_Task(job=job, seen=views.get(job)) for job in missing]
        for job, pictures in zip(missing, crew.done(tasks, float(steps)), strict=True):
            made[job] = pictures
            _keep(desk, wanted[job], pictures)
            if job in views:
                count = len(pictures)
                say(f"drawing: step {order.step(job).number}, {count} {'picture' if count == 1 else 'pictures'}")
    return {job: made[job] for job in jobs}


def _seen(desk: Desk, crew: _Crew) -> list[Seen]:
    """View and key figure of every step; views come one after the other, each leans on the one before on its bench."""
    steps = desk.order.plan.steps
    last: dict[str, tuple[Vector, Vector]] = {}
    choices = []
    for step in steps:
        choices.append(chosen_view(desk, step, last.get(step.bench)))
        last[step.bench] = (choices[-1].eye, choices[-1].up)
    figures: dict[int, Key | None] = {}
    missing = []
    for index, (step, choice) in enumerate(zip(steps, choices, strict=True)):
        known = desk.shelf.files(desk.keys.key_figure(step, choice), desk.order.out_dir) if has_key(step) else None
        if known is not None:
            figures[index] = key_of(known)
        elif has_key(step):
            missing.append(index)
    tasks = [_Task(job=f"key {index}", seen=Seen(choice=choices[index], key=None)) for index in missing]
    for index, figure in zip(missing, crew.done(tasks, KEY_WORK * len(tasks)), strict=True):
        figures[index] = figure
        if figure is not None:
            key = desk.keys.key_figure(steps[index], choices[index])
            desk.shelf.keep_files(key, asdict(figure), [desk.order.out_dir / figure.file])
    return [Seen(choice=choice, key=figures.get(index)) for index, choice in enumerate(choices)]


def _known(desk: Desk, job: str, key: str, seen: Seen | None) -> Made:
    """Pictures that need not be drawn; none where they have to be."""
    records = desk.shelf.files(key, desk.order.out_dir)
    if records is not None or seen is None:
        return tuple(map(picture_of, records or ()))
    pictures = tuple(map(picture_of, kept_pictures(desk, job, seen) or ()))
    if pictures:
        _keep(desk, key, pictures)
    return pictures


def _keep(desk: Desk, key: str, pictures: Made) -> None:
    files = [desk.order.out_dir / picture.file for picture in pictures]
    desk.shelf.keep_files(key, [picture_record(picture) for picture in pictures], files)


def _key(desk: Desk, job: str, seen: Seen | None) -> str:
    kind, _, name = job.partition(" ")
    plan, keys = desk.order.plan, desk.keys
    if seen is not None:
        return keys.step(desk.order.step(job), seen)
    if kind == "part":
        return keys.thumbnail(PartId(name))
    if kind == "section":
        return keys.section(next(section for section in plan.sections if section.id == name))
    return keys.whole(kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """One job with how its step is shown, or the key figure of a step ('key 0')."""

    job: str
    seen: Seen | None = None


@dataclass(slots=True, kw_only=True)
class _Crew:
    """Processes that draw, started when there is enough to do."""

    desk: Desk
    workers: int
    pool: ProcessPoolExecutor | None = None

    def done(self, tasks: Sequence[_Task], steps: float) -> Iterator[Any]:
        """What each task gives, in the order given; `steps` says how much work it is."""
        if self.workers < 2 or (self.pool is None and steps <= FEW_STEPS):
            return (_work(self.desk, task) for task in tasks)
        if self.pool is None:
            desk = self.desk
            # Graphics contexts do not survive a fork.
            context = multiprocessing.get_context("spawn")
            given = (desk.order, desk.light_copies(), desk.shelf)
            pool = ProcessPoolExecutor(self.workers, mp_context=context, initializer=_open_desk, initargs=given)
            self.pool = desk.stack.enter_context(pool)
        return self.pool.map(_work_at_desk, tasks)


def _work(desk: Desk, task: _Task) -> Any:
    kind, _, name = task.job.partition(" ")
    if kind == "key" and task.seen is not None:
        return key_figure(desk.studio(), desk.order.plan.steps[int(name)], task.seen.choice.eye)
    return drawn(desk, task.job, task.seen)


_DESKS: list[Desk] = []
"""The one desk of a worker process, set up when the process starts."""


def _open_desk(order: Order, copies: Copies, shelf: Shelf) -> None:
    _DESKS.append(Desk(order=order, stack=ExitStack(), shelf=shelf, copies=copies))


def _work_at_desk(task: _Task) -> Any:
    return _work(_DESKS[0], task)
