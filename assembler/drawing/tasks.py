"""What has to be drawn for a book, piece by piece, and what the shelf has of it.

In: a desk. Out: `Task`s. A job is 'cover', 'overview', 'part P01', 'section S1' or 'step 0' (main picture and details
of the first step). Before the pictures of steps come their views and key figures, one after the other: what is in a
picture is only known once they are.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from assembler.drawing.desk import Desk, Made
from assembler.drawing.jobs import kept_pictures, key_of_step
from assembler.drawing.reuse import Seen, picture_of, picture_record
from assembler.drawing.viewchoice import Before, chosen_view
from assembler.figure.ids import PartId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.plan import Plan, Step, View


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One job, the key of its pictures, and how its step is shown."""

    job: str
    key: str
    seen: Seen | None = None


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


def whole_tasks(desk: Desk) -> list[Task]:
    """All tasks that are no steps."""
    steps, order = set(step_jobs(desk.order.plan)), desk.order
    return [Task(job=job, key=_key(desk, job)) for job in all_jobs(order.plan, order.meshes) if job not in steps]


def step_tasks(desk: Desk) -> Iterator[Task]:
    """The task of every step."""
    last: dict[str, Before] = {}
    plan = desk.order.plan
    for job, step in zip(step_jobs(plan), plan.steps, strict=True):
        task, last[step.bench] = _step_task(desk, job, step, last.get(step.bench))
        yield task


def guessed_tasks(
    desk: Desk, changing: Mapping[StepNumber, View], unknown: Collection[StepNumber]
) -> tuple[Iterator[Task], Iterator[Task]]:
    """The tasks of steps that will most likely stay, and of those of the others that may.

    Parameters
    ----------
    desk
        Its plan is a guess.
    changing
        Steps that will not stay as they are, most likely ones first, with the views that they had: those of the steps
        after them go on from these.
    unknown
        Those of them of which nobody knows what they will show.
    """
    plan = desk.order.plan
    before: dict[StepNumber, Before] = {}

    def staying() -> Iterator[Task]:
        last: dict[str, Before] = {}
        for job, step in zip(step_jobs(plan), plan.steps, strict=True):
            view = changing.get(step.number)
            before[step.number] = last.get(step.bench)
            if view is not None:
                last[step.bench] = (view.eye, view.up)
            else:
                task, last[step.bench] = _step_task(desk, job, step, last.get(step.bench))
                yield task

    def others() -> Iterator[Task]:
        named = {step.number: (job, step) for job, step in zip(step_jobs(plan), plan.steps, strict=True)}
        for number in changing:
            if number not in unknown and number in before:
                yield _step_task(desk, *named[number], before[number])[0]

    return staying(), others()


def _step_task(desk: Desk, job: str, step: Step, before: Before) -> tuple[Task, Before]:
    """The task of a step, and the view that the next one goes on from."""
    choice = chosen_view(desk, step, before)
    seen = Seen(choice=choice, key=key_of_step(desk, step, choice))
    return Task(job=job, key=desk.keys.step(step, seen), seen=seen), (choice.eye, choice.up)


def known(desk: Desk, task: Task) -> Made:
    """Pictures that need not be drawn; none where they have to be."""
    records = desk.shelf.files(task.key, desk.order.out_dir)
    if records is not None or task.seen is None:
        return tuple(map(picture_of, records or ()))
    pictures = tuple(map(picture_of, kept_pictures(desk, task.job, task.seen) or ()))
    if pictures:
        keep(desk, task, pictures)
    return pictures


def keep(desk: Desk, task: Task, pictures: Made) -> None:
    """Put pictures on the shelf."""
    files = [desk.order.out_dir / picture.file for picture in pictures]
    desk.shelf.keep_files(task.key, [picture_record(picture) for picture in pictures], files)


def _key(desk: Desk, job: str) -> str:
    kind, _, name = job.partition(" ")
    if kind == "part":
        return desk.keys.thumbnail(PartId(name))
    if kind == "section":
        return desk.keys.section(next(section for section in desk.order.plan.sections if section.id == name))
    return desk.keys.whole(kind)
