"""Draws a list of pictures with several processes, those first taken from the shelf that are there.

In: what to draw (`Order`) and names of jobs. Out: the pictures of each job. A job is 'cover', 'overview', 'part P01',
'section S1' or 'step 0' (main picture and details of the first step). Before the pictures of steps come their views and
key figures, one after the other: what is in a picture is only known once they are.
"""

from __future__ import annotations

import pickle
import tempfile
import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from assembler.drawing.assistants import Assistants
from assembler.drawing.desk import Desk, Made, Order, drawn, kept_pictures, key_of_step
from assembler.drawing.reuse import Seen, picture_of, picture_record
from assembler.drawing.viewchoice import chosen_view
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.plan import Plan
from assembler.figure.shelf import Shelf

FEW = 2
"""So few jobs are drawn sooner than a second process is ready."""


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
    order: Order, jobs: Sequence[str], shelf: Shelf, assistants: Assistants, say: Callable[[str], None]
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
    assistants
        Other processes.
    say
        Told about each step.

    Raises
    ------
    DrawingError
        If something has to be drawn, and this machine cannot.
    """
    order.out_dir.mkdir(parents=True, exist_ok=True)
    made: dict[str, Made] = {}
    with ExitStack() as stack:
        desk = Desk(order=order, stack=stack, shelf=shelf)
        crew = _Crew(desk=desk, assistants=assistants)
        # Where drawing ends with an error, nobody begins with another picture.
        stack.callback(crew.waiting.clear)
        steps = step_jobs(order.plan)
        # Others draw what needs no view, then steps whose view is found, while this process looks for the next views.
        wanted = [_Task(job=job, key=_key(desk, job, None)) for job in jobs if job not in steps]
        crew.take(_not_there(desk, wanted, made))
        for job, seen in zip(steps, _seen(desk), strict=True):
            if job in jobs:
                crew.take(_not_there(desk, [_Task(job=job, key=_key(desk, job, seen), seen=seen)], made))
        if made:
            say(f"drawing: {len(made)} of {len(jobs)} jobs need not be drawn again")
        for task, pictures in crew.done():
            made[task.job] = pictures
            _keep(desk, task.key, pictures)
            if task.seen:
                count = len(pictures)
                say(f"drawing: step {order.step(task.job).number}, {count} {'picture' if count == 1 else 'pictures'}")
    return {job: made[job] for job in jobs}


def _not_there(desk: Desk, wanted: Sequence[_Task], made: dict[str, Made]) -> list[_Task]:
    """Jobs that have to be drawn; pictures of all others go to `made`."""
    missing = []
    for task in wanted:
        pictures = _known(desk, task.job, task.key, task.seen)
        if pictures:
            made[task.job] = pictures
        else:
            missing.append(task)
    return missing


def _seen(desk: Desk) -> Iterator[Seen]:
    """View and key figure of every step; views come one after the other, each leans on the one before on its bench."""
    last: dict[str, tuple[Vector, Vector]] = {}
    for step in desk.order.plan.steps:
        choice = chosen_view(desk, step, last.get(step.bench))
        last[step.bench] = (choice.eye, choice.up)
        yield Seen(choice=choice, key=key_of_step(desk, step, choice))


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
    """One job, the key of its pictures, and how its step is shown."""

    job: str
    key: str
    seen: Seen | None = None


@dataclass(slots=True, kw_only=True)
class _Crew:
    """Processes that draw: this one, and its assistants when there is enough to do.

    Assistants take one task after the other from the front of those that wait; what an executor has taken over in
    advance nobody else could draw.
    """

    desk: Desk
    assistants: Assistants
    waiting: deque[_Task] = field(default_factory=deque)
    given: list[tuple[_Task, Future[Made]]] = field(default_factory=list)
    file: Path | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)

    def take(self, tasks: Sequence[_Task]) -> None:
        """Begin with more tasks."""
        self.waiting += tasks
        if self.assistants.count < 1 or (self.file is None and len(self.waiting) <= FEW):
            return
        if self.file is None:
            desk = self.desk
            # Handed over as a file: what goes through the pipe of a new process is waited for until that has started.
            self.file = Path(desk.stack.enter_context(tempfile.TemporaryDirectory())) / "desk"
            desks = (desk.order, desk.light_copies(), desk.shelf)
            self.file.write_bytes(pickle.dumps(desks, pickle.HIGHEST_PROTOCOL))
        idle = self.assistants.count - sum(not future.done() for _, future in self.given)
        for _ in range(idle):
            self._give_one(self.file)

    def _give_one(self, file: Path) -> None:
        """Give the first task that waits to an assistant, who asks for another one after it."""
        # Who finds nothing waiting has to find it among what is given.
        with self.lock:
            if not self.waiting:
                return
            task = self.waiting.popleft()
            future = self.assistants.give(_drawn_elsewhere, file, task)
            self.given.append((task, future))
        future.add_done_callback(lambda done: None if done.cancelled() or done.exception() else self._give_one(file))

    def _last(self) -> _Task | None:
        """The last task that waits; None if none does."""
        with self.lock:
            return self.waiting.pop() if self.waiting else None

    def done(self) -> Iterator[tuple[_Task, Made]]:
        """Each task with its pictures.

        This process has its studio open already: it draws from the end until it meets the others.
        """
        while (task := self._last()) is not None:
            yield task, drawn(self.desk, task.job, task.seen)
        for task, future in self.given:
            yield task, future.result()


_DESKS: dict[Path, Desk] = {}
"""The one desk of an assistant, by the file that says what is on it."""


def _drawn_elsewhere(given: Path, task: _Task) -> Made:
    """The pictures of a task, drawn by an assistant."""
    if given not in _DESKS:
        order, copies, shelf = pickle.loads(given.read_bytes())
        _DESKS.clear()
        _DESKS[given] = Desk(order=order, stack=ExitStack(), shelf=shelf, copies=copies)
    return drawn(_DESKS[given], task.job, task.seen)
