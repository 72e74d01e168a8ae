"""Whatever names and values files bring, a message stays one line of plain signs; a bound can be set by the call."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assembler import cli, roombound
from assembler.errors import LONGEST, Fault, ProjectFileError, on_one_line
from assembler.figure.findings import Finding, Level
from assembler.parallel import workers
from assembler.projectfiles.figurefile import settings_of
from assembler.projectfiles.figuretemplate import FirstGuess, figure_toml
from assembler.projectfiles.toml import plain

NAMES = ["a\nb", "a\rb", "a\x1b[31mb", "a\x07b", "a\x7fb", "a\u202eb", "a\x85b", "a\u2028b", "a\udcffb"]


def is_plain(text: str) -> bool:
    return all(sign.isprintable() for sign in text)


@pytest.mark.parametrize("name", NAMES)
def test_no_name_leaves_its_line_or_speaks_to_the_terminal(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    cli._Progress()(f"reading {name}.stl")
    cli._print_findings([Finding(level=Level.NOTE, code="x", about=(name,), message=f"{name}: odd", remedy=name)])
    cli._report_system(OSError(2, "gone", name))
    cli._report_internal(ValueError(name))
    with pytest.raises(SystemExit):
        cli.main(["check", "project", name])
    said = capsys.readouterr()
    assert len(said.err.splitlines()) == 4
    assert len(said.out.splitlines()) == 2
    assert all(is_plain(line) for line in (*said.err.splitlines(), *said.out.splitlines()))
    assert is_plain(str(Fault(file=name, place=name, wrong=name, right=name)))


@pytest.mark.parametrize("place", range(4))
def test_a_long_piece_gives_way_to_the_short_ones(place: int) -> None:
    words = ["figure.toml", "shop.unit", "got furlong", "use mm"]
    words[place] = "k" * 100_000
    line = f"assembler: {Fault(file=words[0], place=words[1], wrong=words[2], right=words[3])}"
    assert len(line) <= LONGEST
    assert all(word in line for word in words if len(word) < 100)
    assert "k" * 100 in line


def test_a_short_fault_is_said_as_it_is() -> None:
    assert str(Fault(file="a", place="b", wrong="c", right="d")) == "a: b: c; d"
    assert str(Fault(file="", place="", wrong="c", right="")) == "c"
    assert on_one_line("x" * LONGEST, None) == "x" * LONGEST


def test_a_long_name_in_a_line_of_progress_is_cut(capsys: pytest.CaptureFixture[str]) -> None:
    cli._Progress()("n" * 5000)
    (line,) = capsys.readouterr().err.splitlines()
    assert len(line) <= LONGEST


@pytest.mark.parametrize("gib", ["nan", "inf", "0", "-1", "many"])
def test_memory_that_is_none_is_refused(gib: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(["check", "project", "--memory", gib])
    assert ended.value.code == cli.BAD_INPUT
    assert "give GiB from 0.5 to 1024" in capsys.readouterr().err


def test_the_call_says_how_much_memory_workers_included(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []
    monkeypatch.setitem(cli._CALLS, "check", lambda _: seen.append(roombound.memory_gib()) or 0)
    assert cli.main(["check", "project", "--memory", "0.5"]) == 0
    with workers(2) as executor:
        assert executor is not None
        assert executor.submit(roombound.memory_gib).result() == 0.5
    assert cli.main(["check", "project"]) == 0
    assert seen == [0.5, roombound.MEMORY_GIB]


@pytest.mark.parametrize("value", ["true", '"950"', "[950]", "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "nan"])
def test_what_is_no_number_is_none(tmp_path: Path, value: str) -> None:
    content = figure_toml(FirstGuess(name="x", unit="mm")).replace("density_kg_m3 = 950", f"density_kg_m3 = {value}", 1)
    with pytest.raises(ProjectFileError) as caught:
        settings_of(plain(content, tmp_path / "figure.toml"), tmp_path / "figure.toml")
    (line,) = str(caught.value).splitlines()
    assert "density_kg_m3: got " in line


def test_json_speaks_to_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    record = {"a\x9b": "b\u202ec\x1bd\u200fe\U000e0001", "plain": "Größe 漢"}
    cli._print_json(record)
    said = capsys.readouterr().out
    assert all(sign.isprintable() or sign == "\n" for sign in said)
    assert "Größe 漢" in said
    assert json.loads(said) == record
