"""Every picture of a book: the door that the rest of the program knocks at.

In: a plan and its meshes. Out: `Picture`s, their PNG files written to a folder. The same input gives the same bytes,
whatever the number of workers, and whatever the shelf had already; only a printed picture that lies there stays where
nobody could tell a new one from it, or is mended where only its background changed.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from assembler.assistants import Assistants
from assembler.drawing.ahead import draw_to_shelf
from assembler.drawing.desk import Order
from assembler.drawing.details import step_details
from assembler.drawing.keyfigure import key_figure
from assembler.drawing.overview import cover_picture, exploded_overview, section_pictures, thumbnails
from assembler.drawing.parting import parted
from assembler.drawing.stage import staged
from assembler.drawing.stepview import step_picture, taken
from assembler.drawing.studio import Studio
from assembler.drawing.tasks import all_jobs, step_jobs
from assembler.drawing.upright import is_upright, picture_in_files, set_upright, view_in_files, view_upright
from assembler.drawing.viewpoints import Gauge, choose
from assembler.drawing.workshop import drawn_pictures
from assembler.figure.ids import BoltId, JointId, PartId, SectionId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Step, View
from assembler.figure.shelf import NoShelf, Shelf

Marks = Mapping[StepNumber, Mapping[PartId, str]]
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
        gauge = Gauge(subject=stage.subject(), rasteriser=studio.rasteriser)
        choice = parted(studio, stage, choose(stage.subject(), gauge, before))
        key = key_figure(studio, step, choice.eye)
        shot = taken(studio, staged(studio, step, choice.explode_mm), choice)
        return step_picture(studio, shot, choice, key)


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
    marks: Marks | None = None,
    issued: Mapping[StepNumber, View] | None = None,
    printed: Path | None = None,
    shelf: Shelf | None = None,
    assistants: Assistants | None = None,
    meanwhile: Callable[[], object] | None = None,
    progress: Callable[[str], None] | None = None,
) -> Drawn:
    """All pictures of a book; what the shelf has of an earlier run is not drawn again.

    Parameters
    ----------
    plan, meshes, out_dir
        What to draw, and where to.
    tightening
        Bolts of each joint in the order of tightening.
    marks
        By step: words behind the references of parts that a re-cut changed.
    issued
        By step: its view in the book that the crew holds, which is kept while it serves.
    printed
        Folder of that book: its pictures stay where nobody could tell new ones from them.
    shelf
        Where pictures are kept from run to run; None: nowhere.
    assistants
        Other processes that draw too, which the caller lets go; None: this process draws alone.
    meanwhile
        What this process is to do, once, while it waits for their last pictures.
    progress
        Told about each finished step.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """
    if not is_upright(plan):
        upright, placed = set_upright(plan, meshes)
        drawn = draw_book(
            upright,
            placed,
            out_dir,
            tightening=tightening,
            marks=marks,
            issued={number: view_upright(view, plan.up) for number, view in (issued or {}).items()},
            printed=printed,
            shelf=shelf,
            assistants=assistants,
            meanwhile=meanwhile,
            progress=progress,
        )
        return _in_files(drawn, plan)
    if not any(len(mesh.faces) for mesh in meshes.values()):
        return Drawn(plan=plan, cover=None, overview=None, steps={}, thumbnails={}, sections={})
    job = Order(
        plan=plan,
        meshes=meshes,
        out_dir=Path(out_dir),
        orders=tightening or {},
        marks=marks or {},
        issued=issued or {},
        printed=printed,
    )
    made = drawn_pictures(
        job,
        all_jobs(plan, meshes),
        shelf or NoShelf(),
        assistants or Assistants(0),
        progress or _silent,
        meanwhile or _nothing,
    )
    by_step = {step.number: made[f"step {index}"] for index, step in enumerate(plan.steps)}
    pictured = tuple(
        replace(step, view=by_step[step.number][0].view, image=by_step[step.number][0].file) for step in plan.steps
    )
    return Drawn(
        plan=replace(plan, steps=pictured),
        cover=made["cover"][0],
        overview=made["overview"][0],
        steps=by_step,
        thumbnails={part: found[0] for part in meshes if (found := made.get(f"part {part}"))},
        sections={section.id: found[0] for section in plan.sections if (found := made.get(f"section {section.id}"))},
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Likely:
    """What a book will most likely show.

    Parameters
    ----------
    plan, meshes
        A plan with steps as they were drawn last.
    changing
        Steps that will not stay as they are, with the views that they had.
    unknown
        Those of them that show a part or a joint which is gone.
    tightening, marks, issued, printed
        As in `draw_book`.
    """

    plan: Plan
    meshes: Mapping[PartId, Mesh]
    changing: Mapping[StepNumber, View]
    tightening: Tightening
    marks: Marks
    issued: Mapping[StepNumber, View]
    printed: Path | None = None
    unknown: Collection[StepNumber] = ()


def draw_ahead(likely: Likely, out_dir: Path, shelf: Shelf, is_wanted: Callable[[], bool]) -> None:
    """Put on the shelf what is likely to be asked for, until it is no longer wanted.

    Parameters
    ----------
    likely
        What to draw.
    out_dir
        Gets files that nobody needs afterwards.
    shelf
        Where pictures are kept.
    is_wanted
        Asked before each piece of work.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """
    if not any(len(mesh.faces) for mesh in likely.meshes.values()):
        return
    if not is_upright(likely.plan):
        up, (plan, meshes) = likely.plan.up, set_upright(likely.plan, likely.meshes)
        issued, changing = (
            {number: view_upright(view, up) for number, view in views.items()}
            for views in (likely.issued, likely.changing)
        )
        likely = replace(likely, plan=plan, meshes=meshes, issued=issued, changing=changing)
    order = Order(
        plan=likely.plan,
        meshes=likely.meshes,
        out_dir=out_dir,
        orders=likely.tightening,
        marks=likely.marks,
        issued=likely.issued,
        printed=likely.printed,
    )
    draw_to_shelf(order, likely.changing, likely.unknown, shelf, is_wanted)


def _in_files(drawn: Drawn, plan: Plan) -> Drawn:
    """Pictures of an upright figure, with views and plan in the frame of the files."""
    steps = tuple(
        replace(step, view=view_in_files(seen.view, plan.up), image=seen.image)
        for step, seen in zip(plan.steps, drawn.plan.steps, strict=True)
    )
    return replace(
        drawn,
        plan=replace(plan, steps=steps),
        steps={
            number: tuple(picture_in_files(picture, plan.up) for picture in pictures)
            for number, pictures in drawn.steps.items()
        },
    )


def draw_steps(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    out_dir: Path,
    *,
    tightening: Tightening | None = None,
    assistants: Assistants | None = None,
    progress: Callable[[str], None] | None = None,
) -> dict[StepNumber, tuple[Picture, ...]]:
    """All pictures of all steps: for each step the main picture, then its details.

    Parameters and exceptions are those of `draw_book`.
    """
    job = Order(plan=plan, meshes=meshes, out_dir=Path(out_dir), orders=tightening or {}, marks={})
    made = drawn_pictures(job, step_jobs(plan), NoShelf(), assistants or Assistants(0), progress or _silent)
    return {step.number: made[f"step {index}"] for index, step in enumerate(plan.steps)}


def _silent(_: str) -> None:
    pass


def _nothing() -> None:
    pass
