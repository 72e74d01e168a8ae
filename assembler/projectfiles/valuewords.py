"""What would be right where a value of a project file is wrong, in the program's own words; where it stands.

In: the complaint of a model, or the schema of one. Out: words, keys, lines.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

_WORDS = {
    "float_type": "give a number, without quotes",
    "int_type": "give a whole number, without quotes",
    "int_from_float": "give a whole number",
    "bool_type": "give true or false, without quotes",
    "string_type": 'give text in quotes, such as "text"',
    "finite_number": "give a finite number",
    "tuple_type": "give a list in brackets, such as [1, 2]",
    "list_type": "give a list in brackets, such as [1, 2]",
    "dict_type": "write a table of keys and values",
    "greater_than": "give more than {gt:g}",
    "greater_than_equal": "give {ge:g} or more",
    "less_than": "give less than {lt:g}",
    "less_than_equal": "give {le:g} or less",
    "too_short": "give a list of {min_length} or more",
    "too_long": "give a list of {max_length} at most",
    "string_too_short": "give some text",
    "string_too_long": "give at most {max_length} signs",
    "string_pattern_mismatch": "give text of the form {pattern}",
    "literal_error": "give one of: {expected}",
    "enum": "give one of: {expected}",
}
_FORMS = {
    r"^(\d{4}-\d{2}-\d{2})?$": 'give a date such as "2031-04-07", or ""',
    r"^[A-Z]{1,2}$": 'give one or two capital letters, such as "A"',
    r"^[A-Z]{1,3}\d{1,4}[a-z]?$": 'give an id such as "P07"',
}
_HEADER = re.compile(r"^\s*(\[\[?)\s*(.*?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*("[^"]*"|'[^']*'|[\w-]+)\s*[=.]""")
_PIECE = re.compile(r""""[^"]*"|'[^']*'|[^.\s]+""")


def wanted(error: Mapping[str, Any]) -> str:
    """What would be right, for one complaint of pydantic."""
    context = error.get("ctx", {})
    form = _FORMS.get(context.get("pattern", ""))
    if form:
        return form
    if error["type"] == "missing" or error["type"] not in _WORDS:
        message = str(error["msg"]).removeprefix("Value error, ")
        return message[:1].lower() + message[1:]
    return _WORDS[error["type"]].format(**context)


def near_names(name: str, known: Sequence[str]) -> list[str]:
    """At most three names that may have been meant, the nearest first."""
    return get_close_matches(name, known, n=3, cutoff=0.6)


def keys_at(schema: Mapping[str, Any], loc: Sequence[int | str]) -> list[str]:
    """Keys that a table may have.

    Parameters
    ----------
    schema
        JSON schema of the whole file.
    loc
        The way to the table; steps that no file has, such as the name of one of several types, are passed over.
    """
    return sorted(at(schema, loc).get("properties", {}))


def at(schema: Mapping[str, Any], loc: Sequence[int | str]) -> Mapping[str, Any]:
    """The schema of one value; empty where there is none."""
    here = _followed(schema, schema)
    for step in loc:
        if isinstance(step, int):
            here = here.get("items", {})
        elif step in here.get("properties", {}):
            here = here["properties"][step]
        elif isinstance(here.get("additionalProperties"), dict) and "properties" not in here:
            here = here["additionalProperties"]
        here = _followed(schema, here)
    return here


def _followed(schema: Mapping[str, Any], here: Mapping[str, Any]) -> Mapping[str, Any]:
    """Behind references; of several types the one that is a table, or the first that is something."""
    while True:
        if "$ref" in here:
            found = schema["$defs"][here["$ref"].rsplit("/", 1)[1]]
        elif "anyOf" in here:
            some = [_followed(schema, one) for one in here["anyOf"] if one.get("type") != "null"]
            found = next((one for one in some if "properties" in one), some[0])
        else:
            return here
        here = {**found, **{key: value for key, value in here.items() if key not in ("$ref", "anyOf")}}


def line_of(text: str, loc: Sequence[int | str]) -> int:
    """Line of a TOML text that a value, or else the table around it, begins on; 0 where none of it is written.

    Keys inside inline tables are found by their line; entries of one list by the line of the list.
    """
    best, best_line = 0, 0
    counts: dict[tuple[int | str, ...], int] = {}
    table: tuple[int | str, ...] = ()
    for number, line in enumerate(text.splitlines(), 1):
        header = _HEADER.match(line)
        if header:
            table = _counted(tuple(_pieces(header[2])), counts, is_entry=header[1] == "[[")
            here = table
        else:
            key = _KEY.match(line)
            if not key:
                continue
            here = (*table, *_pieces(line.partition("=")[0].strip()))
        if len(here) > best and here == tuple(loc[: len(here)]):
            best, best_line = len(here), number
    return best_line


def _pieces(name: str) -> list[str]:
    return [piece.strip("\"'") for piece in _PIECE.findall(name)]


def _counted(
    names: tuple[str, ...], counts: dict[tuple[int | str, ...], int], *, is_entry: bool
) -> tuple[int | str, ...]:
    """A header with the numbers of the list entries that it stands in."""
    here: tuple[int | str, ...] = ()
    for number, name in enumerate(names, 1):
        here = (*here, name)
        if number == len(names) and is_entry:
            counts[here] = counts.get(here, -1) + 1
        if here in counts:
            here = (*here, counts[here])
    return here
