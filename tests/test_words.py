"""What is said travels as code and values; one catalogue makes the text, and another one another language."""

from __future__ import annotations

import ast
import re
import string
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path

import pytest

import assembler
from assembler.engineering.questions import open_decisions
from assembler.figure.calendar import Calendar, Finish
from assembler.figure.findings import Finding, Level
from assembler.figure.plan import Plan
from assembler.figure.records import read_as, record_of
from assembler.figure.settings import Assumed, FinishOperation, Wishes
from assembler.planning.buildtime import calendar_findings, scheduled_plan
from assembler.planning.explain import explain
from assembler.planning.standing import step_findings
from assembler.projectfiles.planfile import plan_of, plan_record
from assembler.words import CATALOGUE, Said, Text, Words, also, both, built_in, flattened, say, template_text
from tests import specimens
from tests.planning import figures
from tests.planning.test_buildtime import settings_of
from tests.planning.test_known_answers import planned

PACKAGE = Path(assembler.__file__).parent
ENGLISH = dict(flattened(tomllib.loads(template_text(CATALOGUE))))
_WORD = re.compile(r"[A-Za-z]{3,}")


def _gaps(text: str) -> set[str]:
    return {gap for _, gap, _, _ in string.Formatter().parse(text) if gap}


def _calls() -> Iterator[tuple[str, str, set[str | None]]]:
    """Place, code and given values of everything that the program says."""
    for module in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say" and node.args:
                code = node.args[0]
                codes = [code.body, code.orelse] if isinstance(code, ast.IfExp) else [code]
                for each in codes:
                    if isinstance(each, ast.Constant) and each.value:
                        yield f"{module.name}:{node.lineno}", str(each.value), {one.arg for one in node.keywords}


def test_all_that_is_said_stands_in_the_catalogue_with_its_gaps() -> None:
    wrong = [
        (place, code)
        for place, code, given in _calls()
        if code not in ENGLISH or (None not in given and _gaps(ENGLISH[code]) != given)
    ]
    assert wrong == []


RECORDS = {"Finding", "Step", "Stability", "Lift", "Hold", "Access", "Picture", "Stack", "WorksheetRow", "HardwareLine"}
RECORDS |= {"PartChange", "JointChange", "BoltChange", "StepChange", "BagChange"}
TEXTS = {
    "message",
    "remedy",
    "title",
    "why",
    "notes",
    "reason",
    "rule",
    "tool",
    "head",
    "nut",
    "alt",
    "torque_rule",
    "item",
}
TEXTS |= {"words", "quantity", "formula", "inputs", "source"}


