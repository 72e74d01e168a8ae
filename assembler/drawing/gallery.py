"""Every picture of a book: the door that the rest of the program knocks at.

In: a plan and its meshes. Out: `Picture`s, their PNG files written to a folder. The same input gives the same bytes,
whatever the number of workers.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from assembler.drawing.details import step_details
from assembler.drawing.overview import cover_picture, exploded_overview, section_pictures, thumbnails
from assembler.drawing.parting import parted
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
        choice = parted(studio, step, choose(stage.subject(), studio.rasteriser, before))
        return step_picture(studio, staged(studio, step, choice.explode_mm), choice)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """All pictures of a book, and the plan that knows of them.

    Parameters
    ----------
    plan
        The plan with `view` and `image` of every step filled in.
    cover, overview
        The finished figure; all parts apart. None for a plan without meshes.
    steps
        By step: the main picture, then its details.
    thumbnails, sections
        By part and by section.
    """

    plan: Plan
    cover: Picture | None
    overview: Picture | None
    steps: dict[StepNumber, tuple[Picture, ...]]
    thumbnails: dict[PartId, Picture]
    sections: dict[SectionId, Picture]


def draw_book(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    out_dir: Path,
    *,
    tightening: Tightening | None = None,
    workers: int = 2,
    progress: Callable[[str], None] | None = None,
) -> Drawn:
    """Every picture of a book.

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
    if not any(len(mesh.faces) for mesh in meshes.values()):
        return Drawn(plan=plan, cover=None, overview=None, steps={}, thumbnails={}, sections={})
    steps = tuple(str(index) for index in range(len(plan.steps)))
    wholes = ("cover", "overview", "thumbnails", "sections")
    made = _drawn_by_workers(plan, meshes, out_dir, dict(tightening or {}), (*wholes, *steps), workers, progress)
    by_step = {step.number: _listed(made[str(index)]) for index, step in enumerate(plan.steps)}
    pictured = tuple(
        replace(step, view=by_step[step.number][0].view, image=by_step[step.number][0].file) for step in plan.steps
    )
    return Drawn(
        plan=replace(plan, steps=pictured),
        cover=_listed(made["cover"])[0],
        overview=_listed(made["overview"])[0],
        steps=by_step,
        thumbnails={PartId(name): picture for name, picture in _named(made["thumbnails"]).items()},
        sections={SectionId(name): picture for name, picture in _named(made["sections"]).items()},
    )


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

    Parameters and exceptions are those of `draw_book`.
    """
    jobs = tuple(str(index) for index in range(len(plan.steps)))
    made = _drawn_by_workers(plan, meshes, out_dir, dict(tightening or {}), jobs, workers, progress)
    return {step.number: _listed(made[str(index)]) for index, step in enumerate(plan.steps)}


Made = tuple[Picture, ...] | dict[str, Picture]


def _listed(made: Made) -> tuple[Picture, ...]:
    return tuple(made.values()) if isinstance(made, dict) else made


def _named(made: Made) -> dict[str, Picture]:
    return made if isinstance(made, dict) else {}


def _drawn_by_workers(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    out_dir: Path,
    orders: Tightening,
    jobs: Sequence[str],
    workers: int,
    progress: Callable[[str], None] | None,
) -> dict[str, Made]:
    """Each job's pictures; a job is 'cover', 'overview', 'thumbnails', 'sections' or the index of a step."""
    light = light_copies(meshes)
    say = progress or _silent
    with Studio(plan, meshes, out_dir, light) as studio:
        desk = _Desk(studio=studio, choices=tuple(_choices(studio)), orders=orders)
        if workers < 2 or len(jobs) < 2:
            return {job: _told(say, plan, job, _draw(desk, job)) for job in jobs}
    # Graphics contexts do not survive a fork.
    context = multiprocessing.get_context("spawn")
    given = (plan, dict(meshes), light, Path(out_dir), desk.choices, orders)
    with ProcessPoolExecutor(workers, mp_context=context, initializer=_open_desk, initargs=given) as pool:
        pictures = pool.map(_draw_at_desk, jobs)
        return {job: _told(say, plan, job, made) for job, made in zip(jobs, pictures, strict=True)}


def _silent(_: str) -> None:
    pass


def _told(say: Callable[[str], None], plan: Plan, job: str, made: Made) -> Made:
    what = f"step {plan.steps[int(job)].number}" if job.isdigit() else job
    say(f"drawing: {what}, {len(made)} {'picture' if len(made) == 1 else 'pictures'}")
    return made


def _choices(studio: Studio) -> list[Choice]:
    """The view of every step, one after the other, since each leans on the one before on its bench."""
    last: dict[str, Choice] = {}
    choices = []
    for step in studio.plan.steps:
        before = last.get(step.bench)
        stage = staged(studio, step)
        choice = choose(stage.subject(), studio.rasteriser, (before.eye, before.up) if before else None)
        choice = parted(studio, step, choice)
        last[step.bench] = choice
        choices.append(choice)
    return choices


@dataclass(frozen=True, slots=True, kw_only=True)
class _Desk:
    """What a drawing process holds: its studio, the views, the orders of tightening."""

    studio: Studio
    choices: tuple[Choice, ...]
    orders: Tightening


def _draw(desk: _Desk, job: str) -> Made:
    studio = desk.studio
    if job == "cover":
        return (cover_picture(studio),)
    if job == "overview":
        return (exploded_overview(studio),)
    if job == "thumbnails":
        return {str(part): picture for part, picture in thumbnails(studio).items()}
    if job == "sections":
        return {str(section): picture for section, picture in section_pictures(studio).items()}
    step, choice = studio.plan.steps[int(job)], desk.choices[int(job)]
    stage = staged(studio, step, choice.explode_mm)
    return (step_picture(studio, stage, choice), *step_details(studio, step, desk.orders, choice.eye))


_DESKS: list[_Desk] = []
"""The one desk of a worker process, set up when the process starts."""


def _open_desk(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    light: Mapping[PartId, Mesh],
    out_dir: Path,
    choices: tuple[Choice, ...],
    orders: Tightening,
) -> None:
    _DESKS.append(_Desk(studio=Studio(plan, meshes, out_dir, light), choices=choices, orders=orders))


def _draw_at_desk(job: str) -> Made:
    return _draw(_DESKS[0], job)
