"""The hardware list as a workbook: one sheet to buy from, one to fill the bags from. The one owner of XlsxWriter.

Goes in: hardware lines and buying lines. Comes out: the bytes of hardware.xlsx.
"""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence

import xlsxwriter
from xlsxwriter.exceptions import XlsxInputError

from assembler.errors import Fault, TemplateError
from assembler.figure.hardware import BuyLine, HardwareLine
from assembler.publishing.hardwarepages import sorted_lines
from assembler.words import CATALOGUE, Words

MADE = datetime.datetime(2000, 1, 1)
"""Stands in every workbook as its date: the time of the run must not get into the bytes."""
BUY_COLUMNS = ("item", "figure", "spares", "total", "packs", "pack")
BAG_COLUMNS = ("joint", "item", "kind", "size", "length", "count", "torque")
_WIDTHS = {"item": 54.0, "kind": 12.0}
_WIDTH = 14.0
_NUMBERS = {"figure", "spares", "total", "packs", "pack", "length", "count", "torque"}

Cell = str | float
Row = tuple[Cell | None, ...]


def hardware_xlsx(lines: Sequence[HardwareLine], buy: Sequence[BuyLine], words: Words) -> bytes:
    """The bytes of hardware.xlsx; the same lines give the same bytes.

    Cells that do not apply are empty. Without hardware both sheets have their heads only.

    Parameters
    ----------
    lines
        Pieces of each joint.
    buy
        Totals; the pieces to buy are those in the figure plus the spares.
    words
        Names of sheets and columns.

    Raises
    ------
    TemplateError
        If a sheet cannot have the name that the catalogue gives it.
    """
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream, {"in_memory": True})
    book.set_properties({"title": words("table.title"), "created": MADE})
    _fill(book, words, "buy", BUY_COLUMNS, [_buy_row(words, row) for row in buy])
    _fill(book, words, "bags", BAG_COLUMNS, [_bag_row(words, line) for line in sorted_lines(lines)])
    book.close()
    return stream.getvalue()


def _buy_row(words: Words, row: BuyLine) -> Row:
    return (words.text(row.item), row.count, row.spares, row.count + row.spares, row.packs, row.pack)


def _bag_row(words: Words, line: HardwareLine) -> Row:
    length, torque = line.length_mm or None, line.torque_nm or None
    named = f"piece.{line.kind}.one"
    kind = words(named) if words.has(named) else line.kind
    return (line.joint, words.text(line.item), kind, line.size, length, line.count, torque)


def _fill(book: xlsxwriter.Workbook, words: Words, name: str, columns: Sequence[str], rows: Sequence[Row]) -> None:
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
