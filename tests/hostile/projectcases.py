"""Projects whose files were written by a stranger, by hand, by an editor or by a forger."""

from __future__ import annotations

import hashlib
import io
import itertools
import json
import random
import re
import shutil
import zipfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

from tests.hostile.mutations import mutated_bytes, mutated_record, mutated_text
from tests.hostile.trial import Case, Place

CHECK = (("check", "{project}"),)
RECORD = (("record", "{project}", "1", "--at", "2024-05-04T14:30", "--temp", "20"),)
RECUT = (("recut", "{project}", "--since", "{project}/books/A"),)
STATUS = (("status", "{project}"),)
SHEET = (("worksheet", "{project}", "J01"),)
REFUSED = frozenset((2,))
DONE = frozenset((0, 1))
STOPPED = frozenset((1,))
Edit = Callable[[Place], None]


class Start:
    """Copies of one surveyed project with an issued book.

    Parameters
    ----------
    root
        Folder that holds it: `project`, and `cold`, the same without what is kept to save time.
    """

    def __init__(self, root: Path) -> None:
        self._root = root

    def copy(self, place: Place, *, is_warm: bool = False) -> None:
        """Put a copy in the place of a case's project."""
        shutil.copytree(self._root / ("project" if is_warm else "cold"), place.project, symlinks=True)

    def case(self, name: str, edit: Edit, calls: Any = CHECK, **more: Any) -> Case:
        """A call on a copy, after an edit."""

        def build(place: Place) -> None:
            self.copy(place)
            edit(place)

        return Case(kind="project", name=name, build=build, calls=calls, keeps=("project/books/A",), **more)


def put(file: str, data: bytes | str) -> Edit:
    """Write a file of the project."""

    def edit(place: Place) -> None:
        path = place.project / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data.encode() if isinstance(data, str) else data)

    return edit


def swap(file: str, old: str, new: str) -> Edit:
    """Put other words in a file of the project."""

    def edit(place: Place) -> None:
        path = place.project / file
        text = path.read_text(encoding="utf-8")
        changed, found = re.subn(old, lambda _: new, text, count=1, flags=re.MULTILINE)
        if not found:
            raise AssertionError(f"{old!r} is not in {file}: the case tests nothing")
        path.write_bytes(changed.encode("utf-8", "surrogatepass"))

    return edit


def added(file: str, text: str) -> Edit:
    def edit(place: Place) -> None:
        path = place.project / file
        path.write_text((path.read_text(encoding="utf-8") if path.exists() else "") + text, encoding="utf-8")

    return edit


def forged(file: str, record: Any | Callable[[Any], Any], book: str = "A") -> Edit:
    """Put another file into a book, so that its digests match."""

    def edit(place: Place) -> None:
        path = place.project / "books" / book / file
        path.chmod(0o644)
        if callable(record):
            data = json.dumps(record(json.loads(path.read_bytes()))).encode()
        else:
            data = record if isinstance(record, bytes) else json.dumps(record).encode()
        path.write_bytes(data)
        seal = path.parent / "book.json"
        if file != "book.json":
            sealed = json.loads(seal.read_bytes())
            sealed["files"][file] = hashlib.sha256(data).hexdigest()
            seal.chmod(0o644)
            seal.write_text(json.dumps(sealed))

    return edit


TEXTS = ("figure.toml", "joints.toml", "ids.toml", "built.toml")
_BUILT = (
    '\n[[built]]\nstep = "1"\nbook = "A"\nat = 2024-05-04T14:30:00\ntemperature_c = 20.0\njoints = ["J01"]\n'
    'bolts = ["J01.1", "J01.2"]\n'
)
_BROKEN: tuple[tuple[str, bytes], ...] = (
    ("empty", b""),
    ("NUL", b"\0" * 50),
    ("binary", bytes(range(256)) * 9),
    ("deep arrays", b"a = " + b"[" * 20000),
    ("deep tables", b"a = " + b"{a=" * 20000),
    ("deep sound arrays", b"a = " + b"[" * 3000 + b"]" * 3000),
    ("dotted", b"a" + b".a" * 20000 + b" = 1\n"),
    ("unclosed", b'a = "'),
    ("twice", b"a = 1\na = 2\n"),
    ("latin-1", b'name = "\xe9"\n'),
    ("huge number", b"a = " + b"9" * 5000),
    ("huge float", b"a = 1e99999\n"),
    ("date", b"figure = 2024-05-04\n"),
    ("array for table", b"figure = [1]\njoint = 1\npart = 1\nbuilt = 1\n"),
    ("tables of strings", b'joint = ["a"]\npart = ["a"]\nbuilt = ["a"]\nfigure = "a"\n'),
    ("long key", b"k" * 100000 + b" = 1\n"),
    ("comments", b"# c\n" * 200000),
    ("escape", b'a = "\x1b[31m"\n'),
    ("key escape", b'"\\u001b[31m" = 1\n'),
)


