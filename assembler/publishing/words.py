"""The catalogue of words of a project: the built-in one, with the strings of a file beside the project over it."""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Mapping
from pathlib import Path

from assembler.errors import Fault, TemplateError
from assembler.filegate import read_text
from assembler.words import CATALOGUE, Words, flattened, template_text

_FORM = re.compile(r"\+?(\.\d)?[fg]?")
"""How a number may be written in a gap: so many digits, with its sign; nothing that fills memory with blanks."""


def load_words(overrides: Path | None = None) -> Words:
    """The catalogue: the built-in one, with the strings of a file beside the project over it.

    Parameters
    ----------
    overrides
        Folder that may hold a `words.en.toml` with some of the strings.

    Raises
    ------
    TemplateError
        If a catalogue may not be read, is not valid TOML, or a gap in it is more than a name; the message has the file
        and the line or key.
    """
    built_in = _parsed(template_text(CATALOGUE), CATALOGUE)
    beside = overrides / CATALOGUE if overrides else None
    if overrides is None or beside is None:
        return Words(built_in)
    try:
        text = read_text(beside, root=overrides.parent, error=TemplateError)
    except FileNotFoundError:
        return Words(built_in)
    changed = _parsed(text, str(beside))
    return Words(_merged(built_in, changed), str(beside))


def _parsed(text: str, file: str) -> dict[str, object]:
    try:
        tree = tomllib.loads(text)
        strings = dict(flattened(tree))
    except (tomllib.TOMLDecodeError, RecursionError) as exc:
        wrong = "tables nested too deep" if isinstance(exc, RecursionError) else f"not valid TOML: {exc}"
        raise TemplateError(Fault(file=file, place="", wrong=wrong, right="mend the line or remove the file")) from exc
    faults = [
        Fault(file=file, place=key, wrong=wrong, right="write a gap as a name alone, such as {joint}")
        for key, said in strings.items()
        if (wrong := _wrong_gap(said))
    ]
    if faults:
        raise TemplateError(*faults)
    return tree


def _wrong_gap(said: str) -> str:
    """What is wrong with the gaps of a string: more than a name would reach into things, or fill memory with blanks."""
    try:
        for _, name, form, conversion in string.Formatter().parse(said):
            if name is not None and (conversion or not _FORM.fullmatch(form or "") or not name.isidentifier()):
                return f"a gap that is more than a name: {name!r}"
    except ValueError as exc:
        return f"braces that are no gap: {exc}"
    return ""


def _merged(below: Mapping[str, object], over: Mapping[str, object]) -> dict[str, object]:
    result = dict(below)
    for key, value in over.items():
        old = result.get(key)
        result[key] = _merged(old, value) if isinstance(old, Mapping) and isinstance(value, Mapping) else value
    return result
