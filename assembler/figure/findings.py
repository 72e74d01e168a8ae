"""What the program found that a person has to know: never silence, never a bare refusal."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from assembler.figure.ids import natural_key
from assembler.figure.records import Spoken


class Level(StrEnum):
    """How much a finding weighs."""

    STOP = "stop"
    WARN = "warn"
    NOTE = "note"


_WEIGHT = {Level.STOP: 0, Level.WARN: 1, Level.NOTE: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing a person has to know or decide.

    Parameters
    ----------
    level
        `stop`: the figure cannot be built as it is. `warn`: somebody has to decide or check. `note`: good to know.
    code
        Short kebab-case name of the kind of finding, stable across versions ('nut-out-of-reach').
    about
        Ids of parts, joints, bolts or steps.
    message
        What is the case, with numbers and units: `finding.<code>` in the catalogue of words.
    remedy
        What would help: `remedy.<code>` there; empty when nothing has to be done.
    """

    level: Level
    code: str
    about: tuple[str, ...]
    message: Spoken
    remedy: Spoken = ""


def sort_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings without repeats, heaviest first, then by kind and place."""

    def key(finding: Finding) -> tuple[object, ...]:
        places = tuple(natural_key(name) for name in finding.about)
        return (_WEIGHT[finding.level], finding.code, places, str(finding.message), str(finding.remedy))

    return tuple(sorted(set(findings), key=key))
