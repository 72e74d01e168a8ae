"""Pocket cards: a card for each step to hang on the bench, four on a sheet.

Goes in: the steps of the crew book. Comes out: card records for cards.html.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assembler.publishing.pages import GateLine, PictureBox, StepPage
from assembler.publishing.words import Words

MOST_LINES = 5
ON_A_SHEET = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One card: the step, its gate, its picture, at most five lines, the torque."""

    number: str
    title: str
    revision: str
    gates: tuple[GateLine, ...]
    picture: PictureBox | None
    lines: tuple[str, ...]
    torques: tuple[str, ...]


def pocket_cards(steps: tuple[StepPage, ...], words: Words) -> tuple[tuple[Card, ...], ...]:
    """Cards by sheets, in the order of the steps."""
    cards = [
        Card(
            number=step.number,
            title=step.title,
            revision=step.revision,
            gates=step.gates,
            picture=step.picture,
            lines=tuple(_lines(step, words))[:MOST_LINES],
            torques=_torques(step, words),
        )
        for step in steps
    ]
    return tuple(tuple(cards[at : at + ON_A_SHEET]) for at in range(0, len(cards), ON_A_SHEET))


def _lines(step: StepPage, words: Words) -> Iterator[str]:
    """What to bring, how heavy, how much adhesive, when it is free; the first orders where there is none of that."""
    if step.bring:
        yield words("card.bring", names=words.listed([name for name, _ in step.bring]))
    if step.cautions:
        yield words("card.caution", word=step.cautions[0].word, line=step.cautions[0].consequence)
    if step.glue:
        for row in step.glue.rows[:1]:
            joints = words.listed([one.joint for one in step.glue.rows])
            yield words("card.glue", amount=row.amount, joints=joints, time=row.close_within)
    else:
        yield from step.orders[:2]
    if step.hold:
        yield step.hold


def _torques(step: StepPage, words: Words) -> tuple[str, ...]:
    """Joint, last round, and how many bolts; rows of a joint that are tightened alike once."""
    found: dict[tuple[str, str], int] = {}
    for row in step.bolts:
        key = (row.joint, row.rounds[-1] if row.rounds else "")
        found[key] = found.get(key, 0) + len(row.bolts)
    return tuple(
        words("card.torque", joint=joint, count=count, torque=torque) for (joint, torque), count in found.items()
    )
