"""One line of a calculation, and how its numbers are written."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assembler.catalogue.records import Sureness
from assembler.words import Text, Value, say

PRACTICE = Sureness.COMMON_PRACTICE.label
SURVEY = say("source.survey")


@dataclass(frozen=True, slots=True, kw_only=True)
class WorksheetRow:
    """One line of a calculation.

    Parameters
    ----------
    code
        Which: `sheet.<code>` in the catalogue of words.
    about
        Joint, or the bolts that the line is for.
    quantity
        What is computed.
    formula
        In words and signs; empty for a value that is looked up or stated.
    inputs
        The formula with its numbers.
    result
        As printed; words where the result is a choice.
    unit
        Of the result; empty for words and counts.
    source
        Of the formula or the value, with how sure it is.
    """

    code: str
    about: Text
    quantity: Text
    formula: Text
    inputs: Text
    result: Text
    unit: str
    source: Text


def sheet_row(code: str, about: Text, result: Text, unit: str, source: Text, /, **values: Value) -> WorksheetRow:
    """A line whose words are `sheet.<code>.quantity`, `formula` and `inputs` of the catalogue, filled with values."""
    quantity, formula, inputs = (say(f"sheet.{code}.{name}", **values) for name in ("quantity", "formula", "inputs"))
    return WorksheetRow(
        code=code,
        about=about,
        quantity=quantity,
        formula=formula,
        inputs=inputs,
        result=result,
        unit=unit,
        source=source,
    )


def two_digits_down(value: float) -> str:
    """A number rounded down to two digits: more would pretend to a sureness that factors of safety do not have."""
    if value <= 0:
        return "0"
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return f"{math.floor(value / step + 1e-9) * step:.10g}"
