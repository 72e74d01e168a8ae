"""The plan in time: hours of the crew, when what is done besides the steps, where things stand, what would shorten it.

Moments are minutes since the midnight before day 1; what is printed beside them is local date and time.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Annotated

from assembler.figure.ids import BenchId, JointId
from assembler.figure.joints import Place
from assembler.figure.parts import Vector
from assembler.figure.records import FILLED, NOT_NEGATIVE, digits, key

DAY_MIN = 1440


@dataclass(frozen=True, slots=True, kw_only=True)
class CureShares:
    """How fast the adhesive cures at a place, at the safe end of the rule.

    Parameters
    ----------
    place
        Shop or site.
    day_share, night_share
        Minutes of the data sheet that pass in a minute inside and outside working hours.
    """

    place: Place
    day_share: Annotated[float, NOT_NEGATIVE, digits(9)]
    night_share: Annotated[float, NOT_NEGATIVE, digits(9)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """What is done or waited for besides the steps: tightening again, full cure, the finish.

    Parameters
    ----------
    what
        In words.
    about
        Joints that it is about; empty for the whole figure.
    people
        Who is needed; 0 for a wait.
    start_min, end_min
        Moments.
    starts, ends
        Local date and time.
    """

    what: str
    about: tuple[JointId, ...] = ()
    people: Annotated[int, NOT_NEGATIVE] = 0
    start_min: Annotated[float, NOT_NEGATIVE, digits(1), key("start_minutes")]
    end_min: Annotated[float, NOT_NEGATIVE, digits(1), key("end_minutes")]
    starts: str
    ends: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorPlace:
    """A place of the floor and what is on it for some time.

    Parameters
    ----------
    spot
        Number of the place, from 1; free places are used again.
    bench
        What is built there.
    size_mm
        Of all that is joined there, in the frame of the figure.
    start_min, end_min
        From the first step on that bench until what was built there is moved on; moments.
    """

    spot: Annotated[int, NOT_NEGATIVE]
    bench: BenchId
    size_mm: Annotated[Vector, digits(1)]
    start_min: Annotated[float, NOT_NEGATIVE, digits(1), key("start_minutes")]
    end_min: Annotated[float, NOT_NEGATIVE, digits(1), key("end_minutes")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortening:
    """What would make it shorter, scheduled again.

    Parameters
    ----------
    what, asks
        What is changed, and what that asks for.
    built, finished
        End of building and of the finish then, local date and time.
    days
        Working days of building then.
    """

    what: str
    asks: str
    built: str
    finished: str
    days: Annotated[int, NOT_NEGATIVE]


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """The plan on the working hours.

    Parameters
    ----------
    first_day
        ISO date of day 1; empty: not stated.
    hours
        Opening and closing moments of each block of working hours.
    people, team, hoists
        Who is there, who works at one joint, hoists that can be used at once.
    spots
        Places of the floor; 0: as many as it takes.
    cure
        How fast the adhesive cures at each place.
    handling_min, full_cure_min
        Of the data sheet, at its temperature.
    start, built, full_cure, finished, end
        Local date and time: first work, end of building, all joints cured, end of the finish, end of all.
    end_min, least_end_min
        End of all, and what no calendar can end before; moments.
    days
        Working days of building.
    is_proven
        Whether nothing ends sooner.
    errands, floor, shortenings
        See the records.
    in_the_way
        What a deadline that is not met waits for; empty where it is met or none is stated.
    """

    first_day: str
    hours: tuple[tuple[int, int], ...]
    people: Annotated[int, NOT_NEGATIVE]
    team: Annotated[int, NOT_NEGATIVE]
    hoists: Annotated[int, NOT_NEGATIVE]
    spots: Annotated[int, NOT_NEGATIVE] = 0
    cure: tuple[CureShares, ...]
    handling_min: Annotated[float, NOT_NEGATIVE, digits(1), key("handling_minutes")]
    full_cure_min: Annotated[float, NOT_NEGATIVE, digits(1), key("full_cure_minutes")]
    start: str = ""
    built: str = ""
    full_cure: str = ""
    finished: str = ""
    end: str = ""
    end_min: Annotated[float, NOT_NEGATIVE, digits(1), key("end_minutes")] = 0.0
    least_end_min: Annotated[float, NOT_NEGATIVE, digits(1), key("least_end_minutes")] = 0.0
    days: Annotated[int, NOT_NEGATIVE] = 0
    is_proven: Annotated[bool, key("proven_shortest")] = False
    errands: tuple[Errand, ...] = ()
    floor: tuple[FloorPlace, ...] = ()
    shortenings: Annotated[tuple[Shortening, ...], FILLED] = ()
    in_the_way: Annotated[str, FILLED] = ""

    def shares(self, place: Place) -> CureShares:
        """How fast the adhesive cures at a place."""
        return next(row for row in self.cure if row.place is place)

    def within_percent(self) -> float:
        """By how much the end may lie after the least there can be, per cent of the time from day 1."""
        return 100.0 * (self.end_min - self.least_end_min) / self.least_end_min if self.least_end_min else 0.0

    def says(self, moment_min: float) -> str:
        """A moment as local date and time: '2031-04-07 08:00', or 'day 1 08:00' where no date is stated."""
        day, minute = divmod(round(moment_min), DAY_MIN)
        clock = f"{minute // 60:02d}:{minute % 60:02d}"
        if not self.first_day:
            return f"day {day + 1} {clock}"
        return f"{datetime.date.fromisoformat(self.first_day) + datetime.timedelta(days=day)} {clock}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """What the finish covers: length of visible seams, outer skin."""

    seam_mm: float
    skin_mm2: float
