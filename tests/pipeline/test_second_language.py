"""A whole book in a second language: the built-in catalogue with every word reversed leaves no English word in it."""

from __future__ import annotations

import csv
import re
import tomllib
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import tomlkit
from pypdf import PdfReader

import assembler
from assembler.cli import main
from assembler.projectfiles.figurefile import read_settings
from assembler.publishing.book import DOCUMENTS
from assembler.words import CATALOGUE, template_text
from tests.pipeline.test_recut_trip import _export, _half_rings
from tests.pipeline.tower import write_tower
from tests.test_words import english_in, reversed_text

TABLES = Path(assembler.__file__).parent / "catalogue" / "data"
QUOTED = ("author", "title", "place", "text", "address", "name", "note", "operation")
"""Columns of the tables that a page prints as they are: titles of works, places in them, what shops call their work."""
UNITS_AND_STANDARDS = {"iso", "min", "mpa"}


_VAN = """
[vehicle]
length_mm = 3000
width_mm = 1700
height_mm = 1800
payload_kg = 900

[base]
"""
"""Takes the tower whole: one crate, and an install book."""


def _turned(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: reversed_text(value) if isinstance(value, str) else _turned(value) for key, value in table.items()}


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tower on its base and its anchors with a catalogue of its own: issued as A, its days counted from the first.

    Then it is cut again and written as a draft with its changes, by dates, the end too late for its deadline.
    """
    folder = tmp_path_factory.mktemp("language")
    root = folder / "tower"
    assert main(["survey", str(write_tower(folder / "exports")), str(root)]) == 0
    (root / "templates").mkdir()
    turned = tomlkit.dumps(_turned(tomllib.loads(template_text(CATALOGUE))))
    (root / "templates" / CATALOGUE).write_text(turned, encoding="utf-8")
    _state(root, ("anchors = 0", "anchors = 4"), ('anchor_size = ""', 'anchor_size = "M12"'))
    _state(root, ("\n[base]\n", _VAN))
    assert main(["book", str(root), "--issue"]) == 0
    _state(root, ('first_day = ""', 'first_day = "2031-04-07"'), ('deadline = ""', 'deadline = "2031-04-08"'))
    (root / "parts" / "ring lower.stl").unlink()
    for name, solid in _half_rings().items():
        _export(root / "parts" / name, solid)
    assert main(["recut", str(root), "--since", str(root / "books" / "A")]) <= 1
    assert main(["book", str(root)]) <= 1
    return root


def _state(root: Path, *stated: tuple[str, str]) -> None:
    file = root / "figure.toml"
    text = file.read_text(encoding="utf-8")
    for before, after in stated:
        assert text.count(before) == 1
        text = text.replace(before, after)
    file.write_text(text, encoding="utf-8")


def _strings(record: object) -> Iterator[str]:
    if isinstance(record, str):
        yield record
    elif isinstance(record, Mapping):
        for value in record.values():
            yield from _strings(value)
    elif isinstance(record, list | tuple):
        for value in record:
            yield from _strings(value)


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _of_others(root: Path) -> list[str]:
    """What no catalogue says: names of parts, the words of figure.toml, and what the tables quote of their sources."""
    rows = [row for path in sorted(TABLES.glob("*.csv")) for row in _rows(path)]
    quoted = [row[column] for row in rows for column in QUOTED if row.get(column)]
    parts = [path.stem for path in root.glob("parts/*.stl")] + ["ring lower"]
    texts = {*quoted, *parts, *_strings(asdict(read_settings(root / "figure.toml")))}
    return sorted((text for text in texts if re.search("[A-Za-z]{3}", text)), key=lambda text: (-len(text), text))


def _without(text: str, others: Iterable[str]) -> str:
    """A text without what others said, wherever its lines break."""
    for other in others:
        if other.split()[0][:8] not in text:
            continue
        letters = (re.escape(letter) for letter in re.sub(r"\s", "", other))
        text = re.sub(r"(?<![A-Za-z])" + r"[\s\u00ad]*".join(letters) + r"(?![A-Za-z])", " ", text)
    return text


def _left(root: Path, text: str) -> set[str]:
    # A page may set two letters as one sign.
    return english_in(_without(unicodedata.normalize("NFKC", text), _of_others(root)), UNITS_AND_STANDARDS)


@pytest.mark.parametrize(
    "file",
    [f"{book}/{document}" for book in ("A", "draft") for document in DOCUMENTS.values()] + ["change-sheet.pdf"],
)
def test_no_english_word_is_left_on_a_page(project: Path, file: str) -> None:
    pages = [page.extract_text() for page in PdfReader(project / "books" / file).pages]
    assert pages
    assert {number: left for number, page in enumerate(pages, 1) if (left := _left(project, page))} == {}


def test_no_english_word_is_left_in_the_tables(project: Path) -> None:
    book = project / "books" / "draft"
    cells = [cell for row in _rows(book / "hardware.csv") for cell in (row["item"], row["size"], row["tool"])]
    sheets = openpyxl.load_workbook(book / "hardware.xlsx")
    cells += [
        str(cell) for sheet in sheets for row in sheet.values for cell in row if cell is not None
    ] + sheets.sheetnames
    assert cells
    assert _left(project, "\n".join(cells)) == set()


def test_a_word_that_is_put_back_is_found(project: Path) -> None:
    page = PdfReader(project / "books" / "A" / DOCUMENTS["crew"]).pages[0].extract_text()
    assert _left(project, f"{page}\nring lower: tighten the bolts") == {"tighten", "the", "bolts"}