def crafted(start: Start) -> Iterator[Case]:
    """Each case that somebody thought of."""
    yield from _whole_files(start)
    yield from _figure(start)
    yield from _joints_and_ids(start)
    yield from _log(start)
    yield from _books(start)
    yield from _own_files(start)


_SAVED_AS: tuple[tuple[str, Callable[[bytes], bytes], frozenset[int]], ...] = (
    ("utf-8 mark", lambda data: b"\xef\xbb\xbf" + data, DONE),
    ("CRLF", lambda data: data.replace(b"\n", b"\r\n"), DONE),
    ("utf-16", lambda data: data.decode().encode("utf-16"), REFUSED),
)


def _whole_files(start: Start) -> Iterator[Case]:
    for file in TEXTS:
        for name, data in _BROKEN:
            yield start.case(f"{file} {name}", put(file, data))
        yield start.case(f"{file} gone", lambda place, f=file: (place.project / f).unlink(missing_ok=True))
        yield start.case(f"{file} is a folder", _folder(file), codes=REFUSED)

        def with_built(place: Place, file: str = file, change: Callable[[bytes], bytes] = bytes) -> None:
            if file == "built.toml":
                put(file, _BUILT)(place)
            path = place.project / file
            path.write_bytes(change(path.read_bytes()))

        for name, change, codes in _SAVED_AS:
            yield start.case(f"{file} {name}", partial(with_built, change=change), codes=codes)
        if file != "built.toml":
            yield start.case(f"{file} is a folder, record", _folder(file), RECORD)
            yield start.case(f"{file} is a folder, status", _folder(file), STATUS)
    for call in (CHECK, RECORD, RECUT, SHEET, STATUS):
        yield start.case(f"as it is, {call[0][0]}", lambda place: None, call, codes=DONE)
        yield start.case(
            f"nothing there, {call[0][0]}", lambda place: shutil.rmtree(place.project), call, codes=REFUSED
        )


def _folder(file: str) -> Edit:
    def edit(place: Place) -> None:
        path = place.project / file
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)
        path.mkdir()
        (path / "x").write_text("x")

    return edit


_ODD_TEXTS = (
    "",
    "n" * 5000,
    "\\u0000",
    "\\u001b[31mred",
    "<script>alert(1)</script>",
    "{{7*7}}",
    "{x.__class__}",
    "%s",
    "../../outside/secret.svg",
    "=1+1",
    "a\\nb",
    "\\u202e",
)
_ODD_NUMBERS = (
    "nan",
    "inf",
    "-inf",
    "1e300",
    "-1e300",
    "1e-300",
    "0",
    "-1",
    "9" * 30,
    "true",
    '"5"',
    "[]",
    "1e9",
    "1e15",
)


