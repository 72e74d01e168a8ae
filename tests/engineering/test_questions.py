from __future__ import annotations

from dataclasses import replace

from assembler.engineering.questions import open_decisions
from assembler.figure.ids import PartId
from assembler.figure.joints import Joint, Method, Origin, Place
from assembler.figure.settings import Assumed, Base, Passage, Settings
from tests.specimens import MATERIAL, Assembly, box

FILES = {PartId("P01"): "timber base.stl", PartId("P02"): "shin left.stl"}
EVERY = tuple(Assumed)


def _given(**changes: object) -> tuple[Settings, tuple[Joint, ...]]:
    """A pair that is bolted and a pair that is not, everything assumed."""
    work = Assembly({"P01": box((0, 0, 0), (100, 100, 20)), "P02": box((0, 0, 20), (100, 100, 40))})
    up = (0.0, 0.0, 1.0)
    work.join("P01", "P02", (50, 50, 20), up, bolts=[(50, 50, 20)], method=Method.BOLTED_AND_BONDED)
    work.join("P01", "P02", (50, 50, 20), up, method=Method.BONDED, area_mm2=12300.0)
    open_ = {"method": Origin.ASSUMED, "made": Origin.ASSUMED}
    joints = tuple(replace(joint, origins=open_) for joint in work.joints)
    settings = replace(work.settings, **{"assumed": EVERY, "base": Base(part=PartId("P01")), **changes})
    return settings, joints


def test_at_most_eight_are_asked_and_the_costliest_first() -> None:
    settings, joints = _given()
    decisions = open_decisions(settings, joints, FILES)
    assert [decision.about for decision in decisions] == list(Assumed)
    assert len(decisions) == 8
    assert all(decision.line and decision.assumed for decision in decisions)


def test_what_a_name_made_the_program_believe_is_asked_by_that_name() -> None:
    settings, joints = _given()
    base, unbolted, *_ = open_decisions(settings, joints, FILES)
    assert str(base.question).startswith("Is timber base (P01) the base, and made of print?")
    assert 'part = "P01"' in str(base.line)
    assert "J02, timber base (P01) to shin left (P02), 123 cm2" in str(unbolted.question)


def test_a_figure_without_a_base_is_asked_what_it_stands_on() -> None:
    settings, joints = _given(base=Base())
    first = open_decisions(settings, joints, FILES)[0]
    assert str(first.question).startswith("What does the figure stand on")


def test_what_the_shop_has_decided_is_not_asked() -> None:
    settings, joints = _given(assumed=())
    # Joints say for themselves what was assumed of them.
    assert [decision.about for decision in open_decisions(settings, joints, FILES)] == [Assumed.UNBOLTED]
    stated = {"method": Origin.STATED, "made": Origin.STATED}
    settled = tuple(replace(joint, origins=stated, made=Place.SITE) for joint in joints)
    assert open_decisions(settings, settled, FILES) == ()
    left = open_decisions(replace(settings, assumed=EVERY), settled, FILES)
    assert not {Assumed.UNBOLTED, Assumed.METHOD, Assumed.PLACE} & {decision.about for decision in left}


def test_an_answer_is_seen_in_what_goes_on_being_assumed() -> None:
    settings, joints = _given(passages=(Passage(name="gate", width_mm=900.0, height_mm=2000.0),))
    said = {decision.about: decision.assumed for decision in open_decisions(settings, joints, FILES)}
    assert said[Assumed.PASSAGES] == "gate 900 x 2000 mm"
    assert MATERIAL.name in str(said[Assumed.MATERIAL])
