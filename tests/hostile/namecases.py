"""Hostile names of part files and folders."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator

from tests.hostile.meshcases import stl
from tests.hostile.smallfigure import block, write_part
from tests.hostile.trial import Case, Place

_NAMES: tuple[bytes, ...] = (
    b"a\nb.stl",
    b"a\tb.stl",
    b"a\x1b[31mb.stl",
    b"a\x07b.stl",
    b"a\x7fb.stl",
    "a\u202eb.stl".encode(),
    b"\xff\xfe.stl",
    b"\xe9t\xe9.stl",
    "\u00e9.stl".encode(),
    "e\u0301.stl".encode(),
    "\U0001f600.stl".encode(),
    b"{{7*7}}.stl",
    b"{x}.stl",
    b"{0.__class__}.stl",
    b"<script>alert(1)<.stl",
    b"<b>.stl",
    b"%s%n.stl",
    b"%2e%2e.stl",
    b"-rf.stl",
    b"--json.stl",
    b"=1+1.stl",
    b"@x.stl",
    b"+x.stl",
    b"'.stl",
    b'".stl',
    b"\\.stl",
    b"a\\b.stl",
    b" .stl",
    b"  a  .stl",
    b".stl",
    b"..stl",
    b"...stl",
    b"a..stl",
    b"a.stl.stl",
    b"CON.stl",
    b"nul.stl",
    b"a:b.stl",
    b"a*?.stl",
    b"$HOME.stl",
    b"`id`.stl",
    b"$(id).stl",
    b"a;b.stl",
    b"a|b.stl",
    b"a&b.stl",
    b"#.stl",
    b"P01.stl",
    b"P1.stl",
    b"P02.stl",
    b"P99999.stl",
    b"J01.stl",
    b"p01.stl",
    b"P01 copy.stl",
    b"draft.stl",
    b"figure.toml.stl",
    b"~.stl",
    b"n" * 240 + b".stl",
    b"n" * 250 + b".stl",
    b"n" * 251 + b".stl",
    ("\u00e9" * 120).encode() + b".stl",
    "\u0660\u0661.stl".encode(),
    "\u200b.stl".encode(),
    "\ufeff.stl".encode(),
    b"\xc2\x85.stl",
    "\u2028.stl".encode(),
    b"a\rb.stl",
    b"Z1.stl",
    b"A0000.stl",
    b"1.stl",
    b"0.stl",
    b"-1.stl",
    b"1e300.stl",
    b"nan.stl",
    b"true.stl",
    b"[a].stl",
    b"a]b[.stl",
    b'"""a.stl',
    b"'''a.stl",
    b"a=b.stl",
    b"a,b.stl",
    b"plan.json.stl",
    b"\xf0\x9f\x92.stl",
)
_PIECES = (
    b"a",
    b"P01",
    b" ",
    b".",
    b"-",
    b"\n",
    b"\x1b[1m",
    b"\xff",
    b"\xc3\xa9",
    b"{",
    b"}",
    b"'",
    b'"',
    b"\\",
    b"<",
    b">",
    b"%",
    b"=",
    b"#",
    b"\xf0\x9f\x98\x80",
    b"\t",
    b"n" * 60,
    b"$",
    b"&",
    b"\xe2\x80\xae",
    b"\xc2\x9b",
)
_CALLS = (("survey", "{parts}", "{project}", "--quick"), ("check", "{project}"))


def crafted() -> Iterator[Case]:
    """Each name that somebody thought of, of a part; and of folders."""
    for number, name in enumerate(dict.fromkeys(_NAMES)):
        yield _part(f"part {number} {name[:24]!r}", name)
    for number, name in enumerate(
        (b"a\nb", b"\xff", b" ", b"-x", b"{{7*7}}", b"'", b"n" * 255, b"\x1b[31m", b"a#b?c%20")
    ):
        yield _project(f"project {number} {name[:24]!r}", name)
    yield Case(kind="names", name="two names in one", build=_two_in_one, calls=_CALLS)


def mutated(seed: str, number: int) -> Case:
    """The n-th name put together from odd pieces."""
    rng = random.Random(f"{seed}/names/{number}")
    name = b"".join(rng.choice(_PIECES) for _ in range(rng.randrange(1, 7)))[:250]
    return _part(f"mutated {number}", (name if name.strip(b".") else b"x") + b".stl")


def _part(told: str, name: bytes) -> Case:
    def build(place: Place) -> None:
        write_part(place.parts / "b.stl", block())
        with open(os.path.join(os.fsencode(place.parts), name), "wb") as stream:  # noqa: PTH118, PTH123  names in bytes
            stream.write(stl())

    return Case(kind="names", name=told, build=build, calls=_CALLS)


def _project(told: str, name: bytes) -> Case:
    def build(place: Place) -> None:
        write_part(place.parts / "b.stl", block())

    word = "{case}/" + os.fsdecode(name)
    return Case(kind="names", name=told, build=build, calls=(("survey", "{parts}", word, "--quick"), ("check", word)))


def _two_in_one(place: Place) -> None:
    """One name in the two ways to write an accent."""
    for name, shift in (("\u00e9.stl", 0.0), ("e\u0301.stl", 90.0)):
        (place.parts / name).write_bytes(
            stl(
                [(x + shift, y, z) for x, y, z in ((0, 0, 0), (9, 0, 0), (0, 9, 0), (0, 0, 9))],
                ((0, 2, 1), (0, 1, 3), (1, 2, 3), (0, 3, 2)),
            )
        )
