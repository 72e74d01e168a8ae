"""Numbers that make the work endless are told in one line, before anybody counts its days."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assembler.errors import InputError
from assembler.figure.calendar import Finish
from assembler.figure.settings import Crew, Settings, Wishes
from assembler.planning.buildtime import scheduled_plan
from tests.hostile.projects import PLAN
from tests.planning.test_buildtime import FINISH, ROUTE, settings_of
from tests.specimens import stack

PART = PLAN.parts[-1].id
SETTINGS = settings_of(stack(4).given["settings"], finish=ROUTE)
FIRST = "2031-04-07"


@pytest.mark.parametrize(
    ("settings", "finish"),
    [
        (SETTINGS, Finish(seam_mm=2.0**32, skin_mm2=0.0)),
        (SETTINGS, Finish(seam_mm=0.0, skin_mm2=1e15)),
        (replace(SETTINGS, crew=Crew(seam_mm_min=1e-9)), FINISH),
        (replace(SETTINGS, adhesive=replace(SETTINGS.adhesive, handling_min=1e9, full_cure_min=1e9)), FINISH),
        (replace(SETTINGS, adhesive=replace(SETTINGS.adhesive, full_cure_min=1e9)), FINISH),
        (replace(SETTINGS, wishes=Wishes(first_day=FIRST, not_before=((PART, "2999-12-31"),))), FINISH),
    ],
    ids=["seam", "skin", "slow", "hold", "cure", "arrival"],
)
def test_what_takes_longer_than_ten_years_is_one_line(settings: Settings, finish: Finish) -> None:
    with pytest.raises(InputError, match="figure.toml: calendar: .*; longer shifts or quicker work"):
        scheduled_plan(PLAN, settings, finish)
