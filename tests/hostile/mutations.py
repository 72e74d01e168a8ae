"""Mutated input: bytes, words, fields and archives of sound files, each from its own seed."""

from __future__ import annotations

import io
import json
import random
import re
import struct
import zipfile
from collections.abc import Callable
from typing import Any

from tests.hostile import meshcases
from tests.hostile.meshcases import SOUND, part_case
from tests.hostile.trial import Case

_WORDS = (
    "nan",
    "inf",
    "-1",
    "0",
    "1e300",
    "1e-300",
    "3e38",
    "1e12",
    "2147483648",
    "4294967296",
    "-2147483649",
    "9" * 40,
    "",
    "a",
    "\u00e9",
    "1e999",
    "0x7f",
    "true",
    "null",
    "[",
    "]",
    "{",
    "}",
    '"',
    "'",
    "\\",
    "\n",
    "\0",
    "../x",
    "/dev/zero",
    "P99",
    "J99",
    "<b>",
    "=1+1",
    "%s",
    "{x}",
    "{{7*7}}",
    "\x1b[31m",
    "n" * 4000,
    "\u202e",
)
_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
_VALUES: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    -1,
    1,
    2**31,
    2**53,
    10**30,
    1.5,
    1e300,
    -1e300,
    1e-300,
    "",
    "a",
    "P01",
    "J01",
    "../x",
    [],
    {},
    [[]],
    [None],
    [1, 2],
    [0, 0, 0],
    [1e300, 0, 0],
    "n" * 4000,
    "\x1b[31m",
    {"a": 1},
)


