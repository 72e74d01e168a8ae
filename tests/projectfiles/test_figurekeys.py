"""Every key of figure.toml can be asked for its meaning."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from assembler.cli import main
from assembler.errors import InputError
from assembler.projectfiles.figurekeys import explain_key
from assembler.projectfiles.figuretemplate import FirstGuess, figure_toml


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "figure.toml"
    path.write_text(figure_toml(FirstGuess(name="Heron", unit="mm")), encoding="utf-8")
    return path


def test_every_key_that_a_new_file_has_is_explained_with_source_and_effect(path: Path) -> None:
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    listed = {line.partition(": ")[0]: line.partition(": ")[2] for line in explain_key(path, None)}
    assert all(listed.values()), [key for key, meaning in listed.items() if not meaning]
    for table, keys in content.items():
        for key in keys:
            if table in ("materials", "parts") and isinstance(keys[key], dict) or key == "operation":
                continue
            assert f"{table}.{key}" in listed
    for key in listed:
        for word in ("takes", "default", "source", "effect"):
            assert re.search(rf"^  {word} +\S", "\n".join(explain_key(path, key)), re.MULTILINE), (key, word)


def test_a_key_shows_what_the_file_has_and_in_which_line(path: Path) -> None:
    text = path.read_text(encoding="utf-8").replace("open_min = 25", "open_min = 17")
    path.write_text(text, encoding="utf-8")
    line = next(number for number, line in enumerate(text.splitlines(), 1) if line.startswith("open_min"))
    said = explain_key(path, "open_min")
    assert f"  here     17 (line {line})" in said
    assert "  takes    a number, minutes, more than 0" in said
    assert "  default  none: it has to be stated; a new file has 25" in said
    assert explain_key(path, "adhesive.open_min") == said
    assert "  here     500 (line" in "\n".join(explain_key(path, "materials.timber.density_kg_m3"))


def test_a_key_that_is_not_there_gives_near_ones(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputError, match=r"there is no key 'opne_min'; near it: open_min"):
        explain_key(path, "opne_min")
    assert main(["explain", str(path), "opne_min"]) == 2
    assert main(["explain", str(path), "crew.people"]) == 0
    assert "default  2" in capsys.readouterr().out


def test_a_command_that_is_not_there_gives_the_near_one(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["shwo", "heron", "J01"])
    assert "there is no 'shwo'; did you mean show?" in capsys.readouterr().err


@pytest.mark.parametrize(
    "command", ["survey", "check", "book", "recut", "record", "status", "show", "worksheet", "explain"]
)
def test_the_help_of_each_command_has_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    assert f"Example: assembler {command} " in " ".join(capsys.readouterr().out.split())