def _figure(start: Start) -> Iterator[Case]:
    for key in ("name", "client", "revision", "date", "unit", "logo", "contact", "sheet", "screw", "glove", "when"):
        for value in _ODD_TEXTS:
            yield start.case(
                f"figure {key} {value[:12]!r}", swap("figure.toml", rf"^{key} = .*$", f'{key} = "{value}"')
            )
    for key in (
        "density_kg_m3",
        "bond_line_mm",
        "waste",
        "cartridge_ml",
        "handling_min",
        "sheet_c",
        "people",
        "reach_mm",
        "hand_opening_mm",
        "bolt_min",
        "spread_mm2_min",
        "day_start_h",
        "day_end_h",
        "night_min_c",
        "spares_least",
        "nut_factor",
        "open_min",
        "groove_mm2",
        "coats",
    ):
        for value in _ODD_NUMBERS:
            yield start.case(f"figure {key} {value[:8]}", swap("figure.toml", rf"^{key} = .*$", f"{key} = {value}"))
    for key, values in (
        (
            "up",
            (
                "[0, 0, 0]",
                "[1e300, 1e300, 1e300]",
                "[nan, 0, 0]",
                "[1e-300, 0, 0]",
                "[1, 0]",
                "[]",
                "5",
                "[1e-9, 1, 0]",
            ),
        ),
        ("# moved_mm", ("[1e300, 0, 0]", "[nan, 0, 0]", "[1e9, 0, 0]", "[1, 2]", "[1e15, 0, 0]")),
        ("# printer_mm", ("[1e300, 1, 1]", "[0, 0, 0]", "[-1, 1, 1]", "[]")),
        ("# section_max_kg", ("1e300", "0", "-1", "nan", '"80"', "1e-300")),
        ("shifts_h", ("[[8, 8.001]]", "[[8, 8.5]]", "[[0, 24]]", "[[8, 8]]", "[[8]]")),
        ("first_day", ('"9999-12-30"', '"2999-12-30"', '"0001-01-01"', '"2031-02-30"')),
        ("weekdays", ("[]", '["Sun"]', '["Mon", "Mon"]')),
        ("seam_mm_min", ("1e-9", "1e-300")),
        ("full_cure_min", ("1e9", "1e6")),
        ("stock_lengths_mm", ("[1e300]", "[-1]", "[nan]", '["a"]', "[0]")),
        ("after", ('[["P01", "P01"]]', '[["P01", "P02"], ["P02", "P01"]]', '[["P99", "P01"]]', "[[]]", '["P01"]')),
        ("apart", ('[["P01"]]', '[["P01", "P02"]]', '[["P99"]]', '[["P01", "P01"]]', "[[]]")),
    ):
        for value in values:
            plain = key.removeprefix("# ")
            edit = swap("figure.toml", rf"^{re.escape(key)} = .*$", f"{plain} = {value}")
            yield start.case(f"figure {plain} {value}", edit)
    for value in (
        "A/../B",
        "..",
        ".",
        "draft",
        "",
        "a b",
        "A1",
        "ZZZZ",
        "/nowhere/x",
        "A\\u0000",
        "..\\\\x",
        "n" * 300,
        "A\\n",
    ):
        yield start.case(f"revision {value[:12]!r}", swap("figure.toml", r"^revision = .*$", f'revision = "{value}"'))
    unknown = "".join(f"\n[x{k}]\na=1\n" for k in range(3000))
    yield start.case("3000 unknown keys", added("figure.toml", unknown))


def _joints_and_ids(start: Start) -> Iterator[Case]:
    for value in (
        "../../../WRITTEN",
        "a b/c",
        "\\u0000",
        "n" * 5000,
        "=1+1",
        "=cmd|' C calc'!A0",
        "",
        "J01.1",
        "P01",
        "<b>",
        "\\u001b[31m",
        "j1",
        "..",
        "J01\\n",
        "{{7*7}}",
    ):
        for file, key in (
            ("joints.toml", 'id = "J01"'),
            ("joints.toml", 'id = "J01.1"'),
            ("ids.toml", 'id = "P01"'),
            ("ids.toml", 'file = "A.stl"'),
            ("ids.toml", 'id = "J01"'),
            ("joints.toml", 'parts = ["P01", "P02"]'),
        ):
            name, _, old = key.partition(" = ")
            new = f'{name} = ["{value}", "P02"]' if "[" in old else f'{name} = "{value}"'
            yield start.case(f"{file} {key} as {value[:12]!r}", swap(file, rf"^\s*{re.escape(key)}$", new))
    yield from _joint_values(start)
    yield from _id_values(start)


