"""Templates and words: found in the source tree, overridden beside a project, and refused with file and line."""

from __future__ import annotations

from pathlib import Path

import pytest

from assembler.errors import TemplateError
from assembler.publishing.templating import Templates
from assembler.publishing.words import load_words
from assembler.words import Words, template_folder, template_text


def test_templates_are_found_from_the_source_tree() -> None:
    assert (template_folder() / "piece.html").is_file()
    assert "@page" in template_text("book.css")


def test_a_file_beside_the_project_wins(tmp_path: Path) -> None:
    (tmp_path / "gate.html").write_text("<p>our own gate</p>")
    assert Templates(tmp_path, {}).filled("gate.html") == "<p>our own gate</p>"


@pytest.mark.parametrize(
    ("text", "line", "wrong"),
    [
        ("<p>\n{% if %}\n</p>", 2, "Expected an expression"),
        ("<p>\n\n{{ nobody }}</p>", 3, "'nobody' is undefined"),
        ("<p>{{ step.nothing }}</p>", 1, "has no attribute 'nothing'"),
        ("<p>\n{{ 1 / 0 }}</p>", 2, "division by zero"),
        ("<p>{{ 'x' | nofilter }}</p>", 1, "No filter named 'nofilter'"),
    ],
)
def test_a_broken_override_is_named_with_its_line(tmp_path: Path, text: str, line: int, wrong: str) -> None:
    (tmp_path / "gate.html").write_text(text)
    with pytest.raises(TemplateError) as caught:
        Templates(tmp_path, {}).filled("gate.html", step=object())
    (fault,) = caught.value.faults
    assert fault.file == str(tmp_path / "gate.html")
    assert fault.place == f"line {line}"
    assert wrong in fault.wrong
    assert "remove the file" in fault.right


def test_a_template_that_includes_nothing_that_exists(tmp_path: Path) -> None:
    (tmp_path / "gate.html").write_text("{% include 'nowhere.html' %}")
    with pytest.raises(TemplateError, match=r"nowhere.html: there is no such template"):
        Templates(tmp_path, {}).filled("gate.html")


def test_single_strings_can_be_replaced(tmp_path: Path) -> None:
    (tmp_path / "words.en.toml").write_text('[gate]\nword = "HALT"\n')
    words = load_words(tmp_path)
    assert words("gate.word") == "HALT"
    assert words("gate.at") == "at"


def test_a_broken_catalogue_is_named_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "words.en.toml").write_text("[gate]\nword = HALT\n")
    with pytest.raises(TemplateError, match=r"words.en.toml: not valid TOML.*line 2"):
        load_words(tmp_path)


def test_a_missing_string_is_named() -> None:
    with pytest.raises(TemplateError, match=r"words.en.toml: gate.nothing: this string is missing"):
        load_words()("gate.nothing")


def test_a_gap_nobody_fills_is_named() -> None:
    words = Words({"gate": {"line": "Not before {joint}, {hour}"}})
    with pytest.raises(
        TemplateError, match=r"gate.line: a gap that cannot be filled: 'hour'; gaps of this string: joint"
    ):
        words("gate.line", joint="J03")


@pytest.mark.parametrize(
    ("names", "said"), [([], ""), (["P01"], "P01"), (["P01", "P02"], "P01 and P02"), (list("abc"), "a, b and c")]
)
def test_names_are_listed_as_words(names: list[str], said: str) -> None:
    assert load_words().listed(names) == said