def _literals(node: ast.expr) -> Iterator[str]:
    """Pieces of text that are written out in what fills a field; codes of sayings are none."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
        yield node.value
    elif isinstance(node, ast.Tuple | ast.List | ast.JoinedStr | ast.BinOp | ast.IfExp):
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.expr) and child is not getattr(node, "test", None):
                yield from _literals(child)


def test_no_record_is_given_a_text_that_is_written_in_code() -> None:
    found = [
        f"{module.name}:{node.lineno}: {keyword.arg}={text!r}"
        for module in sorted(PACKAGE.rglob("*.py"))
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in RECORDS
        for keyword in node.keywords
        if keyword.arg in TEXTS
        for text in _literals(keyword.value)
    ]
    assert found == []


def test_something_said_goes_to_a_file_and_comes_back() -> None:
    finding = Finding(
        level=Level.NOTE,
        code="pin-impossible",
        about=("P01",),
        message=say("lift.share", share=say("word.half"), people=3, person_kg=12.25, own=both(("P01", "P02"))),
    )
    record = record_of(finding)
    assert read_as(Finding, record) == finding
    assert str(finding.message) == "half of 3 x 12.2 kg, P01 and P02"


def test_a_file_for_others_has_texts_and_beside_them_what_they_are_made_of() -> None:
    plan = planned(specimens.tower(2))
    record = plan_record(plan)
    text = record["steps"][0]["title"]
    assert text == str(plan.steps[0].title)
    assert record["sayings"][text]["code"].startswith("title.")
    assert [step.title for step in plan_of(record).steps] == [step.title for step in plan.steps]


def test_a_text_of_a_book_that_knew_no_codes_is_read_as_it_is() -> None:
    record = {"level": "note", "code": "x", "about": [], "message": "as printed", "remedy": ""}
    assert read_as(Finding, record).message == "as printed"


@pytest.mark.parametrize("sayings", [{"as printed": {"code": 3}}, {"as printed": 3}, {"as printed": {"values": {}}}])
def test_what_is_no_saying_is_refused(sayings: object) -> None:
    record = {"level": "note", "code": "x", "about": [], "message": "as printed", "remedy": "", "sayings": sayings}
    with pytest.raises(ValueError, match="saying|said|text"):
        read_as(Finding, record)


def test_equal_is_what_says_the_same() -> None:
    near, nearer, far = (say("way.inside", way_mm=way_mm) for way_mm in (337.12, 337.4, 338.0))
    assert near == nearer == "337 mm inside"
    assert len({near, nearer, far, str(near)}) == 2


def test_something_said_does_not_melt_into_a_text() -> None:
    with pytest.raises(TypeError, match=r"word\.half"):
        f"{say('word.half')}"


def test_several_are_joined_by_the_catalogue() -> None:
    assert built_in().text(also(["a", "b", "c"])) == "a; b; c"
    assert also([]) == ""


def reversed_words() -> Words:
    """The catalogue with every word reversed; gaps stay."""
    return Words({key: reversed_text(text) for key, text in ENGLISH.items()})


def reversed_text(text: str) -> str:
    """A text with every word reversed; gaps stay."""
    pieces = re.split(r"(\{[^}]*\})", text)
    return "".join(piece if piece.startswith("{") else _WORD.sub(lambda word: word[0][::-1], piece) for piece in pieces)


def _said(plan: Plan) -> Iterator[Text]:
    """Every text of a plan that stands on a page."""
    for finding in plan.findings:
        yield from (finding.message, finding.remedy)
    for step in plan.steps:
        yield from (step.title, *explain(plan, step.number), *step.notes, step.starts, step.ends, step.frees)
        yield from (stack.torque_rule for stack in step.stacks)
        yield from (way for access in step.access for way in (access.head, access.nut))
        for text in (step.hold and step.hold.reason, step.lift and step.lift.rule):
            if text:
                yield text
        if step.stability:
            yield step.stability.reason
    if plan.calendar:
        yield from _said_of_time(plan.calendar)


def _said_of_time(calendar: Calendar) -> Iterator[Text]:
    yield from (calendar.start, calendar.built, calendar.full_cure, calendar.finished, calendar.end)
    yield calendar.in_the_way
    for errand in calendar.errands:
        yield from (errand.what, errand.starts, errand.ends)
    for row in calendar.shortenings:
        yield from (row.what, row.asks, row.built, row.finished)


WORDS_OF_ENGLISH = {
    word.lower() for text in ENGLISH.values() for word in _WORD.findall(re.sub(r"\{[^}]*\}", " ", text))
}
NOT_TURNED = {word for word in WORDS_OF_ENGLISH if word[::-1] in WORDS_OF_ENGLISH}
"""Words that are another English word, or the same, from behind."""


def english_in(text: str, names: set[str]) -> set[str]:
    """English words of the catalogue that stand in a text; names of parts and files are no words."""
    found = {word.lower() for word in _WORD.findall(text)}
    return (found & WORDS_OF_ENGLISH) - NOT_TURNED - names


@pytest.mark.parametrize("assembly", ["tower", "sealed_tower", "ring_of_four", "arch", "linked_hooks", "two_boxes"])
def test_a_plan_in_a_second_language_has_no_english_word_left(assembly: str) -> None:
    figure = specimens.tower(2) if assembly == "tower" else getattr(specimens, assembly)()
    plan, words = planned(figure), reversed_words()
    names = {word.lower() for part in plan.parts for word in _WORD.findall(f"{part.file} {part.material}")}
    names |= {word.lower() for word in _WORD.findall(specimens.ADHESIVE.name)}
    left = {text: english_in(words.text(text), names) for text in _said(plan)}
    assert {str(text): found for text, found in left.items() if found} == {}


@pytest.mark.parametrize("first_day", ["", "2031-04-07"])
def test_a_plan_with_stands_and_a_calendar_in_a_second_language_has_no_english_word_left(first_day: str) -> None:
    made = figures.KNOWN["floor on site"]()
    settings = settings_of(
        made.given["settings"],
        work_on_bolts=False,
        finish=(FinishOperation(name="9", on="surface", coverage_m2_l=9.0, coats=2, wait_min=480.0),),
        wishes=Wishes(first_day=first_day, deadline=first_day),
    )
    plan = scheduled_plan(planned(made), settings, Finish(seam_mm=6000.0, skin_mm2=6e7))
    plan = replace(plan, findings=(*step_findings(plan, settings.base), *calendar_findings(plan)))
    assert any(step.stands for step in plan.steps)
    codes = {finding.code for finding in plan.findings}
    assert "ground-undecided" in codes
    assert ("deadline-not-met" in codes) == bool(first_day)
    assert plan.calendar is not None
    assert plan.calendar.shortenings
    said = list(_said(plan))
    for decision in open_decisions(replace(settings, assumed=tuple(Assumed)), plan.joints, {}):
        said += [decision.question, decision.assumed]
    names = {word.lower() for text in _strings(asdict(settings)) for word in _WORD.findall(text)}
    words = reversed_words()
    left = {text: english_in(words.text(text), names) for text in said}
    assert {str(text): found for text, found in left.items() if found} == {}


def _strings(record: object) -> Iterator[str]:
    """What a shop or a table says in its own words."""
    if isinstance(record, str):
        yield record
    for inner in record.values() if isinstance(record, dict) else record if isinstance(record, tuple) else ():
        yield from _strings(inner)


def test_one_literal_put_back_is_found() -> None:
    plan = planned(specimens.two_boxes())
    spoilt = replace(plan, steps=(replace(plan.steps[0], notes=("Tighten the nuts.",)), *plan.steps[1:]))
    words = reversed_words()
    assert any(english_in(words.text(text), set()) for text in _said(spoilt))
    assert isinstance(plan.steps[0].title, Said)
