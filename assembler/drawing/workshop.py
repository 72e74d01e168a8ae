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
from dataclasses import dataclass

from assembler.drawing.copies import Copies
from assembler.drawing.desk import Desk, Made, Order, chosen_view, drawn, kept_pictures, key_of_step
from assembler.drawing.reuse import Seen, picture_of, picture_record
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.plan import Plan
from assembler.figure.shelf import Shelf

FEW_STEPS = 3
"""So few steps are drawn sooner than a second process is ready."""


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
        views = dict(zip(step_jobs(order.plan), _seen(desk), strict=True))
        wanted = {job: _key(desk, job, views.get(job)) for job in jobs}
        made = {job: pictures for job in jobs if (pictures := _known(desk, job, wanted[job], views.get(job)))}
        missing = [job for job in jobs if job not in made]
        if len(missing) < len(jobs):
            say(f"drawing: {len(jobs) - len(missing)} of {len(jobs)} jobs need not be drawn again")
        tasks = [_Task(job=job, seen=views.get(job)) for job in missing]
        for job, pictures in _done(desk, tasks, workers):
            made[job] = pictures
            _keep(desk, wanted[job], pictures)
            if job in views:
                count = len(pictures)
                say(f"drawing: step {order.step(job).number}, {count} {'picture' if count == 1 else 'pictures'}")
    return {job: made[job] for job in jobs}


def _seen(desk: Desk) -> list[Seen]:
    """View and key figure of every step; views come one after the other, each leans on the one before on its bench."""
    last: dict[str, tuple[Vector, Vector]] = {}
    seen = []
    for step in desk.order.plan.steps:
        choice = chosen_view(desk, step, last.get(step.bench))
        last[step.bench] = (choice.eye, choice.up)
        seen.append(Seen(choice=choice, key=key_of_step(desk, step, choice)))
    return seen


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
    """One job with how its step is shown."""

    job: str
    seen: Seen | None = None


def _done(desk: Desk, tasks: Sequence[_Task], workers: int) -> Iterator[tuple[str, Made]]:
    """Each job with its pictures, as they are ready."""
    if workers < 2 or sum(1 for task in tasks if task.seen) <= FEW_STEPS:
        yield from ((task.job, drawn(desk, task.job, task.seen)) for task in tasks)
        return
    # Graphics contexts do not survive a fork.
    context = multiprocessing.get_context("spawn")
    given = (desk.order, desk.light_copies(), desk.shelf)
    with ProcessPoolExecutor(workers - 1, mp_context=context, initializer=_open_desk, initargs=given) as pool:
        running = [pool.submit(_draw_at_desk, task) for task in tasks]
        # The others draw from the front. This process has its studio open already: it draws from the end until it
        # meets them.
        while running and running[-1].cancel():
            running.pop()
            task = tasks[len(running)]
            yield task.job, drawn(desk, task.job, task.seen)
        for task, future in zip(tasks, running, strict=False):
            yield task.job, future.result()


_DESKS: list[Desk] = []
"""The one desk of a worker process, set up when the process starts."""


def _open_desk(order: Order, copies: Copies, shelf: Shelf) -> None:
    _DESKS.append(Desk(order=order, stack=ExitStack(), shelf=shelf, copies=copies))


def _draw_at_desk(task: _Task) -> Made:
    return drawn(_DESKS[0], task.job, task.seen)
