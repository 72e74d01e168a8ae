"""The one catalogue of every string on the pages; another language is another file."""

from __future__ import annotations

import string
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path

from assembler.errors import Fault, TemplateError
from assembler.filegate import read_text
from assembler.publishing.templating import template_text

CATALOGUE = "words.en.toml"


class Words:
    """Strings by dotted key, with named gaps that are filled when they are said.

    Parameters
    ----------
    tree
        Nested tables of strings, as read from the catalogue.
    file
        Name of the catalogue, for messages.
    """

    def __init__(self, tree: Mapping[str, object], file: str = CATALOGUE) -> None:
        self._flat = dict(_flattened(tree, ""))
        self._file = file

    def __call__(self, key: str, /, **gaps: object) -> str:
        """The string of a key with its gaps filled.

        Raises
        ------
        TemplateError
            If the catalogue lacks the key, or the string has a gap that is not filled.
        """
        if key not in self._flat:
            raise TemplateError(
                Fault(file=self._file, place=key, wrong="this string is missing", right="add it to the catalogue")
            )
        try:
            return self._flat[key].format(**gaps)
        except (KeyError, IndexError, ValueError) as exc:
            known = ", ".join(sorted(gaps)) or "none"
            raise TemplateError(
                Fault(
                    file=self._file,
                    place=key,
                    wrong=f"a gap that cannot be filled: {exc}",
                    right=f"gaps of this string: {known}",
                )
            ) from exc

    def has(self, key: str) -> bool:
        """Whether the catalogue has a string of this key."""
        return key in self._flat

    def count(self, key: str, count: int, /, **gaps: object) -> str:
        """The string for one or for many ('bolt.one', 'bolt.many'), with the gap `count`."""
        return self(f"{key}.{'one' if count == 1 else 'many'}", count=count, **gaps)

    def listed(self, names: Iterable[str]) -> str:
        """Names in the order given, as words: 'P01, P02 and P03'."""
        items = list(names)
        if len(items) < 2:
            return "".join(items)
        return self("list.last", first=", ".join(items[:-1]), last=items[-1])

    def span(self, first: str, last: str) -> str:
        """From one id to another: 'P11 – P20'; one id alone where they are the same."""
        return first if first == last else self("list.span", first=first, last=last)


def _flattened(tree: Mapping[str, object], above: str) -> Iterable[tuple[str, str]]:
    for key, value in tree.items():
        name = f"{above}.{key}" if above else key
        if isinstance(value, Mapping):
            yield from _flattened(value, name)
        else:
            yield name, str(value)


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
        strings = dict(_flattened(tree, ""))
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
            if name is not None and (form or conversion or not name.isidentifier()):
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
