"""How records go to files and come back: the dataclass says it once, with the marks of this module on its fields.

`Annotated[float, digits(3)]` is written rounded, `Annotated[bool, key("ok")]` under that key; `UNWRITTEN` fields stay
out of files, and those with `SPOKEN` are written where they say something.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar

from pydantic import BeforeValidator, Field, GetCoreSchemaHandler, PlainSerializer, TypeAdapter
from pydantic_core import core_schema

Record = TypeVar("Record")

UNWRITTEN = Field(exclude=True)
"""A value that no file keeps; it has a default for records that are read back."""
SPOKEN = Field(exclude_if=lambda value: value is None)
"""A value that is left out of the file where there is none."""
FILLED = Field(exclude_if=lambda value: not value)
"""A list or table that is left out of the file where it is empty."""
NOT_NEGATIVE = Field(ge=0, le=1e15)
POSITIVE = Field(gt=0, le=1e9)


def key(name: str) -> Any:
    """The key under which a value is written."""
    return Field(alias=name)


@dataclass(frozen=True, slots=True)
class Rounded:
    """Writes numbers, alone or in tuples, by a rule of rounding; limits on them stay in the schema."""

    rule: Callable[[float], float]

    def __get_pydantic_core_schema__(self, kind: Any, inner: GetCoreSchemaHandler) -> Any:
        """The reader of the plain type, with a writer of its own."""
        plain = inner(kind)
        written = core_schema.plain_serializer_function_ser_schema(self._written, return_schema=plain)
        return {**plain, "serialization": written}

    def _written(self, value: Any) -> Any:
        # Adding 0 turns -0.0 into 0.0, so that a file does not change with the sign of a rounding error.
        return tuple(self.rule(each) + 0.0 for each in value) if isinstance(value, tuple) else self.rule(value) + 0.0


def digits(count: int) -> Rounded:
    """Rounded to so many digits, so that bytes do not hang on rounding errors."""
    return Rounded(lambda value: round(value, count))


SIX_FIGURES = Rounded(lambda value: float(f"{value:.6g}"))
"""For moments: their size spans many powers of ten."""
BY_NAME = PlainSerializer(lambda table: dict(sorted(table.items())))
"""A table in the order of its keys."""

Safety = Annotated[
    float,
    BeforeValidator(lambda value: math.inf if value is None else value),
    PlainSerializer(lambda value: round(value, 2) if math.isfinite(value) else None, return_type=float | None),
]
"""How many times safe; infinite where nothing loads, which JSON has no word for: null."""


_ADAPTERS: dict[Any, TypeAdapter[Any]] = {}


def adapter(kind: Any) -> TypeAdapter[Any]:
    """Reader, writer and schema of a kind of record, made once."""
    if kind not in _ADAPTERS:
        _ADAPTERS[kind] = TypeAdapter(kind)
    return _ADAPTERS[kind]


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