def _joint_values(start: Start) -> Iterator[Case]:
    for key in ("bond_area_mm2", "seam_mm", "gap_mm", "hole_mm", "grip_mm"):
        for value in _ODD_NUMBERS:
            yield start.case(
                f"joints {key} {value[:8]}", swap("joints.toml", rf"^(\s*){key} = .*$", f"{key} = {value}")
            )
    for key in ("at", "axis", "normal", "centre_mm", "seat_room_mm", "through", "parts"):
        for value in (
            "[1e300, 0, 0]",
            "[0, 0, 0]",
            "[nan, 0, 0]",
            "[1e9, 0, 0]",
            "[]",
            "5",
            '["P01", "P01"]',
            '["P09", "P02"]',
            "[1, 2]",
            "[1e-300, 0, 0]",
            "[0, 0, 1e300]",
            "[[0, 0, 1]]",
        ):
            yield start.case(f"joints {key} {value}", swap("joints.toml", rf"^(\s*){key} = .*$", f"{key} = {value}"))
    for value in (
        'also = ["J01"]',
        'also = ["J99"]',
        "also = [1]",
        'seats = ["open"]',
        'seats = ["x", "y"]',
        "seats = []",
    ):
        edit = swap("joints.toml", r"^(\s*)hole_mm = .*$", f"hole_mm = 9.0\n{value}")
        yield start.case(f"joints {value}", edit)


def _id_values(start: Start) -> Iterator[Case]:
    for key in ("volume_mm3", "area_mm2", "skew_mm6", "unit_mm"):
        for value in _ODD_NUMBERS:
            yield start.case(f"ids {key} {value[:8]}", swap("ids.toml", rf"^(\s*){key} = .*$", f"{key} = {value}"))
    for key in ("centre_mm", "inertia_mm5", "low_mm", "high_mm"):
        for value in (
            "[1e300, 0, 0]",
            "[nan, 0, 0]",
            "[]",
            "[0, 0, 0]",
            "[1, 2]",
            "[-1e300, 1e300, 0]",
            "[1e9, 1e9, 1e9]",
        ):
            yield start.case(f"ids {key} {value}", swap("ids.toml", rf"^(\s*){key} = .*$", f"{key} = {value}"))
    for value in ("-1", "10000000000", "1.5", "true"):
        yield start.case(
            f"ids bolts_issued {value}", swap("ids.toml", r"^bolts_issued = .*$", f"bolts_issued = {value}")
        )
    yield start.case(
        "joints bolt beside", swap("joints.toml", r"^  at = .*$", "  at = [1500.0, 50.0, 10.0]"), codes=STOPPED
    )
    yield start.case("joints twice", lambda place: _doubled(place, "joints.toml"))
    yield start.case("ids twice", lambda place: _doubled(place, "ids.toml"))
    yield start.case("3000 joints", lambda place: _many_joints(place, 3000))


def _doubled(place: Place, file: str) -> None:
    path = place.project / file
    text = path.read_text()
    path.write_text(text + text[text.index("[[") :])


def _many_joints(place: Place, count: int) -> None:
    path = place.project / "joints.toml"
    text = path.read_text()
    one = text[text.index("[[joint]]") :]
    path.write_text(text + "".join(one.replace("J01", f"J{number}") for number in range(100, 100 + count)))


