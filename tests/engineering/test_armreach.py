"""Bolts that are too deep for a forearm."""

from __future__ import annotations

from assembler.engineering.armreach import reach_findings
from assembler.figure.findings import Level
from assembler.figure.ids import BenchId, BoltId, PartId, SectionId, StepNumber
from assembler.figure.joints import Place
from assembler.figure.plan import Access, Step, StepKind
from assembler.figure.settings import Crew, Glove


def _step(*reaches_mm: float, is_reachable: bool = True) -> Step:
    return Step(
        number=StepNumber("1"),
        title="",
        kind=StepKind.JOIN,
        place=Place.SHOP,
        bench=BenchId("B1"),
        section=SectionId("S1"),
        access=tuple(
            Access(
                bolt=BoltId(f"J01.{number}"),
                head_part=PartId("P01"),
                nut_part=PartId("P02"),
                head_end=0,
                tool="socket 10 mm",
                head="",
                nut="",
                reach_mm=reach_mm,
                is_reachable=is_reachable,
            )
            for number, reach_mm in enumerate(reaches_mm, start=1)
        ),
    )


def test_beyond_the_elbow_the_size_that_was_looked_for_is_named() -> None:
    (finding,) = reach_findings([_step(399.0, 400.0, 401.0, 520.0)], Crew())
    assert (finding.code, finding.level) == ("upper-arm-has-to-enter", Level.NOTE)
    assert finding.about == ("J01.3", "J01.4")
    assert "2 bolts are reached 401 to 520 mm deep" in str(finding.message)
    assert "openings of 125 mm were looked for" in str(finding.message)
    assert "upper_arm_opening_mm" in str(finding.remedy)
    (finding,) = reach_findings([_step(520.0)], Crew(glove=Glove.HEAVY))
    assert "openings of 215 mm" in str(finding.message)


def test_a_shop_that_measured_its_arm_is_done() -> None:
    assert reach_findings([_step(520.0)], Crew(upper_arm_opening_mm=110.0)) == ()


def test_what_is_out_of_reach_is_said_elsewhere() -> None:
    assert reach_findings([_step(900.0, is_reachable=False)], Crew()) == ()


def test_a_reach_that_small_people_do_not_have_is_named() -> None:
    assert reach_findings([], Crew(reach_mm=555.0)) == ()
    (finding,) = reach_findings([], Crew(reach_mm=600.0))
    assert (finding.code, finding.level) == ("reach-is-long", Level.NOTE)
    assert "reach of 600 mm" in str(finding.message)
    assert "555 mm" in str(finding.message)
