"""What has to be seen to before a step puts bolts out of reach for good, and which step does that to which bolts.

Goes in: a step whose `shuts` the plan knows. Comes out: the list that opens its page.
"""

from __future__ import annotations

from collections.abc import Iterable

from assembler.figure.ids import BoltId, natural_key
from assembler.figure.plan import Step
from assembler.publishing.pages import Closure
from assembler.publishing.source import Source
from assembler.publishing.wording import ranges


def closure_of(source: Source, step: Step) -> Closure | None:
    """The list before a closure; None where the step shuts nothing."""
    if not step.shuts:
        return None
    words, names = source.words, shut_names(source, step)
    ticks = [words("closure.tools"), words("closure.marks")]
    for earlier in source.plan.steps:
        lost = unbonded(earlier) & set(step.shuts)
        if lost:
            joints = {stack.joint for stack in earlier.stacks if stack.bolt in lost}
            ticks.append(words("closure.again", joints=ranges(joints), step=earlier.number))
    return Closure(
        lead=words("closure.lead", names=names),
        ticks=(*ticks, words("closure.photograph")),
        sign=words("closure.sign"),
    )


def shut_names(source: Source, step: Step) -> str:
    """Joints of which every bolt is shut, by id, and single bolts of others."""
    lost, joints = set(step.shuts), list[str]()
    single = list[str]()
    for joint in source.plan.joints:
        bolts = [bolt.id for bolt in joint.bolts]
        if bolts and lost >= set(bolts):
            joints.append(joint.id)
        else:
            single += [bolt for bolt in bolts if bolt in lost]
    return ", ".join(text for text in (ranges(joints), ranges(single)) if text)


def unbonded(step: Step) -> set[BoltId]:
    """Bolts of joints without adhesive that a step tightens: they are tightened again when they have settled."""
    glued = {row.joint for row in step.adhesive}
    return {stack.bolt for stack in step.stacks if stack.joint not in glued}


def shut_by(source: Source, bolts: Iterable[BoltId]) -> Step | None:
    """The first step that puts any of some bolts out of reach; None where none does."""
    wanted = set(bolts)
    found = [step for step in source.plan.steps if wanted & set(step.shuts)]
    return min(found, key=lambda step: (step.start_min, natural_key(step.number)), default=None)