def _log(start: Start) -> Iterator[Case]:
    for old, values in (
        ('step = "1"', ('step = "99"', 'step = ""', "step = 1", 'step = "../x"', f'step = "{"n" * 5000}"')),
        (
            'book = "A"',
            ('book = "Z"', 'book = "draft"', 'book = "../../outside"', 'book = ""', f'book = "{"n" * 5000}"'),
        ),
        (
            "at = 2024-05-04T14:30:00",
            (
                "at = 9999-12-31T23:59:59",
                "at = 0001-01-01T00:00:00",
                "at = 2024-05-04T14:30:00+05:00",
                "at = 1e300",
                "at = 2024-05-04",
                "at = 14:30:00",
                'at = "yesterday"',
                "at = 9999-12-31T23:59:59-23:59",
                "at = 1731000000",
            ),
        ),
        ("temperature_c = 20.0", tuple(f"temperature_c = {value}" for value in (*_ODD_NUMBERS, "64", "-40", "80"))),
        (
            'joints = ["J01"]',
            ("joints = []", 'joints = ["J99"]', 'joints = "J01"', 'joints = ["J01", "J01"]', "joints = [1]"),
        ),
        ('bolts = ["J01.1", "J01.2"]', ("bolts = []", 'bolts = ["J99.1"]', 'bolts = ["J01.1", "J01.1"]')),
    ):
        for value in values:
            for call in (CHECK, RECORD):
                edit = put("built.toml", _BUILT.replace(old, value))
                yield start.case(f"log {value[:40]}, {call[0][0]}", edit, call)
    yield start.case("log twice", put("built.toml", _BUILT + _BUILT))
    yield start.case("log of 5000", put("built.toml", _BUILT * 5000))
    for name, words, codes in (
        ("nan", ("--temp", "nan"), REFUSED),
        ("inf", ("--temp", "inf"), REFUSED),
        ("200", ("--temp", "200"), REFUSED),
        ("-300", ("--temp", "-300"), REFUSED),
        ("1e300", ("--temp", "1e300"), REFUSED),
        ("far future", ("--at", "9999-12-31T23:59"), DONE | REFUSED),
        ("far past", ("--at", "0001-01-01T00:00"), DONE | REFUSED),
        ("zone", ("--at", "2024-05-04T14:30+05:00"), DONE | REFUSED),
        ("no time", ("--at", "soon"), REFUSED),
        ("day alone", ("--at", "2024-05-04"), REFUSED),
        ("long time", ("--at", "2" * 5000), REFUSED),
        ("long book", ("--book", "x" * 5000), REFUSED),
        ("book outside", ("--book", "../../../outside"), REFUSED),
        ("book absolute", ("--book", "/etc"), REFUSED),
        ("book NUL", ("--book", "a\0b"), REFUSED),
        ("book empty", ("--book", ""), DONE | REFUSED),
        ("week", ("--at", "2024-W01"), DONE | REFUSED),
        ("book dots", ("--book", "."), REFUSED),
    ):
        call = (*RECORD[0], *words)
        # What was recorded has to be readable ever after.
        then = call if codes == REFUSED else CHECK[0]
        calls = (call,) if codes == REFUSED else (call, then)
        yield start.case(
            f"record {name}",
            lambda place: None,
            calls,
            codes=codes if codes == REFUSED else DONE | REFUSED,
            check=_log_can_be_read,
        )
    yield start.case(
        "record step unknown", lambda place: None, (("record", "{project}", "n" * 5000, *RECORD[0][3:]),), codes=REFUSED
    )
    yield start.case("record twice", lambda place: None, (RECORD[0], RECORD[0]), codes=REFUSED)


def _log_can_be_read(place: Place) -> str:
    import tomllib

    path = place.project / "built.toml"
    if not path.exists():
        return ""
    for entry in tomllib.loads(path.read_text())["built"]:
        if not -40 <= entry["temperature_c"] <= 80:
            return f"the log says {entry['temperature_c']} C and can no longer be read"
    return ""


def _set(*path: Any, value: Any) -> Callable[[Any], Any]:
    def change(record: Any) -> Any:
        at = record
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = value
        return record

    return change


def _books(start: Start) -> Iterator[Case]:
    junk: tuple[tuple[str, bytes], ...] = (
        ("empty", b""),
        ("null", b"null"),
        ("list", b"[]"),
        ("deep", b"[" * 100000),
        ("deep keys", b'{"a":' * 50000),
        ("NaN", b'{"steps": NaN}'),
        ("big", b'{"steps": ' + b"9" * 10000 + b"}"),
        ("utf-16", '{"a": 1}'.encode("utf-16")),
        ("binary", bytes(range(256))),
    )
    for call, file in itertools.product((CHECK, RECORD, RECUT), ("plan.json", "pages.json", "book.json")):
        said = call[0][0]
        for name, data in junk:
            yield start.case(f"book {file} {name}, {said}", forged(file, data), call)
        gone = f"book {file} gone, {said}"
        yield start.case(gone, lambda place, f=file: (place.project / "books" / "A" / f).unlink(), call)
        yield start.case(f"book {file} is a folder, {said}", _folder(f"books/A/{file}"), call)
    yield from _forged_values(start)
    yield from _spoiled_books(start)