def mutated_bytes(data: bytes, rng: random.Random) -> bytes:
    """A few changes of bytes: flipped, put in, taken out, doubled, cut."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 12))):
        _CHANGES[rng.randrange(len(_CHANGES))](out, rng)
    return bytes(out)


def _flip(out: bytearray, rng: random.Random) -> None:
    if out:
        out[rng.randrange(len(out))] ^= 1 << rng.randrange(8)


def _put(out: bytearray, rng: random.Random) -> None:
    if out:
        out[rng.randrange(len(out))] = rng.choice((0, 1, 127, 128, 255, rng.randrange(256)))


def _insert(out: bytearray, rng: random.Random) -> None:
    at = rng.randrange(len(out) + 1)
    out[at:at] = rng.randbytes(rng.choice((1, 2, 4, 30)))


def _take(out: bytearray, rng: random.Random) -> None:
    at = rng.randrange(len(out) + 1)
    del out[at : at + rng.choice((1, 2, 4, 50))]


def _double(out: bytearray, rng: random.Random) -> None:
    at, size = rng.randrange(len(out) + 1), rng.choice((1, 4, 50, 200))
    out[at:at] = out[at : at + size]


def _cut(out: bytearray, rng: random.Random) -> None:
    if rng.random() < 0.3:
        del out[rng.randrange(len(out) + 1) :]


def _number(out: bytearray, rng: random.Random) -> None:
    """Four or eight bytes that mean something as a number."""
    form, value = rng.choice(
        (
            ("<I", 2**32 - 1),
            ("<I", 2**31),
            ("<I", 10**9),
            ("<I", 0),
            ("<f", float("nan")),
            ("<f", float("inf")),
            ("<f", 3e38),
            ("<f", 1e12),
            ("<f", -1e6),
            ("<d", 1e300),
            (">I", 2**32 - 1),
            (">f", 3e38),
        )
    )
    packed = struct.pack(form, value)
    if len(out) >= len(packed):
        at = rng.randrange(len(out) - len(packed) + 1)
        out[at : at + len(packed)] = packed


_CHANGES: tuple[Callable[[bytearray, random.Random], None], ...] = (
    _flip,
    _flip,
    _put,
    _insert,
    _take,
    _double,
    _cut,
    _number,
    _number,
)


def mutated_text(data: bytes, rng: random.Random) -> bytes:
    """A few numbers, words or lines put otherwise."""
    for _ in range(rng.choice((1, 1, 2, 3))):
        what = rng.random()
        if what < 0.5 and (found := list(_NUMBER.finditer(data))):
            one = rng.choice(found)
            data = data[: one.start()] + rng.choice(_WORDS).encode() + data[one.end() :]
        elif what < 0.75:
            lines = data.split(b"\n")
            at, other = rng.randrange(len(lines)), rng.randrange(len(lines))
            how = rng.randrange(4)
            if how == 0:
                del lines[at]
            elif how == 1:
                lines.insert(at, lines[other])
            elif how == 2:
                lines[at], lines[other] = lines[other], lines[at]
            else:
                lines.insert(at, rng.choice(_WORDS).encode())
            data = b"\n".join(lines)
        else:
            words = re.split(rb"([ \n=\"<>,\[\]]+)", data)
            words[rng.randrange(len(words))] = rng.choice(_WORDS).encode()
            data = b"".join(words)
    return data


def mutated_record(record: Any, rng: random.Random) -> Any:
    """One to three values of a JSON document put otherwise, left out, or given twice."""
    record = json.loads(json.dumps(record))
    for _ in range(rng.choice((1, 1, 2, 3))):
        places = list(_places(record))
        if not places:
            return rng.choice(_VALUES)
        holder, key = rng.choice(places)
        how = rng.random()
        if how < 0.7:
            holder[key] = _other(holder[key], rng)
        elif how < 0.85:
            del holder[key]
        elif isinstance(holder, list):
            holder.append(holder[key])
        else:
            holder[rng.choice(("x", "", "name", "count"))] = holder[key]
    return record


def _other(value: Any, rng: random.Random) -> Any:
    if isinstance(value, (int, float)) and not isinstance(value, bool) and rng.random() < 0.6:
        return rng.choice((-value, value + 1, value * 10**9, value * 1e30, 0, -1, value - 1, 2**31, 1e300))
    return rng.choice(_VALUES)


def _places(value: Any) -> list[tuple[Any, Any]]:
    keys = list(value) if isinstance(value, dict) else list(range(len(value))) if isinstance(value, list) else []
    return [(value, key) for key in keys] + [one for key in keys for one in _places(value[key])]


def mutated_archive(data: bytes, rng: random.Random) -> bytes:
    """A 3MF whose model is changed inside, or whose archive is."""
    if rng.random() < 0.35:
        return mutated_bytes(data, rng)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if rng.random() < 0.04:
                continue
            inner = old.read(name)
            if name.endswith(".model") or rng.random() < 0.2:
                inner = mutated_text(inner, rng) if rng.random() < 0.8 else mutated_bytes(inner, rng)
            meshcases.put_in(new, rng.choice((name, name, name, name, name.lower(), f"../{name}")), inner)
    return out.getvalue()


def mutated_mesh(form: str, rng: random.Random) -> bytes:
    """A sound box of this format, spoiled."""
    data = SOUND[form][1]()
    if form == "3mf":
        return mutated_archive(data, rng)
    if form in ("glb", "gltf") and rng.random() < 0.6:
        record, buffer = meshcases.gltf()
        if form == "glb":
            return meshcases.glb(
                mutated_record(record, rng), mutated_bytes(buffer, rng) if rng.random() < 0.2 else buffer
            )
        return json.dumps(mutated_record(json.loads(data), rng)).encode()
    if form in ("ascii stl", "obj", "ply", "off", "gltf") and rng.random() < 0.75:
        return mutated_text(data, rng)
    return mutated_bytes(data, rng)


def mutated_mesh_case(seed: str, number: int) -> Case:
    """The n-th spoiled part file of a seed."""
    forms = sorted(SOUND)
    form = forms[number % len(forms)]

    def data() -> bytes:
        return mutated_mesh(form, random.Random(f"{seed}/mesh/{number}"))

    return part_case(f"mutated {number}", SOUND[form][0], data)
