"""Draws what a book will most likely show, before its plan is known: after a re-cut most steps stay as they were.

In: an order whose plan is a guess. Out: nothing but what lies on the shelf afterwards. Where the guess was wrong,
nobody asks for it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from contextlib import ExitStack
from itertools import chain

from assembler.drawing.desk import Desk, Order
from assembler.drawing.jobs import drawn
from assembler.drawing.tasks import guessed_tasks, keep, known, whole_tasks
from assembler.figure.ids import StepNumber
from assembler.figure.plan import View
from assembler.figure.shelf import Shelf


def draw_to_shelf(
    order: Order,
    changing: Mapping[StepNumber, View],
    unknown: Collection[StepNumber],
    shelf: Shelf,
    is_wanted: Callable[[], bool],
) -> None:
    """Put on the shelf what is not there yet: views and key figures, then pictures; last what is a mere guess.

    Parameters
    ----------
    order
        What will most likely be drawn.
    changing, unknown
        Steps of it that will not stay as they are, see `guessed_tasks`.
    shelf
        Where everything goes.
    is_wanted
        Asked before each view and each picture; once it says no, nothing more is drawn.

    Raises
    ------
    DrawingError
        If this machine cannot draw.
    """
    order.out_dir.mkdir(parents=True, exist_ok=True)
    with ExitStack() as stack:
        desk = Desk(order=order, stack=stack, shelf=shelf)
        staying, others = guessed_tasks(desk, changing, unknown)
        missing = []
        for task in staying:
            if not is_wanted():
                return
            if shelf.value(task.key) is None and not known(desk, task):
                missing.append(task)
        missing += [task for task in whole_tasks(desk) if shelf.value(task.key) is None]
        for task in chain(missing, others):
            if not is_wanted():
                return
            if shelf.value(task.key) is None:
                keep(desk, task, drawn(desk, task.job, task.seen))
