"""Site joints are closed once in the shop and opened again: steps in, steps with trial fits out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assembler.figure.joints import Place
from assembler.figure.plan import Step, StepKind
from assembler.figure.titles import titled
from assembler.words import say


def with_trial_fits(steps: Sequence[Step]) -> list[Step]:
    """Shop work, then trial fits and their opening in reverse, then site work.

    A trial fit lists no hardware and closes no joint: what counts is the step on site.
    """
    shop = [step for step in steps if step.place is Place.SHOP]
    site = [step for step in steps if step.place is Place.SITE]
    return [*shop, *(_trial_fit(step) for step in site), *(_opening(step) for step in reversed(site)), *site]


def _bare(step: Step) -> Step:
    return replace(
        step,
        place=Place.SHOP,
        joints=(),
        hardware=(),
        stacks=(),
        adhesive=(),
        hold=None,
        access=(),
        shuts=(),
        gates=(),
        on_bolts=(),
    )


def _trial_fit(step: Step) -> Step:
    fitted = replace(
        _bare(step),
        kind=StepKind.DRY_FIT,
        why=(say("why.closed_on_site"),),
        notes=(say("note.close_dry", joints=tuple(step.joints)),),
    )
    return titled(fitted)


def _opening(step: Step) -> Step:
    return replace(
        _bare(step),
        kind=StepKind.OPEN,
        title=say("title.open_again", joints=tuple(step.joints)),
        heading=None,
        path=(),
        why=(say("why.in_sections"),),
        notes=(say("note.mark_sides"),),
    )
