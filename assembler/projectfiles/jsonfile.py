"""JSON files of a book, read as records: what does not fit is one clear fault with its place."""

from __future__ import annotations

import json
from pathlib import Path
from typing import NoReturn, TypeVar

import pydantic

from assembler.errors import BookFolderError, Fault
from assembler.figure.records import read_as
from assembler.filegate import read_text

Record = TypeVar("Record")


def read_json(path: Path, kind: type[Record], *, right: str = "name a complete book folder") -> Record:
    """The record that a file holds.

    Parameters
    ----------
    path
        The file.
    kind
        What it holds.
    right
        What to do where it holds something else.

    Raises
    ------
    BookFolderError
        If it is missing, no JSON, or does not fit.
    """
    try:
        text = read_text(path, root=path.parent, error=BookFolderError)
        return read_as(kind, json.loads(text, parse_constant=_no_number))
    except FileNotFoundError as exc:
        fault = Fault(file=str(path), place="", wrong=f"there is no {path.name}", right="name a complete book folder")
        raise BookFolderError(fault) from exc
    except pydantic.ValidationError as exc:
        first = exc.errors()[0]
        place = ".".join(str(name) for name in first["loc"])
        raise BookFolderError(Fault(file=str(path), place=place, wrong=first["msg"], right=right)) from exc
    except (ValueError, RecursionError) as exc:
        fault = Fault(file=str(path), place="", wrong="it is no JSON", right="name a complete book folder")
        raise BookFolderError(fault) from exc


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number of JSON")
