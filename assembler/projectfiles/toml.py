"""TOML files in and out; the only owner of tomlkit, and the place where pydantic's complaints become faults."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any, TypeVar

import pydantic
import tomlkit
import tomlkit.exceptions

from assembler.errors import Fault, ProjectFileError
from assembler.filegate import read_text
from assembler.projectfiles.valuewords import keys_at, line_of, near_names, wanted

Model = TypeVar("Model", bound=pydantic.BaseModel)
_LONGEST_VALUE = 200

_DEEP_KEY = re.compile(r'^[ \t]*\[{0,2}[\w\-" \t]+(?:\.[\w\-" \t]+){50}', re.MULTILINE)
"""Reading a key takes time by the square of its pieces: one of some ten thousand would be waited for."""


class Table(pydantic.BaseModel):
    """A table of a project file: unknown keys are faults, so that a slip of the pen is not silently ignored."""

    model_config = pydantic.ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def read_table(path: Path, model: type[Model]) -> Model:
    """Content of a TOML file as a checked model.

    Raises
    ------
    ProjectFileError
        If the file is missing, is no TOML, or holds values that cannot be used; every fault at once.
    """
    return check_table(read_plain(path), model, path)


def read_plain(path: Path) -> dict[str, Any]:
    """Content of a TOML file as plain dictionaries.

    Raises
    ------
    ProjectFileError
        If the file is missing, must not be read (see `filegate`), is not UTF-8, or no TOML.
    """
    return plain(file_text(path), path)


def plain(text: str, path: Path) -> dict[str, Any]:
    """Text of a TOML file as plain dictionaries.

    Raises
    ------
    ProjectFileError
        If it is no TOML.
    """
    if _DEEP_KEY.search(text):
        raise ProjectFileError(_no_toml(path, "a key has more than 50 pieces"))
    try:
        return tomllib.loads(text)
    except RecursionError as exc:
        raise ProjectFileError(_no_toml(path, "it is nested too deeply")) from exc
    except ValueError as exc:
        # A number of thousands of digits is a ValueError of its own.
        raise ProjectFileError(_no_toml(path, str(exc))) from exc


def file_text(path: Path) -> str:
    """Text of a project file.

    Raises
    ------
    ProjectFileError
        If it is missing, must not be read (see `filegate`), or is not UTF-8.
    """
    try:
        return read_text(path, root=path.parent, error=ProjectFileError)
    except FileNotFoundError as exc:
        raise ProjectFileError(
            Fault(
                file=str(path),
                place="",
                wrong="the file is missing",
                right="run 'assembler survey PARTS_DIR PROJECT_DIR' first, or give the right project folder",
            )
        ) from exc


def _no_toml(path: Path, why: str) -> Fault:
    return Fault(file=str(path), place="", wrong=f"no valid TOML: {why}", right="mend that line")


def check_table(content: dict[str, Any], model: type[Model], path: Path) -> Model:
    """Plain dictionaries as a checked model.

    Raises
    ------
    ProjectFileError
        If values cannot be used; every fault at once.
    """
    try:
        # By way of JSON, where being strict allows a list for a tuple and a text for one of a few words, and no more:
        # neither true nor "950" is a number.
        return model.model_validate_json(json.dumps(content, default=str), strict=True)
    except pydantic.ValidationError as exc:
        schema, text = model.model_json_schema(), _written(path)
        raise ProjectFileError(*(_fault(path, content, error, schema, text) for error in exc.errors())) from exc


def _written(path: Path) -> str:
    """The file as it stands, for its lines; nothing where it is not written yet."""
    try:
        return file_text(path)
    except ProjectFileError:
        return ""


def _fault(path: Path, content: dict[str, Any], error: Any, schema: dict[str, Any], text: str) -> Fault:
    place = _place(content, error["loc"], is_missing=error["type"] == "missing")
    wrong, right = _wrong_and_right(error, schema)
    return Fault(file=str(path), place=place, wrong=wrong, right=right, line=line_of(text, error["loc"]))


def _wrong_and_right(error: Any, schema: dict[str, Any]) -> tuple[str, str]:
    kind, given = error["type"], error.get("input")
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        near = near_names(str(error["loc"][-1]), keys_at(schema, error["loc"][:-1]))
        return "unknown key", f"did you mean {' or '.join(near)}?" if near else "check its spelling or take it out"
    if kind == "missing":
        return "the key is missing", "add it"
    if kind in ("dataclass_type", "model_type"):
        return f"got {_shown(given)}", "write a table of keys and values"
    return (f"got {_shown(given)}" if not isinstance(given, dict) else "got a table"), wanted(error)


def _shown(given: object) -> str:
    text = repr(given)
    return text if len(text) <= _LONGEST_VALUE else f"{text[:_LONGEST_VALUE]}..."


def _place(content: Any, loc: tuple[int | str, ...], *, is_missing: bool) -> str:
    """Path of keys in which a list entry shows its id where it has one."""
    words: list[str] = []
    here: Any = content
    for number, key in enumerate(loc, 1):
        is_end = is_missing and number == len(loc)
        if isinstance(key, str) and not is_end and not (isinstance(here, dict) and key in here):
            # Which of several types a value was taken for: nothing that stands in the file.
            continue
        try:
            here = here[key]
        except (KeyError, IndexError, TypeError):
            here = None
        if isinstance(key, int):
            name = here.get("id") if isinstance(here, dict) else None
            words.append(f"{words.pop()}[{name or key + 1}]" if words else f"[{name or key + 1}]")
        else:
            words.append(str(key))
    return ".".join(words)


def open_document(path: Path) -> tomlkit.TOMLDocument:
    """A TOML file with its comments, for editing in place.

    Raises
    ------
    ProjectFileError
        If the file is missing or no TOML.
    """
    text = file_text(path)
    plain(text, path)
    try:
        return tomlkit.parse(text)
    except (tomlkit.exceptions.ParseError, RecursionError) as exc:
        raise ProjectFileError(_no_toml(path, str(exc))) from exc


def quoted(text: str) -> str:
    """A string as TOML writes it."""
    return str(tomlkit.item(text).as_string())


def new_tables(rows: list[dict[str, Any]]) -> Any:
    """An array of tables with the given rows, ready to be put into a document."""
    tables = tomlkit.aot()
    for row in rows:
        table = tomlkit.table()
        for key, value in row.items():
            table[key] = value
        tables.append(table)
    return tables
