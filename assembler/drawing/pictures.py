"""Every picture of a book: the door that the rest of the program knocks at.

In: a plan and its meshes. Out: `Picture`s, their PNG files written to a folder. The same input gives the same bytes,
whatever the number of workers, and whatever the cache had already.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from functools import cached_property, partial
from itertools import chain
from pathlib import Path

from pydantic import TypeAdapter

from assembler.cache import Cache, code_mark, content_key
from assembler.drawing.bodies import figure_of, half_pixel_mm, write_figure
from assembler.drawing.details import StepDetails, draw_details
from assembler.drawing.drawnstep import DrawnStep, Notes, Solids, drawn_steps
from assembler.drawing.keyfigure import Key, KeyView, key_figure, key_view
from assembler.drawing.overview import FigureView, draw_figure_view, figure_views
from assembler.drawing.parting import parted
from assembler.drawing.stage import staged
from assembler.drawing.stepview import ShownStep, draw_step
from assembler.drawing.studio import Studio, close_studio, studio_of
from assembler.drawing.upright import picture_in_files, set_upright, view_in_files, view_upright
from assembler.drawing.viewpoints import Choice, choose, from_eye, issued_eye, measured, serves
from assembler.figure.ids import BenchId, PartId, SectionId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, View
from assembler.parallel import ordered_map
from assembler.progress import Counted
from assembler.words import said_record

_LIBRARIES = ("numpy", "scipy", "pyrender", "PyOpenGL", "pillow", "fast-simplification", "trimesh", "manifold3d")

Made = tuple[Picture, ...]
Shown = FigureView | ShownStep | StepDetails
"""What pictures are drawn from: the record that drawing is handed, whose hash is their key."""
Before = tuple[Vector, Vector] | None
"""Eye and up of the step before on a bench."""

_PICTURES, _CHOICE, _KEY = TypeAdapter(Made), TypeAdapter(Choice), TypeAdapter(Key)


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
    keys
        By step: the file of the key figure in the corner of its main picture.
    """

    plan: Plan
    cover: Picture | None
    overview: Picture | None
    steps: dict[StepNumber, Made]
    thumbnails: dict[PartId, Picture]
    sections: dict[SectionId, Picture]
    keys: dict[StepNumber, str]


def draw_book(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    out_dir: Path,
    *,
    notes: Notes | None = None,
    kept: Cache | None = None,
    executor: Executor | None = None,
    progress: Callable[[str], None] | None = None,
) -> Drawn:
    """All pictures of a book; what the cache has of an earlier run is not drawn again.

    Parameters
    ----------
    plan, meshes, out_dir
        What to draw, and where to: a folder that all workers see.
    notes
        What the pages say that pictures show too.
    kept
        Where pictures are kept from run to run; None: nowhere.
    executor
        Workers that draw; None: this process draws.
    progress
        Told about each step that is drawn.

    Raises
    ------
    DrawingError
        If something has to be drawn, and this machine cannot.
    """
    notes, tell = notes or Notes(), progress or _silent
    upright, placed = set_upright(plan, meshes)
    notes = replace(notes, issued={number: view_upright(view, plan.up) for number, view in notes.issued.items()})
    if not any(len(mesh.faces) for mesh in placed.values()):
        return Drawn(plan=plan, cover=None, overview=None, steps={}, thumbnails={}, sections={}, keys={})
    made: dict[str, Made] = {}
    missing: list[Shown] = []
    with _Room(upright, placed, Path(out_dir), kept or Cache()) as room:

        def to_draw() -> Iterator[Callable[[], Made]]:
            # What needs no view comes first: workers draw it while this process looks for the first views.
            for shown in chain(figure_views(upright, room.solids), room.shown_steps(notes)):
                known = room.known(shown)
                if known is None:
                    missing.append(shown)
                    yield partial(_DRAW[type(shown)], room.figure, shown)
                else:
                    made[_name(shown)] = known

        # Results first: what they are of is listed by then.
        for pictures, shown in zip(ordered_map(executor, to_draw()), missing, strict=False):
            made[_name(shown)] = pictures
            room.keep(shown, pictures)
            if isinstance(shown, ShownStep):
                text = f"drawing: step {shown.step.number}"
                done = sum(name.startswith("step ") for name in made)
                tell(Counted(text, stage="drawing steps", done=done, total=len(plan.steps)))
    if len(missing) < len(made):
        tell(f"drawing: {len(made) - len(missing)} of {len(made)} pictures, or sets of details, were drawn before")
    return _in_files(_all_drawn(upright, made, room.keys), plan)


