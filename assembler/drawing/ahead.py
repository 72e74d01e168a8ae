"""Draws what a book will most likely show, before its plan is known: after a re-cut most steps stay as they were.

In: an order whose plan is a guess. Out: nothing but what lies on the shelf afterwards. Where the guess was wrong,
nobody asks for it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import ExitStack

from assembler.drawing.desk import Desk, Order, drawn
from assembler.drawing.tasks import keep, known, step_tasks, whole_tasks
from assembler.figure.ids import StepNumber
from assembler.figure.plan import View
from assembler.figure.shelf import Shelf


def draw_to_shelf(
    order: Order, passed_over: Mapping[StepNumber, View], shelf: Shelf, is_wanted: Callable[[], bool]
) -> None:
    """Put on the shelf what is not there yet: views and key figures, then pictures.

    Parameters
    ----------
    order
        What will most likely be drawn.
    passed_over
        Steps of it that will not stay as they are, with the views that they had.
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
        missing = []
        for task in step_tasks(desk, passed_over):
            if not is_wanted():
                return
            if shelf.value(task.key) is None and not known(desk, task):
                missing.append(task)
        missing += [task for task in whole_tasks(desk) if shelf.value(task.key) is None]
        for task in missing:
            if not is_wanted():
                return
            keep(desk, task, drawn(desk, task.job, task.seen))
