"""From a plan to its pictures: whatever draws. It is loaded late, by those commands that get there.

A plan goes in; its pictures, and what differs from the book before, come out.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from assembler.assistants import Assistants
from assembler.drawing.gallery import Drawn, draw_book
from assembler.earlier import Since, since_last
from assembler.engineering.patterns import tightening_order
from assembler.likely import keep_drawn
from assembler.planned import Planned
from assembler.reuse import CachedShelf

PAPER = "assembler.paper"
"""Module that every process needs once everything is drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Illustrated:
    """A plan with its pictures.

    Parameters
    ----------
    drawn
        Pictures, and the plan that knows of them; it continues the book before.
    since
        What differs from that, as far as plans tell.
    """

    drawn: Drawn
    since: Since


def illustrated(
    planned: Planned, folder: Path, assistants: Assistants, *, progress: Callable[[str], None]
) -> Illustrated:
    """Draw all pictures of a book into a folder.

    Parameters
    ----------
    planned
        The project and its plan.
    folder
        Exists; gets the files.
    assistants
        Other processes that draw too.
    progress
        Takes one line at a time.

    Raises
    ------
    DrawingError
        If this machine cannot draw.
    InputError
        If an issued book cannot be used.
    """
    project = planned.project
    shelf = CachedShelf(project.folder)
    plan, since = since_last(planned.plan, project.folder)
    drawn = draw_book(
        plan,
        project.meshes,
        folder,
        tightening={joint.id: tightening_order(joint) for joint in project.joints},
        marks=since.part_words,
        issued=since.views,
        printed=since.folder,
        shelf=shelf,
        assistants=assistants,
        meanwhile=lambda: importlib.import_module(PAPER),
        progress=progress,
    )
    assistants.load(PAPER)
    keep_drawn(drawn.plan, project.meshes, shelf)
    return Illustrated(drawn=drawn, since=since)
