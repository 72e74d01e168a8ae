"""built.toml: what was carried out, as the crew reported it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, Field

from assembler.errors import Fault, ProjectFileError
from assembler.figure.ids import BoltId, JointId, StepNumber
from assembler.filegate import is_there
from assembler.projectfiles.toml import Table, check_table, plain, quoted, read_table
from assembler.projectfiles.writing import write_whole

FIRST_YEAR, LAST_YEAR = 2000, 2999


def _of_our_time(at: datetime.datetime) -> datetime.datetime:
    if not FIRST_YEAR <= at.year <= LAST_YEAR:
        raise ValueError(f"give a time of the years {FIRST_YEAR} to {LAST_YEAR}")
    return at


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltStep:
    """One step that was carried out.

    Parameters
    ----------
    step, book
        Number of the step, and the revision of the book it was taken from ('draft' for a draft).
    at
        Local time at which its joints were closed.
    temperature_c
        Of the parts.
    joints, bolts
        What was closed.
    by
        Who reported it; may be empty.
    although
        Why it was done otherwise than the book says; empty where it was not.
    """

    step: StepNumber
    book: Annotated[str, Field(min_length=1, max_length=40)]
    at: Annotated[datetime.datetime, AfterValidator(_of_our_time)]
    temperature_c: Annotated[float, Field(ge=-40, le=80)]
    joints: tuple[JointId, ...] = ()
    bolts: tuple[BoltId, ...] = ()
    by: Annotated[str, Field(max_length=100)] = ""
    although: Annotated[str, Field(max_length=1000)] = ""


class _File(Table):
    built: tuple[BuiltStep, ...] = ()


def read_built(path: Path) -> tuple[BuiltStep, ...]:
    """Steps carried out so far, in the order in which they were reported; empty if there is no log.

    Raises
    ------
    ProjectFileError
        If the file is there and cannot be used.
    """
    if not is_there(path):
        return ()
    return read_table(path, _File).built


def record_built(path: Path, entry: BuiltStep) -> None:
    """Add one step to the log; the caller holds the project (`locking.locked`).

    Raises
    ------
    ProjectFileError
        If the log cannot be used, has the step already, or could not be read again with this entry in it.
    """
    done = read_built(path)
    if any(other.step == entry.step for other in done):
        raise ProjectFileError(
            Fault(
                file=str(path),
                place=f"built[{entry.step}]",
                wrong=f"step {entry.step} is recorded already",
                right="mend the entry by hand if its time or temperature was wrong",
            )
        )
    text = _text((*done, entry))
    check_table(plain(text, path), _File, path)
    write_whole(path, text)


def _text(entries: Sequence[BuiltStep]) -> str:
    lines = ["# built.toml: the as-built log. 'assembler record' adds to it; a slip may be mended by hand."]
    for entry in entries:
        lines += [
            "",
            "[[built]]",
            f"step = {quoted(entry.step)}",
            f"book = {quoted(entry.book)}",
            f"at = {entry.at.isoformat()}",
            f"temperature_c = {float(entry.temperature_c)!r}",
            "joints = [" + ", ".join(quoted(joint) for joint in entry.joints) + "]",
            "bolts = [" + ", ".join(quoted(bolt) for bolt in entry.bolts) + "]",
            *(f"{key} = {quoted(value)}" for key, value in (("by", entry.by), ("although", entry.although)) if value),
        ]
    return "\n".join(lines) + "\n"
