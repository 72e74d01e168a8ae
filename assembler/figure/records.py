"""How records go to files and come back: the dataclass says it once, with the marks of this module on its fields.

`Annotated[float, digits(3)]` is written rounded, `Annotated[bool, key("ok")]` under that key; `UNWRITTEN` fields stay
out of files, and those with `SPOKEN` are written where they say something.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, TypeVar

from pydantic import BeforeValidator, Field, PlainSerializer, TypeAdapter

Record = TypeVar("Record")

UNWRITTEN = Field(exclude=True)
"""A value that no file keeps; it has a default for records that are read back."""
SPOKEN = Field(exclude_if=lambda value: not value)
"""A value that is left out of the file where it is empty."""


def key(name: str) -> Any:
    """The key under which a value is written."""
    return Field(alias=name)


def digits(count: int) -> PlainSerializer:
    """Rounded to so many digits, so that bytes do not hang on rounding errors; no -0."""
    return PlainSerializer(lambda value: round(value, count) + 0.0, return_type=float)


def vector_digits(count: int) -> PlainSerializer:
    """`digits` for each of three coordinates."""
    return PlainSerializer(
        lambda vector: tuple(round(value, count) + 0.0 for value in vector), return_type=tuple[float, float, float]
    )


def pair_digits(count: int) -> PlainSerializer:
    """`digits` for both of two values."""
    return PlainSerializer(
        lambda pair: tuple(round(value, count) + 0.0 for value in pair), return_type=tuple[float, float]
    )


SIX_FIGURES = PlainSerializer(lambda value: float(f"{value:.6g}"), return_type=float)
"""For moments: their size spans many powers of ten."""
VECTOR_SIX_FIGURES = PlainSerializer(
    lambda vector: tuple(float(f"{value:.6g}") for value in vector), return_type=tuple[float, float, float]
)
BY_NAME = PlainSerializer(lambda table: dict(sorted(table.items())))
"""A table in the order of its keys."""

Safety = Annotated[
    float,
    BeforeValidator(lambda value: math.inf if value is None else value),
    PlainSerializer(lambda value: round(value, 2) if math.isfinite(value) else None, return_type=float | None),
]
"""How many times safe; infinite where nothing loads, which JSON has no word for: null."""


@cache
def adapter(kind: Any) -> TypeAdapter[Any]:
    """Reader, writer and schema of a kind of record, made once."""
    return TypeAdapter(kind)


def record_of(value: Any) -> dict[str, Any]:
    """Keys and plain values of a record, ready for JSON."""
    record: dict[str, Any] = adapter(type(value)).dump_python(value, mode="json", by_alias=True)
    return record


def read_as(kind: type[Record], record: Mapping[str, Any]) -> Record:
    """The record that plain values describe; keys that it does not know are left alone.

    Raises
    ------
    pydantic.ValidationError
        If they do not fit.
    """
    value: Record = adapter(kind).validate_python(record)
    return value
