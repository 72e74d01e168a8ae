"""Draws a list of pictures with several processes, those first taken from the shelf that are there.

In: what to draw (`Order`) and names of jobs (`tasks`). Out: the pictures of each job.
"""

from __future__ import annotations

import pickle
import tempfile
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from assembler.assistants import Assistants
from assembler.drawing.desk import Desk, Made, Order
from assembler.drawing.jobs import drawn
from assembler.drawing.tasks import Task, keep, known, step_tasks, whole_tasks
from assembler.figure.shelf import Shelf

FEW = 2
"""So few jobs are drawn sooner than a second process is ready that has yet to be called."""


def drawn_pictures(
    order: Order,
    jobs: Sequence[str],
    shelf: Shelf,
    assistants: Assistants,
    say: Callable[[str], None],
    meanwhile: Callable[[], object] = lambda: None,
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
    meanwhile
        What this process is to do while it waits for the last pictures of the others.

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
        # Others draw what needs no view, then steps whose view is found, while this process looks for the next views.
        crew.take(_not_there(desk, [task for task in whole_tasks(desk) if task.job in jobs], made))
        for task in step_tasks(desk):
            if task.job in jobs:
                crew.take(_not_there(desk, [task], made))
        if made:
            say(f"drawing: {len(made)} of {len(jobs)} jobs need not be drawn again")
        for task, pictures in crew.done(meanwhile):
            made[task.job] = pictures
            keep(desk, task, pictures)
            if task.seen:
                count = len(pictures)
                say(f"drawing: step {order.step(task.job).number}, {count} {'picture' if count == 1 else 'pictures'}")
    return {job: made[job] for job in jobs}


def _not_there(desk: Desk, wanted: Sequence[Task], made: dict[str, Made]) -> list[Task]:
    """Jobs that have to be drawn; pictures of all others go to `made`."""
    missing = []
    for task in wanted:
        pictures = known(desk, task)
        if pictures:
            made[task.job] = pictures
        else:
            missing.append(task)
    return missing


@dataclass(slots=True, kw_only=True)
class _Crew:
    """Processes that draw: this one, and its assistants when there is enough to do.

    Assistants take one task after the other from the front of those that wait; what an executor has taken over in
    advance nobody else could draw.
    """

    desk: Desk
    assistants: Assistants
    waiting: deque[Task] = field(default_factory=deque)
    given: list[tuple[Task, Future[Made]]] = field(default_factory=list)
    file: Path | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)

    def take(self, tasks: Sequence[Task]) -> None:
        """Begin with more tasks."""
        self.waiting += tasks
        if self.assistants.count < 1 or not self.waiting:
            return
        if not self.assistants.were_called and len(self.waiting) <= FEW:
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

    def _last(self) -> Task | None:
        """The last task that waits; None if none does."""
        with self.lock:
            return self.waiting.pop() if self.waiting else None

    def done(self, meanwhile: Callable[[], object]) -> Iterator[tuple[Task, Made]]:
        """Each task with its pictures.

        This process has its studio open already: it draws from the end until it meets the others.
        """
        while (task := self._last()) is not None:
            yield task, drawn(self.desk, task.job, task.seen)
        meanwhile()
        for task, future in self.given:
            yield task, future.result()


_DESKS: dict[Path, Desk] = {}
"""The one desk of an assistant, by the file that says what is on it."""


def _drawn_elsewhere(given: Path, task: Task) -> Made:
    """The pictures of a task, drawn by an assistant."""
    if given not in _DESKS:
        order, copies, shelf = pickle.loads(given.read_bytes())
        _DESKS.clear()
        _DESKS[given] = Desk(order=order, stack=ExitStack(), shelf=shelf, copies=copies)
    return drawn(_DESKS[given], task.job, task.seen)
