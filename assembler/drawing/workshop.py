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
from typing import Any

from assembler.drawing.camera import Camera
from assembler.drawing.copies import Copies, light_copies
from assembler.drawing.details import step_details
from assembler.drawing.keyfigure import Key, has_key, key_figure
from assembler.drawing.overview import cover_picture, exploded_overview, section_picture, thumbnail
from assembler.drawing.parting import parted
from assembler.drawing.reuse import Keys, Seen, choice_of, choice_record, key_of, picture_of, picture_record
from assembler.drawing.stage import Stage, staged
from assembler.drawing.stepview import main_camera, step_picture, taken
from assembler.drawing.studio import Studio
from assembler.drawing.unseen import is_unseen, standing
from assembler.drawing.viewpoints import Choice, choose, search_camera, search_cameras
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Step
from assembler.figure.shelf import Shelf

Made = tuple[Picture, ...]

FEW_STEPS = 3.0
"""So few steps are drawn sooner than a second process is ready."""
KEY_WORK = 0.1
"""A key figure takes so much of the time of a step."""


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
        desk = _Desk(order=order, stack=stack, shelf=shelf)
        crew = _Crew(desk=desk, workers=workers)
        desk.seen = _seen(desk, crew)
        wanted = {job: _key(desk, job) for job in jobs}
        found = {job: shelf.files(key, order.out_dir) or _alike(desk, job) for job, key in wanted.items()}
        missing = [job for job in jobs if found[job] is None]
        if len(missing) < len(jobs):
            say(f"drawing: {len(jobs) - len(missing)} of {len(jobs)} jobs need not be drawn again")
        made = {job: tuple(map(picture_of, records)) for job, records in found.items() if records is not None}
        steps = sum(1 for job in missing if job.startswith("step "))
        tasks = [_Task(job=job, seen=desk.seen_of(job)) for job in missing]
        for job, pictures in zip(missing, crew.done(tasks, float(steps)), strict=True):
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
    shelf: Shelf
    copies: Copies | None = None
    known_keys: list[Keys] = field(default_factory=list)
    seen: list[Seen] = field(default_factory=list)
    opened: list[Studio] = field(default_factory=list)

    def seen_of(self, job: str) -> Seen | None:
        """How the step of a job is shown; None for other jobs."""
        return self.seen[_step_index(job)] if job.startswith("step ") else None

    def studio(self) -> Studio:
        """The studio of this process."""
        if not self.opened:
            order = self.order
            studio = Studio(order.plan, order.meshes, order.out_dir, self.light_copies())
            self.opened.append(self.stack.enter_context(studio))
        return self.opened[0]

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


def _seen(desk: _Desk, crew: _Crew) -> list[Seen]:
    """View and key figure of every step; views come one after the other, each leans on the one before on its bench."""
    steps = desk.order.plan.steps
    last: dict[str, tuple[Vector, Vector]] = {}
    choices = []
    for step in steps:
        choices.append(_choice(desk, step, last.get(step.bench)))
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


def _choice(desk: _Desk, step: Step, before: tuple[Vector, Vector] | None) -> Choice:
    key = desk.keys.choice(step, before)
    known = desk.shelf.value(key)
    if known is not None:
        return choice_of(known)
    studio, near = desk.studio(), desk.keys.choice_near(step, before)
    guess = staged(studio, step)
    stands = standing(studio, guess, desk.keys.solids)
    entry = desk.shelf.value(near)
    choice = choice_of(entry["choice"]) if entry else None
    if (
        entry is None
        or choice is None
        or not is_unseen(entry["stands"], stands, _search_cameras(studio, guess, choice, before))
    ):
        choice = parted(studio, step, choose(guess.subject(), studio.rasteriser, before))
        desk.shelf.renew_value(near, {"choice": choice_record(choice), "stands": stands})
    desk.shelf.keep_value(key, choice_record(choice))
    return choice


def _search_cameras(studio: Studio, guess: Stage, choice: Choice, before: tuple[Vector, Vector] | None) -> list[Camera]:
    """All cameras that a choice looked through, the last one once the distance was known."""
    apart = staged(studio, guess.step, choice.explode_mm)
    return [*search_cameras(guess.subject(), before), search_camera(apart.subject(), choice.eye)]


def _alike(desk: _Desk, job: str) -> Any | None:
    """Pictures of a step whose background changed where no camera sees it; None where they have to be drawn."""
    if not job.startswith("step "):
        return None
    step, seen = _step(desk.order, job), desk.seen[_step_index(job)]
    entry = desk.shelf.value(desk.keys.step_near(step, seen))
    if entry is None:
        return None
    studio = desk.studio()
    stage = staged(studio, step, seen.choice.explode_mm)
    stands = standing(studio, stage, desk.keys.solids)
    if is_unseen(entry["stands"], stands, [main_camera(stage, seen.choice)]):
        return desk.shelf.files(entry["key"], desk.order.out_dir)
    sight = taken(studio, stage, seen.choice).digest
    main = desk.shelf.files(desk.keys.main(step, seen, sight, stands["turn"]), desk.order.out_dir)
    details = desk.shelf.files(desk.keys.details(step, seen), desk.order.out_dir)
    return None if main is None or details is None else [*main, *details]


def _step_index(job: str) -> int:
    return int(job.split(" ", 1)[1])


def _key(desk: _Desk, job: str) -> str:
    kind, _, name = job.partition(" ")
    plan, keys = desk.order.plan, desk.keys
    if kind == "step":
        index = _step_index(job)
        return keys.step(plan.steps[index], desk.seen[index])
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

    desk: _Desk
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


def _work(desk: _Desk, task: _Task) -> Any:
    kind, _, name = task.job.partition(" ")
    if kind == "key" and task.seen is not None:
        return key_figure(desk.studio(), desk.order.plan.steps[int(name)], task.seen.choice.eye)
    return _draw(desk, task.job, task.seen)


def _draw(desk: _Desk, job: str, seen: Seen | None) -> Made:
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
    return _draw_step(desk, _step(desk.order, job), seen)


def _draw_step(desk: _Desk, step: Step, seen: Seen) -> Made:
    """Main picture and details, each drawn only if the camera sees something that is not on the shelf."""
    studio, marks = desk.studio(), desk.order.marks.get(step.number, {})
    stage = staged(studio, step, seen.choice.explode_mm)
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
        lambda: step_details(studio, step, desk.order.orders, seen.choice.eye),
    )
    desk.shelf.renew_value(desk.keys.step_near(step, seen), {"stands": stands, "key": desk.keys.step(step, seen)})
    return (*main, *details)


def _shelved(desk: _Desk, key: str, draw: Callable[[], Made]) -> Made:
    """Pictures from the shelf, or drawn and kept there."""
    known = desk.shelf.files(key, desk.order.out_dir)
    if known is not None:
        return tuple(map(picture_of, known))
    made = draw()
    files = [desk.order.out_dir / picture.file for picture in made]
    desk.shelf.keep_files(key, [picture_record(picture) for picture in made], files)
    return made


def _step(order: Order, job: str) -> Step:
    return order.plan.steps[_step_index(job)]


_DESKS: list[_Desk] = []
"""The one desk of a worker process, set up when the process starts."""


def _open_desk(order: Order, copies: Copies, shelf: Shelf) -> None:
    _DESKS.append(_Desk(order=order, stack=ExitStack(), shelf=shelf, copies=copies))


def _work_at_desk(task: _Task) -> Any:
    return _work(_DESKS[0], task)