def _forged_values(start: Start) -> Iterator[Case]:
    for call in (CHECK, RECORD, RECUT):
        said = call[0][0]
        for path, values in (
            (("steps",), ([], {}, None, [None], "x")),
            (("parts",), ([], None)),
            (("joints",), ([], None)),
            (("steps", 0, "number"), ("", "../x", None, 1, "n" * 5000, "\x1b[31m")),
            (("steps", 0, "hold"), (None, {}, {"minutes": 1e300})),
            (("steps", 0, "direction"), ([0, 0, 0], [1e300, 0, 0], None)),
            (("steps", 0, "travel_mm"), (1e300, -1, None)),
            (("steps", 0, "moves"), ([], ["P99"], None)),
            (("steps", 0, "joints"), (["J99"], None)),
            (("steps", 0, "image"), ("../../../../outside/secret.png", "/etc/hostname", None, "n" * 5000)),
            (("parts", 0, "file"), ("../../outside/outside.stl", None)),
            (("parts", 0, "fingerprint"), (None, {}, [])),
            (("joints", 0, "parts"), ([], ["P01"], ["P98", "P99"])),
            (("figure",), (None, {})),
            (("schema",), ("x", None)),
            (("steps", 0, "access"), ([], [{}], None)),
            (("calendar",), (None, {})),
            (("findings",), (None, [{}])),
        ):
            for value in values:
                told = f"{' '.join(map(str, path))} {str(value)[:20]}"
                yield start.case(f"plan {told}, {said}", forged("plan.json", _set(*path, value=value)), call)
        for path, values in (
            (("revision",), ("B", "", "../x", None, "draft", "n" * 5000)),
            (("files",), ({}, None, [])),
            (("files", "../../../../outside/secret.txt"), ("0" * 64,)),
            (("files", "/etc/hostname"), ("0" * 64,)),
            (("files", "n" * 5000), ("0" * 64,)),
            (("files", "a\0b"), ("0" * 64,)),
            (("files", ""), ("0" * 64,)),
            (("files", "/dev/zero"), ("0" * 64,)),
            (("files", "."), ("0" * 64,)),
            (("input_digest",), ("x", None)),
        ):
            for value in values:
                told = f"{' '.join(map(str, path))[:30]} {str(value)[:20]}"
                yield start.case(f"seal {told}, {said}", forged("book.json", _set(*path, value=value)), call)


def _spoiled_books(start: Start) -> Iterator[Case]:
    for file in ("hardware.xlsx", "crew-book.pdf", "plan.json", "shop-file.pdf", "cover.png"):
        for how in ("touched", "gone"):
            yield start.case(
                f"issued {file} {how}, record",
                _spoiled(file, how),
                RECORD,
                check=_no_draft_in_the_log,
            )
    for word in (
        "{outside}",
        "{project}",
        "{case}/nowhere",
        "/dev/null",
        "/",
        "{project}/books/A/plan.json",
        "",
        "n" * 5000,
    ):
        call = (("recut", "{project}", "--since", word),)
        yield start.case(f"since {word[:30]!r}", lambda place: None, call, codes=REFUSED)


