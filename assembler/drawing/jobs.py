"""How a process comes by the pictures of one job.

In: a desk, names of jobs. Out: pictures, from the shelf where no camera can tell the difference.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from assembler.drawing.desk import Desk, Made
from assembler.drawing.details import step_details
from assembler.drawing.keyfigure import Key, has_key, key_drawn, key_sight
from assembler.drawing.overview import cover_picture, exploded_overview, section_picture, thumbnail
from assembler.drawing.printedpictures import (
    WHOLES,
    printed_key,
    printed_step,
    printed_whole,
    remember_key,
    remember_step,
    remember_whole,
)
from assembler.drawing.reuse import (
    Seen,
    key_of,
    picture_of,
    picture_record,
)
from assembler.drawing.stepview import main_camera, step_picture, taken
from assembler.drawing.unseen import is_unseen, standing
from assembler.drawing.viewpoints import Choice
from assembler.figure.ids import PartId
from assembler.figure.plan import Step


def kept_pictures(desk: Desk, job: str, seen: Seen) -> Any | None:
    """Pictures of a step whose background changed out of the frame; None where its camera has to look (`drawn`)."""
    step = desk.order.step(job)
    entry = desk.shelf.value(desk.keys.step_near(step, seen))
    if entry is None:
        return None
    stage = desk.stage(step, seen.choice.explode_mm)
    stands = standing(desk.studio(), stage, desk.keys.solids)
    is_kept = is_unseen(entry["stands"], stands, [main_camera(stage, seen.choice)])
    return desk.shelf.files(entry["key"], desk.order.out_dir) if is_kept else None


def key_of_step(desk: Desk, step: Step, choice: Choice) -> Key | None:
    """The key figure of a step, drawn only if its camera sees something that is not on the shelf; None without one."""
    if not has_key(step):
        return None
    shelf, order = desk.shelf, desk.order
    whole = desk.keys.key_figure(step, choice)
    known = shelf.files(whole, order.out_dir)
    if known is not None:
        return key_of(known)
    printed = printed_key(desk, step, choice)
    if printed is not None:
        shelf.keep_files(whole, asdict(printed), [order.out_dir / printed.file])
        return printed
    sight = key_sight(desk.studio(), step, choice.eye)
    seen = desk.keys.key_seen(sight.digest)
    known = shelf.files(seen, order.out_dir)
    key = key_drawn(desk.studio(), sight) if known is None else key_of(known)
    for name in (whole, seen) if known is None else (whole,):
        shelf.keep_files(name, asdict(key), [order.out_dir / key.file])
    remember_key(desk, step, choice)
    return key


def drawn(desk: Desk, job: str, seen: Seen | None) -> Made:
    """The pictures of a job.

    Parameters
    ----------
    desk, job
        What to draw: 'cover', 'overview', 'part P01', 'section S1' or 'step 0'.
    seen
        How the step of the job is shown; None for other jobs.

    Raises
    ------
    ValueError
        If that is not said for a step.
    """
    kind, _, name = job.partition(" ")
    if kind == "part":
        return (thumbnail(desk.studio(), PartId(name)),)
    if kind in WHOLES:
        return printed_whole(desk, kind, name) or _drawn_whole(desk, kind, name)
    if seen is None:
        raise ValueError(f"nobody said how {job} is shown")
    return _drawn_step(desk, desk.order.step(job), seen)


def _drawn_whole(desk: Desk, kind: str, name: str) -> Made:
    studio = desk.studio()
    if kind == "cover":
        made = (cover_picture(studio),)
    elif kind == "overview":
        made = (exploded_overview(studio),)
    else:
        made = (section_picture(studio, desk.section(name)),)
    remember_whole(desk, kind, name)
    return made


def _drawn_step(desk: Desk, step: Step, seen: Seen) -> Made:
    """Main picture and details, each drawn only if the camera sees something that is not on the shelf."""
    studio, marks = desk.studio(), desk.order.marks.get(step.number, {})
    stage = desk.stage(step, seen.choice.explode_mm)
    stands = standing(studio, stage, desk.keys.solids)
    printed = printed_step(desk, stage, stands, seen)
    if printed is not None:
        return printed
    shot = taken(studio, stage, seen.choice)
    main = _shelved(
        desk,
        desk.keys.main(step, seen, shot.digest, stands["turn"]),
        lambda: (step_picture(studio, shot, seen.choice, seen.key, marks),),
    )
    details = _shelved(
        desk,
        desk.keys.details(step, seen),
        lambda: step_details(
            studio,
            step,
            desk.order.orders,
            seen.choice.eye,
            lambda name, parts, draw: _shelved(desk, desk.keys.detail(step, seen, name, parts), draw),
        ),
    )
    remember_step(desk, step, stands, seen)
    return (*main, *details)


def _shelved(desk: Desk, key: str, draw: Callable[[], Made]) -> Made:
    """Pictures from the shelf, or drawn and kept there."""
    known = desk.shelf.files(key, desk.order.out_dir)
    if known is not None:
        return tuple(map(picture_of, known))
    made = draw()
    files = [desk.order.out_dir / picture.file for picture in made]
    desk.shelf.keep_files(key, [picture_record(picture) for picture in made], files)
    return made
