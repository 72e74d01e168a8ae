"""Every picture of a book: the door that the rest of the program knocks at.

In: a plan and its meshes. Out: `Picture`s, their PNG files written to a folder. The same input gives the same bytes,
whatever the number of workers.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from assembler.drawing.details import step_details
from assembler.drawing.overview import cover_picture, exploded_overview, section_pictures, thumbnails
from assembler.drawing.stage import staged
from assembler.drawing.stepview import step_picture
from assembler.drawing.studio import Studio, light_copies
from assembler.drawing.viewpoints import Choice, choose
from assembler.figure.ids import BoltId, JointId, PartId, SectionId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Step, View

Tightening = Mapping[JointId, Sequence[BoltId]]


def draw_cover(plan: Plan, meshes: Mapping[PartId, Mesh], out_dir: Path) -> Picture:
    """The finished figure, `cover.png`."""
    with Studio(plan, meshes, out_dir) as studio:
        return cover_picture(studio)


def draw_exploded_overview(plan: Plan, meshes: Mapping[PartId, Mesh], out_dir: Path) -> Picture:
    """All parts apart with part ids as references, `exploded.png`."""
    with Studio(plan, meshes, out_dir) as studio:
        return exploded_overview(studio)


def draw_section_views(plan: Plan, meshes: Mapping[PartId, Mesh], out_dir: Path) -> dict[SectionId, Picture]:
    """A picture for each section, `section-<id>.png`."""
    with Studio(plan, meshes, out_dir) as studio:
        return section_pictures(studio)


def draw_part_thumbnails(plan: Plan, meshes: Mapping[PartId, Mesh], out_dir: Path) -> dict[PartId, Picture]:
    """A small picture of each part, `part-<id>.png`."""
    with Studio(plan, meshes, out_dir) as studio:
        return thumbnails(studio)


def draw_step(
    plan: Plan, step: Step, meshes: Mapping[PartId, Mesh], out_dir: Path, previous: View | None = None
) -> Picture:
    """Main picture of one step, `step-<number>.png`.

    Parameters
    ----------
    plan, step, meshes, out_dir
        What to draw, and where to.
    previous
        View of the step before on the same bench; it is kept while it serves.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """
    with Studio(plan, meshes, out_dir) as studio:
        stage = staged(studio, step)
        before = (previous.eye, previous.up) if previous is not None else None
        return step_picture(studio, stage, choose(stage.subject(), studio.rasteriser, before))


def draw_step_details(
    plan: Plan,
    step: Step,
    meshes: Mapping[PartId, Mesh],
    out_dir: Path,
    tightening: Tightening | None = None,
) -> tuple[Picture, ...]:
    """Details of one step: each joint's flange square on, and a section through one bolt of each kind.

    Parameters
    ----------
    plan, step, meshes, out_dir
        As in `draw_step`.
    tightening
        Bolts of each joint in the order of tightening; a joint that is missing shows numbers of bolts instead.
    """
    with Studio(plan, meshes, out_dir) as studio:
        return step_details(studio, step, tightening or {})


def draw_steps(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    out_dir: Path,
    *,
    tightening: Tightening | None = None,
    workers: int = 2,
    progress: Callable[[str], None] | None = None,
) -> dict[StepNumber, tuple[Picture, ...]]:
    """All pictures of all steps: for each step the main picture, then its details.

    Parameters
    ----------
    plan, meshes, out_dir, tightening
        As in `draw_step_details`.
    workers
        Processes. The pictures do not depend on it.
    progress
        Told about each finished step.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """
    light = light_copies(meshes)
    orders = dict(tightening or {})
    with Studio(plan, meshes, out_dir, light) as studio:
        choices = _choices(studio)
        if workers < 2 or len(plan.steps) < 2:
            done = [_drawn(studio, index, choices[index], orders, progress) for index in range(len(plan.steps))]
            return {step.number: pictures for step, pictures in zip(plan.steps, done, strict=True)}
    # Graphics contexts do not survive a fork.
    context = multiprocessing.get_context("spawn")
    given = (plan, dict(meshes), light, Path(out_dir), choices, orders)
    result: dict[StepNumber, tuple[Picture, ...]] = {}
    with ProcessPoolExecutor(workers, mp_context=context, initializer=_open_studio, initargs=given) as pool:
        for step, pictures in zip(plan.steps, pool.map(_draw_in_worker, range(len(plan.steps))), strict=True):
            result[step.number] = pictures
            if progress:
                progress(f"step {step.number}: {len(pictures)} pictures")
    return result


def _choices(studio: Studio) -> list[Choice]:
    """The view of every step, one after the other, since each leans on the one before on its bench."""
    last: dict[str, Choice] = {}
    choices = []
    for step in studio.plan.steps:
        before = last.get(step.bench)
        stage = staged(studio, step)
        choice = choose(stage.subject(), studio.rasteriser, (before.eye, before.up) if before else None)
        last[step.bench] = choice
        choices.append(choice)
    return choices


def _drawn(
    studio: Studio, index: int, choice: Choice, orders: Tightening, progress: Callable[[str], None] | None
) -> tuple[Picture, ...]:
    step = studio.plan.steps[index]
    pictures = (step_picture(studio, staged(studio, step), choice), *step_details(studio, step, orders))
    if progress:
        progress(f"step {step.number}: {len(pictures)} pictures")
    return pictures


_WORKER: dict[str, object] = {}
"""What a worker process holds between steps: its studio, the views, the orders."""


def _open_studio(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    light: Mapping[PartId, Mesh],
    out_dir: Path,
    choices: Sequence[Choice],
    orders: Tightening,
) -> None:
    _WORKER.update(studio=Studio(plan, meshes, out_dir, light), choices=choices, orders=orders)


def _draw_in_worker(index: int) -> tuple[Picture, ...]:
    studio, choices, orders = _WORKER["studio"], _WORKER["choices"], _WORKER["orders"]
    assert isinstance(studio, Studio)
    assert isinstance(choices, Sequence)
    assert isinstance(orders, Mapping)
    return _drawn(studio, index, choices[index], orders, None)