def _spoiled(file: str, how: str) -> Edit:
    def edit(place: Place) -> None:
        path = place.project / "books" / "A" / file
        path.chmod(0o644)
        if how == "gone":
            path.unlink()
        else:
            data = bytearray(path.read_bytes())
            data[len(data) // 2] ^= 1
            path.write_bytes(data)

    return edit


def _no_draft_in_the_log(place: Place) -> str:
    path = place.project / "built.toml"
    return (
        "a step of the issued book was logged as one of a draft"
        if path.exists() and '"draft"' in path.read_text()
        else ""
    )


def _npz(**arrays: Any) -> bytes:
    import numpy as np

    stream = io.BytesIO()
    np.savez(stream, **arrays)
    return stream.getvalue()


class _Bang:
    def __reduce__(self) -> tuple[Any, ...]:
        import os

        return (os.system, ("echo x > WRITTEN",))


def _own_files(start: Start) -> Iterator[Case]:
    import numpy as np

    junk = (
        ("empty", b""),
        ("deep", b"[" * 100000),
        ("null", b"null"),
        ("list", b"[]"),
        ("binary", bytes(range(256))),
        ("utf-16", '{"joints": []}'.encode("utf-16")),
        ("joints null", b'{"joints": null}'),
        ("joints of one", b'{"joints": [1]}'),
        ("big", b'{"joints": ' + b"9" * 10000 + b"}"),
    )
    for name, data in junk:
        yield start.case(f"surveyed.json {name}", put("surveyed.json", data))
        yield start.case(f"cache entries {name}", lambda place, d=data: _cache(place, d), (CHECK[0], CHECK[0]))
    yield start.case("surveyed.json is a folder", _folder("surveyed.json"), codes=REFUSED)
    yield start.case("surveyed.json gone", lambda place: (place.project / "surveyed.json").unlink())
    for name, data in (
        ("empty", b""),
        ("not a zip", b"hello"),
        ("pickle", _npz(vertices=np.array([_Bang()], dtype=object))),
        ("other arrays", _npz(a=np.zeros(3))),
        ("nan", _npz(vertices=np.full((3, 3), np.nan), faces=np.array([[0, 1, 2]]))),
        ("wild index", _npz(vertices=np.zeros((3, 3)), faces=np.array([[0, 1, 10**9]]))),
        ("negative index", _npz(vertices=np.zeros((3, 3)), faces=np.array([[0, 1, -9]]))),
        ("complex", _npz(vertices=np.zeros((3, 3), dtype=complex), faces=np.array([[0, 1, 2]]))),
        ("wrong shape", _npz(vertices=np.zeros(5), faces=np.zeros((2, 2, 2), dtype=int))),
        ("bomb", _array_bomb()),
    ):
        yield start.case(f"kept mesh {name}", put("kept-meshes/P01.npz", data))
    for folder in ("kept-meshes", ".cache", "books", "parts", "templates", "contact-sheet.pdf"):
        yield start.case(f"{folder} is a file", lambda place, f=folder: _as_file(place, f))
        yield start.case(f"{folder} may not be read", lambda place, f=folder: _locked(place, f))


def _cache(place: Place, data: bytes) -> None:
    """A cache in which every entry is this."""
    for digit in "0123456789abcdef":
        for other in "0123456789abcdef":
            (place.project / ".cache" / f"{digit}{other}").mkdir(parents=True)
            (place.project / ".cache" / f"{digit}{other}" / "entry.json").write_bytes(data)


def _array_bomb() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        head = (
            b"\x93NUMPY\x01\x00\x76\x00{'descr': '<f8', 'fortran_order': False, 'shape': (1000000000, 3), }".ljust(127)
            + b"\n"
        )
        for name in ("vertices.npy", "faces.npy"):
            archive.writestr(name, head + b"\0" * 50_000_000)
    return stream.getvalue()


def _as_file(place: Place, name: str) -> None:
    path = place.project / name
    if path.is_dir():
        shutil.rmtree(path)
    path.write_text("x")


def _locked(place: Place, name: str) -> None:
    """No rights; they do not bind root, who then sees nothing odd."""
    path = place.project / name
    path.mkdir(exist_ok=True) if not path.exists() else None
    path.chmod(0o500 if path.is_dir() else 0o400)


def mutated(start: Start, seed: str, number: int) -> Case:
    """The n-th spoiled project of a seed."""
    rng = random.Random(f"{seed}/project/{number}")
    file = rng.choice(
        (*TEXTS, *TEXTS[:3], "surveyed.json", "plan.json", "pages.json", "book.json", "kept-meshes/P01.npz")
    )
    call = rng.choice((CHECK, CHECK, CHECK, RECORD, RECUT, SHEET, STATUS))

    def edit(place: Place) -> None:
        rng = random.Random(f"{seed}/project/{number}/edit")
        if file.endswith(".json") and file != "surveyed.json":
            path = place.project / "books" / "A" / file
            is_record = rng.random() < 0.85
            data = path.read_bytes()
            other = (
                json.dumps(mutated_record(json.loads(data), rng)).encode() if is_record else mutated_bytes(data, rng)
            )
            forged(file, other)(place)
            return
        if file == "built.toml":
            put(file, _BUILT)(place)
        path = place.project / file
        data = path.read_bytes()
        if file == "surveyed.json" and rng.random() < 0.7:
            path.write_bytes(json.dumps(mutated_record(json.loads(data), rng)).encode())
        elif file.endswith(".npz") or rng.random() < 0.15:
            path.write_bytes(mutated_bytes(data, rng))
        else:
            path.write_bytes(mutated_text(data, rng))

    return start.case(f"mutated {number}", edit, call)
