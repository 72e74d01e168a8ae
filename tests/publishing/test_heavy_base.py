"""A base too heavy to lift by hand is warned of at its step, though nothing moves onto anything there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from assembler.figure.plan import Lift, StepKind
from assembler.figure.settings import Base
from assembler.publishing.cautions import step_cautions
from assembler.publishing.endpages import base_page
from assembler.publishing.frontpages import before_page
from assembler.publishing.steppages import step_pages
from tests.publishing.conftest import source_of

HOIST = Lift(mass_kg=44.0, centre_mm=(0.0, 0.0, -60.0), people=0, rule="44.0 kg: hoist, licensed rigger")


def test_the_step_that_sets_the_base_down_warns_and_names_the_hoist(tmp_path: Path) -> None:
    source = source_of(tmp_path)
    first, *others = source.plan.steps
    base = replace(
        first,
        kind=StepKind.BASE,
        moves=(),
        path=(),
        joints=(),
        stacks=(),
        hardware=(),
        adhesive=(),
        hold=None,
        access=(),
        gates=(),
        onto=first.moves or first.onto,
        lift=HOIST,
        stability=None,
    )
    source = replace(source, plan=replace(source.plan, steps=(base, *others)))
    page = step_pages(source)[0]
    assert any("hoist" in line and "44" in line for line in page.orders)
    assert not any("prop" in line for line in page.orders)
    assert any("hoist" in value for _, value in page.cells)
    assert [row.level for row in step_cautions(source, base)] == ["warning"]
    (hoist,) = [text for text in map(str, before_page(source).conditions) if "needed in step" in text]
    assert base.number in hoist.partition("needed in step")[2]


def test_a_base_of_size_and_mass_only_is_lifted_without_a_word_on_where_to_hold_it(tmp_path: Path) -> None:
    source = source_of(tmp_path)
    first, *others = source.plan.steps
    base = replace(first, kind=StepKind.BASE, moves=(), path=(), onto=first.moves or first.onto, lift=HOIST)
    held = replace(base, lift=replace(HOIST, parts=base.onto))
    orders = [
        step_pages(replace(source, plan=replace(source.plan, steps=(step, *others))))[0].orders for step in (base, held)
    ]
    assert len(orders[0]) == len(orders[1]) - 1


def test_the_base_page_says_what_the_figure_stands_on_and_that_nothing_bolts_it_down(tmp_path: Path) -> None:
    source = source_of(tmp_path)
    bare = dict(base_page(replace(source, settings=replace(source.settings, base=Base()))).base)
    assert bare["Base"] == "none: the figure stands on the ground itself"
    assert bare["Anchors"] == "none stated: nothing bolts the figure down"
    stated = Base(size_mm=(900.0, 900.0, 60.0), mass_kg=90.0, anchors=4, anchor_size="M12")
    said = dict(base_page(replace(source, settings=replace(source.settings, base=stated))).base)
    assert "Base" not in said
    assert said["Anchors"].startswith("4")
