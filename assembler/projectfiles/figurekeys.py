"""What does a key of figure.toml mean? Its place and a file in, lines of words out.

All that is said stands where the key is declared: in the records of `figure.settings` and the tables of `figurefile`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from assembler.errors import Fault, InputError
from assembler.projectfiles.figurefile import settings_schema
from assembler.projectfiles.figuretemplate import FirstGuess, figure_toml
from assembler.projectfiles.toml import file_text, plain
from assembler.projectfiles.valuewords import at, line_of, near_names

_TYPES = {"number": "a number", "integer": "a whole number", "string": "text", "boolean": "true or false"}
_LIMITS = {
    "exclusiveMinimum": "more than {:g}",
    "minimum": "{:g} or more",
    "exclusiveMaximum": "less than {:g}",
    "maximum": "{:g} or less",
}
_NO_LIMIT = 1e9
_UNITS = {
    "_mm": "mm",
    "_min": "minutes",
    "_c": "degrees Celsius",
    "_h": "hours of the day",
    "_kg": "kg",
    "_mpa": "MPa",
    "_deg": "degrees",
    "_ml": "ml",
    "_percent": "percent",
    "_mm2": "mm2",
    "_kg_m3": "kg/m3",
    "_m2_l": "m2 per litre",
    "_mm2_min": "mm2 a minute",
    "_mm_min": "mm a minute",
}
_NAMED = ("materials", "parts")
"""Tables of tables with names of the shop's own."""
_LISTED = ("passage", "section")
"""Tables that stand in the file as often as there is one of their kind, under [[...]]."""


def explain_key(path: Path, key: str | None) -> list[str]:
    """Lines about one key, or about all keys of a table, or of the file.

    Parameters
    ----------
    path
        figure.toml.
    key
        'adhesive.open_min', 'open_min' where only one table has it, 'adhesive', or None.

    Raises
    ------
    InputError
        If there is no such key, or the file is no TOML.
    """
    text = file_text(path)
    content = plain(text, path)
    schema = settings_schema()
    known = dict(_declared(schema))
    if key is None or key in {name.partition(".")[0] for name in known}:
        return [line for name in known if key in (None, name.partition(".")[0]) for line in _short(name, known[name])]
    chosen = [name for name in known if _is_meant(name, key)]
    if not chosen:
        near = near_names(key, [*known, *(name.rpartition(".")[2] for name in known)])
        right = f"near it: {', '.join(near)}" if near else "call it without KEY for a list of all"
        raise InputError(Fault(file=str(path), place="KEY", wrong=f"there is no key {key!r}", right=right))
    first = tomllib.loads(figure_toml(FirstGuess(name="", unit="mm")))
    return [line for name in chosen for line in _long(_asked(name, key), known[name], content, first, text)]


def _is_meant(name: str, key: str) -> bool:
    """Whether a key as somebody wrote it names a declared one: with or without table, or with a name of the shop's."""
    table, _, last = name.rpartition(".")
    return key in (name, last) or (
        table.endswith(".NAME") and key.startswith(table.removesuffix("NAME")) and key.endswith(f".{last}")
    )


def _asked(name: str, key: str) -> str:
    """The key with the name of the shop's own that was asked for."""
    return key if ".NAME." in name and key.count(".") == name.count(".") else name


def _declared(schema: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every key with its schema, its meaning, and what is said of its table."""
    for table in schema["properties"]:
        loc: tuple[str | int, ...] = (table, "NAME") if table in _NAMED else (table,)
        loc = (table, 0) if table in _LISTED else loc
        if table == "parts":
            said = {"effect": "mass of every part without a rule of its own", "source": "assumed, until you decide"}
            yield "parts.material", {"type": "string", "means": "Of every part without a rule of its own.", **said}
        yield from _of_table(schema, loc)
        if table == "finish":
            yield from _of_table(schema, ("finish", "operation", 0))


def _of_table(schema: Mapping[str, Any], loc: tuple[str | int, ...]) -> Iterator[tuple[str, dict[str, Any]]]:
    here = at(schema, loc)
    means, effect, source = _words(here.get("description", ""))
    name = ".".join(str(step) for step in loc if step != 0)
    for key in here["properties"]:
        if key == "name" and loc[0] == "materials":
            # It is the name of the table.
            continue
        about = dict(at(schema, (*loc, key)))
        about["is_needed"] = key in here.get("required", ())
        yield f"{name}.{key}", {**about, "means": means.get(key, ""), "effect": effect, "source": source}


def _words(description: str) -> tuple[dict[str, str], str, str]:
    """Meaning of each key, effect and source of a table, out of its numpydoc text."""
    parameters, _, notes = description.partition("Notes\n-----\n")
    means: dict[str, str] = {}
    for found in re.finditer(r"^(\w[\w, ]*)\n((?:    .*\n?)+)", parameters.partition("----------\n")[2], re.MULTILINE):
        for key in found[1].split(", "):
            means[key] = " ".join(found[2].split()).replace("None:", "left out:").replace("`", "'")
    said = dict(re.findall(r"^(Effect|Source): (.*(?:\n(?!Source|Effect).+)*)", notes, re.MULTILINE))
    return means, said.get("Effect", "").rstrip("."), said.get("Source", "").rstrip(".")


def _short(name: str, about: Mapping[str, Any]) -> list[str]:
    return [f"{name}: {about['means']}"]


def _long(
    name: str, about: Mapping[str, Any], content: Mapping[str, Any], first: Mapping[str, Any], text: str
) -> list[str]:
    default = _written(about["default"]) if about.get("default") is not None else ""
    new = _written(_value(first, name))
    lines = [
        f"{name}",
        f"  means    {about['means']}",
        f"  takes    {_takes(name, about)}",
        f"  default  {default or ('none: it has to be stated' if about.get('is_needed') else 'not stated')}"
        + (f"; a new file has {new}" if new not in ("", default) else ""),
        f"  source   {about['source']}",
        f"  effect   {about['effect']}",
    ]
    here = _written(_value(content, name))
    if here:
        lines.insert(1, f"  here     {here} (line {line_of(text, name.split('.'))})")
    return lines


def _value(content: Mapping[str, Any], name: str) -> Any:
    """What a file has; None where it has none, or one for each of several names."""
    here: Any = content
    for step in name.split("."):
        here = here.get(step) if isinstance(here, Mapping) else None
    return here


def _written(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_written(one) for one in value)}]"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _takes(name: str, about: Mapping[str, Any]) -> str:
    """Kind of value, its unit, and its limits."""
    choice = about.get("enum") or about.get("items", {}).get("enum")
    words = [_TYPES.get(about.get("type", ""), "a list")]
    if choice:
        start = "a list, each one of: " if about.get("type") == "array" else "one of: "
        words = [start + ", ".join(_written(one) for one in choice)]
    key = name.rpartition(".")[2]
    units = [unit for end, unit in sorted(_UNITS.items(), key=lambda pair: -len(pair[0])) if key.endswith(end)]
    words += units[:1]
    words += [
        form.format(about[limit]) for limit, form in _LIMITS.items() if abs(about.get(limit, _NO_LIMIT)) < _NO_LIMIT
    ]
    return ", ".join(words)
