"""Title, orders and picture of a step say the same of its last movement."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from assembler.figure.ids import BenchId, PartId, SectionId, StepNumber
from assembler.figure.joints import Place
from assembler.figure.plan import Heading, Move, Plan, Step, StepKind, Swing
from assembler.figure.titles import Movement, closing_movement, titled
from assembler.publishing.words import load_words
from assembler.recut.numbering import renumbered
from assembler.words import Said

UP = (0.0, 0.0, 1.0)


def _step(elevation_deg: float) -> Step:
    """A step whose part moves at this angle above the level."""
    rise = math.radians(elevation_deg)
    return Step(
        number=StepNumber("4"),
        title="",
        heading=Heading(names=("P11 tail root",), onto=(PartId("P10"),)),
        kind=StepKind.JOIN,
        place=Place.SHOP,
        bench=BenchId("B1"),
        section=SectionId("S1"),
        moves=(PartId("P11"),),
        path=(Move(direction=(math.cos(rise), 0.0, math.sin(rise)), travel_mm=50.0),),
    )


@pytest.mark.parametrize("elevation_deg", range(-90, 91, 2))
def test_the_title_and_the_order_begin_with_one_verb(elevation_deg: int) -> None:
    step = titled(_step(elevation_deg))
    order = load_words()(f"orders.move.{closing_movement(step)}", parts="P11", onto="P10")
    assert str(step.title).split()[0] == order.split()[0]


def test_a_movement_a_little_below_the_level_slides_and_a_steep_one_is_lowered() -> None:
    # 16 degrees down looks level on the page; 40 does not.
    step = titled(_step(math.degrees(math.asin(-0.28))))
    assert closing_movement(step) is Movement.SLIDE
    assert str(step.title) == "Slide P11 tail root sideways against P10"
    step = titled(_step(-40.0))
    assert closing_movement(step) is Movement.SLANT
    assert str(step.title) == "Lower P11 tail root at a slant against P10"


def test_a_turn_at_the_end_is_what_the_title_says() -> None:
    step = replace(_step(0.0), swing=Swing(axis=UP, at_mm=(0.0, 0.0, 0.0), degrees=20.0))
    assert str(titled(step).title) == "Turn P11 tail root in at P10"
    assert load_words()("orders.move.turn_in", parts="P11", onto="P10").startswith("Turn P11 in")


def test_text_without_a_heading_stays_as_it_is() -> None:
    assert titled(replace(_step(0.0), heading=None, title="Fill the seams")).title == "Fill the seams"


def test_a_file_name_is_a_value_and_never_renamed() -> None:
    """A part file named 'step 4 bracket.stl' keeps its name in the title of a step that becomes 3a."""
    named = replace(_step(-90.0), heading=Heading(names=("P11 step 4 bracket",), onto=(PartId("P10"),)))
    plan = Plan(figure_name="", revision="B", parts=(), joints=(), steps=(titled(named),), sections=(), findings=())
    (step,) = renumbered(plan, {0: StepNumber("3a")}, frozenset({"3", "3a", "4"})).steps
    assert (step.number, str(step.title)) == ("3a", "Lower P11 step 4 bracket onto P10")
    assert isinstance(step.title, Said)
    assert dict(step.title.values)["what"] == "P11 step 4 bracket"
