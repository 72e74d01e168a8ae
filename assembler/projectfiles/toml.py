"""TOML files in and out; the only owner of tomlkit, and the place where pydantic's complaints become faults."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, TypeVar

import pydantic
import tomlkit
import tomlkit.exceptions

from assembler.errors import Fault, ProjectFileError

Model = TypeVar("Model", bound=pydantic.BaseModel)


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
        If the file is missing, not UTF-8, or no TOML.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as exc:
        raise ProjectFileError(
            Fault(
                file=str(path),
                place="",
                wrong="the file is missing",
                right="run 'assembler survey PARTS_DIR PROJECT_DIR' first, or give the right project folder",
            )
        ) from exc
    except UnicodeDecodeError as exc:
        raise ProjectFileError(
            Fault(file=str(path), place=f"byte {exc.start}", wrong="the text is not UTF-8", right="save it as UTF-8")
        ) from exc
    except tomllib.TOMLDecodeError as exc:
        raise ProjectFileError(
            Fault(file=str(path), place="", wrong=f"no valid TOML: {exc}", right="mend that line")
        ) from exc


def check_table(content: dict[str, Any], model: type[Model], path: Path) -> Model:
    """Plain dictionaries as a checked model.

    Raises
    ------
    ProjectFileError
        If values cannot be used; every fault at once.
    """
    try:
        return model.model_validate(content)
    except pydantic.ValidationError as exc:
        raise ProjectFileError(*(_fault(path, content, error) for error in exc.errors())) from exc


def _fault(path: Path, content: dict[str, Any], error: Any) -> Fault:
    kind, given = error["type"], error.get("input")
    place = _place(content, error["loc"], is_missing=kind == "missing")
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        return Fault(file=str(path), place=place, wrong="unknown key", right="check its spelling or take it out")
    if kind == "missing":
        return Fault(file=str(path), place=place, wrong="the key is missing", right="add it")
    if kind in ("dataclass_type", "model_type"):
        return Fault(file=str(path), place=place, wrong=f"got {given!r}", right="write a table of keys and values")
    wrong = f"got {given!r}" if not isinstance(given, dict) else "got a table"
    message = str(error["msg"])
    right = message[0].lower() + message[1:]
    return Fault(file=str(path), place=place, wrong=wrong, right=right.removeprefix("value error, "))


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
    read_plain(path)
    try:
        return tomlkit.parse(path.read_text(encoding="utf-8"))
    except tomlkit.exceptions.ParseError as exc:
        raise ProjectFileError(
            Fault(file=str(path), place="", wrong=f"no valid TOML: {exc}", right="mend that line")
        ) from exc


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
