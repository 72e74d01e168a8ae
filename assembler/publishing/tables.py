"""The hardware list as one table: hardware.csv, and hardware.xlsx by bag, by step and to buy.

Goes in: supplies. Comes out: text and bytes. The one owner of XlsxWriter.
"""

from __future__ import annotations

import csv
import datetime
import io
import re
from collections.abc import Sequence
from dataclasses import fields, replace

import xlsxwriter
from xlsxwriter.exceptions import XlsxInputError

from assembler.errors import Fault, TemplateError
from assembler.figure.ids import natural_key
from assembler.publishing.supplies import PIECES, SPARES, Supply, to_buy
from assembler.words import CATALOGUE, Words

COLUMNS = tuple(field.name for field in fields(Supply))
"""Head of hardware.csv: one meaning a row, see `Supply`."""
BY_STEP = ("step", *(name for name in COLUMNS if name not in ("step", "spare", "packs")))
BY_BAG = ("bag", *(name for name in COLUMNS if name != "bag"))
TO_BUY = ("item", "standard", "size", "length_mm", "grade", "coating", "unit", "count", "spare", "total", "packs")
PACKED = ("crate", "kind", "item")
MADE = datetime.datetime(2000, 1, 1)
"""Stands in every workbook as its date: the time of the run must not get into the bytes."""
_WIDTHS = {"item": 28.0, "coating": 34.0, "tool": 22.0}
_WIDTH = 12.0
_NUMBERS = {"length_mm", "count", "spare", "packs", "total", "torque_nm"}
_FORMULA = re.compile(r"(^|;\s*)(?=[=+@\0\uff1d\uff0b\uff0d\uff20-])")

Cell = str | float | None


def hardware_csv(rows: Sequence[Supply]) -> str:
    """The text of hardware.csv, UTF-8, comma separated, one head line; cells that do not apply are empty."""
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for row in rows:
        table.writerow([_written(value) for value in _cells(row, COLUMNS)])
    return text.getvalue()


def _cells(row: Supply, columns: Sequence[str]) -> list[Cell]:
    """Values of a row; numbers that say nothing are empty."""
    return [getattr(row, name) or None for name in columns]


def _written(value: Cell) -> str:
    if value is None:
        return ""
    return plain_text(value) if isinstance(value, str) else f"{value:.10g}"


def hardware_xlsx(rows: Sequence[Supply], words: Words, packing: Sequence[tuple[str, str, str]] = ()) -> bytes:
    """The bytes of hardware.xlsx; the same rows give the same bytes.

    Parameters
    ----------
    rows
        Supplies.
    words
        Names of sheets and columns.
    packing
        Crate, kind and name of what lies in the crates; empty: no sheet of its own.

    Raises
    ------
    TemplateError
        If a sheet cannot have the name that the catalogue gives it.
    """
    rows = [_said(row, words) for row in rows]
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream, {"in_memory": True})
    book.set_properties({"title": words("table.title"), "created": MADE})
    by_bag = sorted((row for row in rows if row.bag), key=lambda row: natural_key(row.bag))
    by_step = sorted((row for row in rows if row.step), key=lambda row: natural_key(row.step))
    bought = [
        [*_cells(one.first, TO_BUY[:7]), one.count or None, one.spare or None, one.count + one.spare, one.packs or None]
        for one in to_buy(rows)
    ]
    _fill(book, words, "bag", BY_BAG, [_cells(row, BY_BAG) for row in by_bag])
    _fill(book, words, "step", BY_STEP, [_cells(row, BY_STEP) for row in by_step])
    _fill(book, words, "buy", TO_BUY, bought)
    if packing:
        _fill(book, words, "crate", PACKED, packing)
    book.close()
    return stream.getvalue()


def _said(row: Supply, words: Words) -> Supply:
    """A row whose unit and place are said as a person reads them; hardware.csv keeps them for programs."""
    unit = words("table.pieces") if row.unit == PIECES else row.unit
    return replace(row, unit=unit, bag=words("table.spares") if row.bag == SPARES else row.bag)


def _fill(
    book: xlsxwriter.Workbook, words: Words, name: str, columns: Sequence[str], rows: Sequence[Sequence[Cell]]
) -> None:
    key = f"table.sheet.{name}"
    try:
        sheet = book.add_worksheet(words(key))
    except XlsxInputError as exc:
        right = "a name of 1 to 31 characters, used once, without []:*?/\\"
        raise TemplateError(Fault(file=CATALOGUE, place=key, wrong=f"got {words(key)[:40]!r}", right=right)) from exc
    head = book.add_format({"bold": True, "bottom": 2, "text_wrap": True, "valign": "top"})
    plain, number = book.add_format({"bottom": 4}), book.add_format({"bottom": 4, "num_format": "0.##"})
    for place, column in enumerate(columns):
        sheet.write_string(0, place, words(f"table.column.{column}"), head)
        sheet.set_column(place, place, _WIDTHS.get(column, _WIDTH))
    for line, row in enumerate(rows, start=1):
        for place, (column, value) in enumerate(zip(columns, row, strict=True)):
            if value is None:
                sheet.write_blank(line, place, None, plain)
            elif column in _NUMBERS:
                sheet.write_number(line, place, float(value), number)
            else:
                sheet.write_string(line, place, str(value), plain)
    sheet.freeze_panes(1, 0)
    sheet.autofilter(0, 0, max(len(rows), 1), len(columns) - 1)
    sheet.repeat_rows(0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)


def plain_text(text: str) -> str:
    """A text that no spreadsheet takes for a formula, on one line.

    What begins like a formula gets the mark for text that spreadsheets know, an apostrophe; also behind a semicolon,
    which begins a cell where the comma is the decimal sign.

    References
    ----------
    OWASP Application Security Verification Standard 5.0, 1.2.10 (characters that begin a formula). Their full-width
    forms: from memory, no source.
    """
    return _FORMULA.sub(r"\1'", " ".join(text.split()))