def draw_one_step(
    plan: Plan,
    meshes: Mapping[PartId, Mesh],
    out_dir: Path,
    index: int,
    *,
    faces_only: bool = False,
    notes: Notes | None = None,
    kept: Cache | None = None,
) -> Made:
    """The pictures of one step: the main picture, without a key figure, then its details.

    Parameters
    ----------
    plan, meshes, out_dir, notes, kept
        As for `draw_book`. Views that the plan has already are kept while they serve.
    index
        Which step.
    faces_only
        Whether its flanges are all the details.
    """
    upright, placed = set_upright(plan, meshes)
    with _Room(upright, placed, Path(out_dir), kept or Cache()) as room:
        return room.one_step(notes or Notes(), index, faces_only=faces_only)


def draw_section(
    plan: Plan, meshes: Mapping[PartId, Mesh], out_dir: Path, section: SectionId, kept: Cache | None = None
) -> Made:
    """The picture of one section of a plan."""
    upright, placed = set_upright(plan, meshes)
    with _Room(upright, placed, Path(out_dir), kept or Cache()) as room:
        views = [view for view in figure_views(upright, room.solids) if view.name == f"section {section}"]
        return tuple(chain.from_iterable(room.made(view) for view in views))


def draw_part_thumbnails(plan: Plan, meshes: Mapping[PartId, Mesh], out_dir: Path) -> dict[PartId, Picture]:
    """A small picture of each part, `part-<id>.png`."""
    upright, placed = set_upright(plan, meshes)
    with _Room(upright, placed, Path(out_dir), Cache()) as room:
        views = [view for view in figure_views(upright, room.solids) if view.name.startswith("part ")]
        return {view.parts[0]: draw_figure_view(room.figure, view)[0] for view in views}


_DRAW: dict[type, Callable[..., Made]] = {
    FigureView: draw_figure_view,
    ShownStep: draw_step,
    StepDetails: draw_details,
}


