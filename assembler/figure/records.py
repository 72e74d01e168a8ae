"""How records go to files and come back: the dataclass says it once, with the marks of this module on its fields.

`Annotated[float, digits(3)]` is written rounded, `Annotated[bool, key("ok")]` under that key; `UNWRITTEN` fields stay
out of files, and those with `SPOKEN` are written where they say something.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar

from pydantic import (
    BeforeValidator,
    Field,
    GetCoreSchemaHandler,
    PlainSerializer,
    PlainValidator,
    SerializationInfo,
    TypeAdapter,
    ValidationInfo,
    WithJsonSchema,
)
from pydantic_core import core_schema

from assembler.words import Said, Text, said_of, said_record

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


Sayings = dict[str, Any]
"""Code and values of what is said in a file, by its text."""


def _written_text(text: Text, info: SerializationInfo) -> Any:
    """Code and values; where a file keeps these apart, the text, and they go to what the file says."""
    sayings: Sayings | None = info.context
    if sayings is None or isinstance(text, str):
        return said_record(text)
    sayings.setdefault(str(text), said_record(text))
    return str(text)


def _read_text(value: Any, info: ValidationInfo) -> Text:
    if isinstance(value, str) and isinstance(info.context, Mapping):
        value = info.context.get(value, value)
    if isinstance(value, Mapping):
        return said_of(value)
    if not isinstance(value, str | Said):
        raise ValueError("a text is wanted")
    return value


Spoken = Annotated[
    Text,
    PlainValidator(_read_text, json_schema_input_type=str),
    PlainSerializer(_written_text),
    WithJsonSchema({"type": "string"}),
]
"""Something said: in files for others a text, with code and values beside it (`sayings` of plan.json)."""


_ADAPTERS: dict[Any, TypeAdapter[Any]] = {}


def adapter(kind: Any) -> TypeAdapter[Any]:
    """Reader, writer and schema of a kind of record, made once."""
    if kind not in _ADAPTERS:
        _ADAPTERS[kind] = TypeAdapter(kind)
    return _ADAPTERS[kind]


def record_of(value: Any, sayings: Sayings | None = None) -> dict[str, Any]:
    """Keys and plain values of a record, ready for JSON.

    Parameters
    ----------
    value
        The record.
    sayings
        Where what is said goes, by its text, which stands in its place; None: code and values stand there themselves.
    """
    record: dict[str, Any] = adapter(type(value)).dump_python(value, mode="json", by_alias=True, context=sayings)
    return record


def read_as(kind: type[Record], record: Mapping[str, Any]) -> Record:
    """The record that plain values describe; keys that it does not know are left alone.

    What the texts in it were made of is read from its `sayings`.

    Raises
    ------
    pydantic.ValidationError
        If they do not fit.
    """
    sayings = record.get("sayings") if isinstance(record, Mapping) else None
    value: Record = adapter(kind).validate_python(record, context=sayings)
    return value
