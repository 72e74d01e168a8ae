"""May a step be recorded as carried out at that time and temperature? What speaks against it, in words.

The record of the step and of the others in plan.json, the log so far and the entry go in. A slip of the crew is
cheap to mend before it is written and costly after: holds, and what the next book takes as built, hang on it.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator, Mapping, Sequence

from assembler.figure.ids import StepNumber, natural_key
from assembler.figure.plan import Step
from assembler.projectfiles.builtlog import BuiltStep
from assembler.recut.asbuilt import hold_end

COLDEST_C, HOTTEST_C = -30.0, 60.0
"""No part is outside these when it is worked on (common practice, no source): what is, was read off in Fahrenheit."""
UNLIKELY_C = 45.0
"""Parts get that warm in the sun only (common practice, no source)."""
_CLOCKS_MIN = 10
"""By so much two clocks of one workshop may differ."""

HoldMinutes = Callable[[BuiltStep], float | None]


def fahrenheit_fault(temperature_c: float) -> str:
    """Why a temperature cannot have been in Celsius; empty where it can."""
    if COLDEST_C <= temperature_c <= HOTTEST_C:
        return ""
    as_celsius = (temperature_c - 32.0) / 1.8
    meant = f": {temperature_c:g} F is {as_celsius:.1f} C" if COLDEST_C <= as_celsius <= HOTTEST_C else ""
    return f"got {temperature_c:g} C; is that Fahrenheit{meant}?"


def slips(
    entry: BuiltStep,
    steps: Sequence[Step],
    built: Sequence[BuiltStep],
    *,
    hold_min: HoldMinutes,
    now: datetime.datetime,
) -> tuple[str, ...]:
    """What speaks against an entry of the log.

    Parameters
    ----------
    entry
        To be recorded.
    steps
        Of the book that was followed; the step is one of them.
    built
        The log so far.
    hold_min
        Minutes to handling strength after a step; None where its adhesive does not cure at that temperature.
    now
        With its time zone.

    Returns
    -------
    tuple of str
        Empty where nothing does.
    """
    by_number = {step.number: step for step in steps}
    step, done = by_number[entry.step], {other.step: other for other in built}
    found = [*_about_itself(entry, now)]
    for number in sorted(step.after, key=natural_key):
        if number not in done:
            found.append(f"step {number} comes before step {entry.step} and is not recorded")
        elif moment(done[number].at) > moment(entry.at):
            found.append(f"step {number} comes before step {entry.step} and is recorded at {_shown(done[number].at)}")
    found += _holds(entry, by_number, done, hold_min)
    return tuple(found)


def _about_itself(entry: BuiltStep, now: datetime.datetime) -> Iterator[str]:
    if moment(entry.at) > now + datetime.timedelta(minutes=_CLOCKS_MIN):
        yield f"{_shown(entry.at)} is in the future: it is {_shown(now)} now"
    if entry.temperature_c > UNLIKELY_C:
        yield f"the parts would have been at {entry.temperature_c:g} C, which is unlikely"


def _holds(
    entry: BuiltStep,
    steps: Mapping[StepNumber, Step],
    done: Mapping[StepNumber, BuiltStep],
    hold_min: HoldMinutes,
) -> Iterator[str]:
    for number in sorted(done, key=natural_key):
        step = steps.get(number)
        if step is None or step.hold is None or entry.step not in step.hold.before:
            continue
        minutes = hold_min(done[number])
        joints = " and ".join(step.hold.joints)
        if minutes is None:
            yield f"it is not known when {joints} of step {number} is free: no cure time at that temperature"
            continue
        free_at = hold_end(step, done[number], minutes)
        if moment(entry.at) < moment(free_at):
            yield f"{joints} of step {number} is not free before {_shown(free_at)}"


def moment(at: datetime.datetime) -> datetime.datetime:
    """A time of the log on the one clock of the world: without a zone it is the local time of this machine."""
    return at.astimezone(datetime.UTC)


def _shown(at: datetime.datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M}"
