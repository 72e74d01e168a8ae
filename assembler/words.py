"""What is said, as a code with values, and the catalogue of words that makes the text of it.

Every room above says by code and values (`say`); nothing reads a fact out of a text again. Another language is another
file with the same codes.
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias, Union

import assembler
from assembler.errors import Fault, TemplateError

CATALOGUE = "words.en.toml"

Value: TypeAlias = Union[str, int, float, "Said", tuple["Value", ...]]
"""What fills a gap: a name, a number, something said, or several of these, which are listed with commas."""


@dataclass(frozen=True, slots=True, eq=False)
class Said:
    """A sentence or part of one: a string of the catalogue, and what fills its gaps.

    `str` makes the built-in English of it. In an f-string it is an error: text made of texts has no code. Two are equal
    where they say the same: digits that are not written tell no difference, nor does a book that kept the text alone.

    Parameters
    ----------
    code
        Dotted key in the catalogue.
    values
        Gap and value, in the order of the gaps' names; numbers carry their unit in the name.
    """

    code: str
    values: tuple[tuple[str, Any], ...] = ()

    def __eq__(self, other: object) -> bool:
        return str(self) == str(other) if isinstance(other, Said | str) else NotImplemented

    def __hash__(self) -> int:
        return hash(str(self))

    def __str__(self) -> str:
        return built_in().text(self)

    def __format__(self, form: str) -> str:
        raise TypeError(f"{self.code} is put into a text: put it into a gap, or make a text of it first")


Text: TypeAlias = Said | str
"""Something said, or words that somebody else wrote (a shop, a crew, a book of an earlier version)."""


def say(code: str, /, **values: Value) -> Said:
    """The sentence of a code with its values; numbers to nine digits, so that noise makes no other sentence."""
    return Said(code, tuple((gap, _steady(values[gap])) for gap in sorted(values)))


def _steady(value: Value) -> Value:
    if isinstance(value, tuple):
        return tuple(_steady(each) for each in value)
    return float(f"{value:.9g}") if isinstance(value, float) else value


def also(texts: Iterable[Text], code: str = "list.also") -> Text:
    """Several texts as one, one behind the other; empty for none.

    Parameters
    ----------
    texts
        In their order.
    code
        How two are joined: a string with the gaps `first` and `last`.
    """
    joined: Text = ""
    for text in texts:
        joined = say(code, first=joined, last=text) if joined else text
    return joined


def both(names: Iterable[str | Said]) -> Text:
    """Names in the order given, the last one with 'and'."""
    items = tuple(names)
    if len(items) < 2:
        return items[0] if items else ""
    return say("list.last", first=items[:-1], last=items[-1])


def counted(code: str, count: int, /, **values: Value) -> Said:
    """The saying for one or for many (`<code>.one`, `<code>.many`), with the gap `count`."""
    return say(f"{code}.{'one' if count == 1 else 'many'}", count=count, **values)


def said_record(said: Text) -> dict[str, Any] | str:
    """Code and values as plain values, ready for JSON; a text as it is."""
    if isinstance(said, str):
        return said
    return {"code": said.code, "values": {gap: _plain(value) for gap, value in said.values}}


def _plain(value: Value) -> Any:
    if isinstance(value, Said):
        return said_record(value)
    return [_plain(each) for each in value] if isinstance(value, tuple) else value


def said_of(record: Mapping[str, Any] | str) -> Text:
    """What plain values say.

    Raises
    ------
    ValueError
        If they do not fit.
    """
    if isinstance(record, str):
        return record
    code, values = record.get("code"), record.get("values")
    if not isinstance(code, str) or not isinstance(values, Mapping):
        raise ValueError("something said has a code and values")
    return say(code, **{str(gap): _value(value) for gap, value in values.items()})


def codes_in(record: Any) -> set[str]:
    """Codes of something said, given as plain values, and of all that fills its gaps."""
    if isinstance(record, Mapping):
        inner = set().union(*(codes_in(value) for value in record.get("values", {}).values()))
        return {*inner, str(record.get("code", ""))}
    return set().union(*map(codes_in, record)) if isinstance(record, list | tuple) else set()


def _value(value: Any) -> Value:
    if isinstance(value, Mapping):
        return said_of(value)
    if isinstance(value, list):
        return tuple(_value(each) for each in value)
    if isinstance(value, str | int | float):
        return value
    raise ValueError(f"{value!r} is no value of something said")


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
        self._flat = dict(flattened(tree))
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
            return self._flat[key].format(**{gap: self._filling(value) for gap, value in gaps.items()})
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

    def _filling(self, value: object) -> object:
        if isinstance(value, tuple):
            return ", ".join(str(self._filling(each)) for each in value)
        return self.text(value) if isinstance(value, Said) else value

    def text(self, text: Text) -> str:
        """The text of something said; what somebody else wrote stays as it is."""
        return text if isinstance(text, str) else self(text.code, **dict(text.values))

    def under(self, table: str) -> dict[str, str]:
        """Strings of one table, by their keys in it."""
        above = f"{table}."
        return {key.removeprefix(above): text for key, text in self._flat.items() if key.startswith(above)}

    def has(self, key: str) -> bool:
        """Whether the catalogue has a string of this key."""
        return key in self._flat

    def count(self, key: str, count: int, /, **gaps: object) -> str:
        """The string for one or for many ('bolt.one', 'bolt.many'), with the gap `count`."""
        return self(f"{key}.{'one' if count == 1 else 'many'}", count=count, **gaps)

    def listed(self, names: Iterable[str]) -> str:
        """Names in the order given, as words: 'P01, P02 and P03'."""
        return self.text(both(names))

    def span(self, first: str, last: str) -> str:
        """From one id to another: 'P11 – P20'; one id alone where they are the same."""
        return first if first == last else self("list.span", first=first, last=last)


def flattened(tree: Mapping[str, object], above: str = "") -> Iterable[tuple[str, str]]:
    """Strings of nested tables by dotted key."""
    for key, value in tree.items():
        name = f"{above}.{key}" if above else key
        if isinstance(value, Mapping):
            yield from flattened(value, name)
        else:
            yield name, str(value)


@functools.cache
def built_in() -> Words:
    """The catalogue that comes with the program."""
    return Words(tomllib.loads(template_text(CATALOGUE)))


def template_folder() -> Path:
    """Folder of catalogue and page templates: `assembler/_templates` in the wheel, `templates/` in the source tree.

    Raises
    ------
    TemplateError
        If neither folder is there: the installation is damaged.
    """
    package = Path(assembler.__file__).resolve().parent
    for folder in (package / "_templates", package.parent / "templates"):
        if (folder / CATALOGUE).is_file():
            return folder
    raise TemplateError(
        Fault(file=CATALOGUE, place="", wrong="the built-in templates are missing", right="install the package again")
    )


def template_text(name: str) -> str:
    """Text of a built-in file of the template folder."""
    return (template_folder() / name).read_text(encoding="utf-8")