class _Room:
    """Where a book is drawn: its bodies, in a file once something has to be drawn, and what was drawn before.

    Parameters
    ----------
    plan, meshes
        An upright figure.
    out_dir
        Where pictures are written.
    kept
        What was drawn before.
    """

    def __init__(self, plan: Plan, meshes: Mapping[PartId, Mesh], out_dir: Path, kept: Cache) -> None:
        self._plan, self._meshes, self._out_dir, self._kept = plan, meshes, out_dir, kept
        self.solids = Solids(plan, meshes)
        self.keys: dict[StepNumber, str] = {}
        # Copies that are drawn are as fine as half a pixel of the whole figure: its size is in every picture.
        self._common = (code_mark(("drawing", "figure"), _LIBRARIES), half_pixel_mm(meshes))

    def __enter__(self) -> _Room:
        self._out_dir.mkdir(parents=True, exist_ok=True)
        return self

    def __exit__(self, *_: object) -> None:
        close_studio()
        if "figure" in self.__dict__:
            self.figure.unlink()
        self._kept.save()

    @cached_property
    def figure(self) -> Path:
        """The file that workers read the bodies from."""
        handle, name = tempfile.mkstemp(dir=self._out_dir, prefix=".figure-", suffix=".npz")
        os.close(handle)
        write_figure(Path(name), figure_of(self._meshes, self.solids.bought, self._kept))
        return Path(name)

    def known(self, shown: Shown) -> Made | None:
        """Pictures that were drawn before, their files put into the folder; None where there are none."""
        pictures = self._kept.files(self._key(shown), self._out_dir)
        return None if pictures is None else _PICTURES.validate_python(pictures)

    def keep(self, shown: Shown, made: Made) -> None:
        """Keep pictures."""
        files = [self._out_dir / picture.file for picture in made]
        self._kept.keep_files(self._key(shown), [{**asdict(one), "alt": said_record(one.alt)} for one in made], files)
        self._kept.save()

    def shown_steps(self, notes: Notes) -> Iterator[ShownStep | StepDetails]:
        """Each step as it is shown: a view follows from the one before it on the bench."""
        last: dict[BenchId, Before] = {}
        whole = self.solids.of(self.solids.known)
        drawn = drawn_steps(self._plan, self.solids, notes)
        for step, bench in zip(drawn, [step.bench for step in self._plan.steps], strict=True):
            choice = self._view(step, last.get(bench), notes.issued.get(step.number))
            last[bench] = (choice.eye, choice.up)
            corner = key_view(step, choice.eye, whole)
            yield ShownStep(step=step, choice=choice, key=self._key_figure(corner) if corner else None)
            yield StepDetails(step=step.close_up, eye=choice.eye)

    def one_step(self, notes: Notes, index: int, *, faces_only: bool) -> Made:
        """Pictures of one step."""
        step = drawn_steps(self._plan, self.solids, notes)[index]
        views = [one.view for one in self._plan.steps[:index] if one.bench == self._plan.steps[index].bench]
        known = self._plan.steps[index].view
        before = (views[-1].eye, views[-1].up) if views and any(views[-1].eye) else None
        choice = self._view(step, before, known if any(known.eye) else None)
        close_up = replace(step.close_up, stacks=()) if faces_only else step.close_up
        return (
            *self.made(ShownStep(step=step, choice=choice, key=None)),
            *self.made(StepDetails(step=close_up, eye=choice.eye)),
        )

    def made(self, shown: Shown) -> Made:
        """Pictures, drawn where they were not drawn before."""
        pictures = self.known(shown)
        if pictures is None:
            pictures = _DRAW[type(shown)](self.figure, shown)
            self.keep(shown, pictures)
        return pictures

    def _view(self, step: DrawnStep, before: Before, issued: View | None) -> Choice:
        key = self._key(step, before, asdict(issued) if issued else None)
        known = self._kept.value(key)
        if known is not None:
            return _CHOICE.validate_python(known)
        choice = chosen_view(studio_of(self.figure), step, before, issued)
        self._kept.keep(key, asdict(choice))
        return choice

    def _key_figure(self, view: KeyView) -> Key:
        name = self._key(view)
        known = self._kept.files(name, self._out_dir)
        if known is None:
            key = key_figure(studio_of(self.figure), view)
            self._kept.keep_files(name, asdict(key), [self._out_dir / key.file])
        else:
            key = _KEY.validate_python(known)
        self.keys[view.number] = key.file
        return key

    def _key(self, record: Shown | KeyView | DrawnStep, *more: object) -> str:
        return content_key(self._common, type(record).__name__, asdict(record), *more)


def chosen_view(studio: Studio, step: DrawnStep, before: Before, issued: View | None = None) -> Choice:
    """The view of a step, with the distance of its parts: that of the book the crew holds while it serves.

    Parameters
    ----------
    studio, step
        What is drawn.
    before
        Eye and up of the step before on the same bench; None for the first.
    issued
        The view in that book; None: there is none.
    """
    guess = staged(studio, step)
    subject = guess.subject()
    measure = partial(measured, subject, studio.rasteriser)
    eye = issued_eye(issued, step.up, before) if issued else None
    if issued is not None and eye is not None:
        choice = parted(studio, guess, from_eye(eye, measure(eye), subject, before))
        if serves(choice.shown, issued):
            return choice
    return parted(studio, guess, choose(subject, measure, before))


def _name(shown: Shown) -> str:
    if isinstance(shown, FigureView):
        return shown.name
    return f"{'step' if isinstance(shown, ShownStep) else 'details'} {shown.step.number}"


def _all_drawn(plan: Plan, made: Mapping[str, Made], keys: dict[StepNumber, str]) -> Drawn:
    steps = {step.number: (*made[f"step {step.number}"], *made[f"details {step.number}"]) for step in plan.steps}
    pictured = tuple(
        replace(step, view=steps[step.number][0].view, image=steps[step.number][0].file) for step in plan.steps
    )
    return Drawn(
        plan=replace(plan, steps=pictured),
        cover=made["cover"][0],
        overview=made["overview"][0],
        steps=steps,
        thumbnails={part.id: found[0] for part in plan.parts if (found := made.get(f"part {part.id}"))},
        sections={section.id: found[0] for section in plan.sections if (found := made.get(f"section {section.id}"))},
        keys=keys,
    )


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


def _silent(_: str) -> None:
    pass
