"""The hardware list as a table for a spreadsheet: totals to buy first, then the bag of each joint.

Goes in: hardware lines and buying lines. Comes out: the text of hardware.csv.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence

from assembler.figure.hardware import BuyLine, HardwareLine
from assembler.publishing.hardwarepages import sorted_lines
from assembler.words import Words

COLUMNS = (
    "list",
    "bag",
    "item",
    "kind",
    "size",
    "length_mm",
    "count",
    "spares",
    "packs",
    "pack",
    "torque_nm",
)
"""Head of the table; 'list' is 'buy' or 'bag'."""
_FORMULA = re.compile(r"(^|;\s*)(?=[=+@\0\uff1d\uff0b\uff0d\uff20-])")


def hardware_csv(words: Words, lines: Sequence[HardwareLine], buy: Sequence[BuyLine]) -> str:
    """The text of hardware.csv, UTF-8, comma separated, one head line.

    Lines 'buy' have the pieces of the whole figure, spares and packs; lines 'bag' have the pieces of one joint. Cells
    that do not apply are empty. Without hardware only the head is left.

    Parameters
    ----------
    words
        The catalogue.
    lines
        Pieces of each joint.
    buy
        Totals.
    """
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, COLUMNS, restval="", lineterminator="\n")
    table.writeheader()
    for row in buy:
        table.writerow(
            {
                "list": "buy",
                "item": plain_text(words.text(row.item)),
                "kind": plain_text(row.kind),
                "count": row.count,
                "spares": row.spares,
                "packs": row.packs,
                "pack": row.pack,
            }
        )
    for line in sorted_lines(lines):
        table.writerow(
            {
                "list": "bag",
                "bag": plain_text(line.joint),
                "item": plain_text(words.text(line.item)),
                "kind": plain_text(line.kind),
                "size": plain_text(line.size),
                "length_mm": f"{line.length_mm:g}" if line.length_mm else "",
                "count": line.count,
                "torque_nm": f"{line.torque_nm:g}" if line.torque_nm else "",
            }
        )
    return text.getvalue()


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
