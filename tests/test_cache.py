"""What is kept comes back to the bit or not at all; damage, other code and read-only folders cost time only."""

from __future__ import annotations

import io
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from assembler import cache
from assembler.cache import Answers, Cache, code_mark, content_key

ARRAYS = {"points": np.array([[0.1, np.pi]]), "flags": np.array([True, False]), "a file.png": np.zeros(0)}


@pytest.fixture(autouse=True)
def _own_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A user of the test's own."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    cache._user_key.cache_clear()
    yield
    cache._user_key.cache_clear()


def _filled(file: Path) -> Cache:
    kept = Cache(file)
    kept.keep("value", {"a": [1, 2.5, "x"]})
    kept.keep_arrays("arrays", ARRAYS, [3])
    kept.save()
    return kept


def test_keys_tell_where_one_piece_ends() -> None:
    assert len({content_key("ab", "c"), content_key("a", "bc"), content_key("abc"), content_key(["ab", "c"])}) == 4
    assert content_key({"a": 1, "b": 2}) == content_key({"b": 2, "a": 1})


def test_what_was_kept_comes_back_to_the_bit(tmp_path: Path) -> None:
    (tmp_path / "picture.png").write_bytes(bytes(range(256)))
    kept = _filled(tmp_path / "kept")
    kept.keep_files("files", {"width": 3}, [tmp_path / "picture.png"])
    kept.save()
    for again in (kept, Cache(tmp_path / "kept")):
        assert again.value("value") == {"a": [1, 2.5, "x"]}
        arrays = again.arrays("arrays")
        assert arrays is not None
        assert {name: (one.dtype, one.tobytes()) for name, one in arrays.items()} == {
            name: (one.dtype, one.tobytes()) for name, one in ARRAYS.items()
        }
        assert again.value("arrays") == [3]
        (tmp_path / "into").mkdir(exist_ok=True)
        assert again.files("files", tmp_path / "into") == {"width": 3}
        assert (tmp_path / "into" / "picture.png").read_bytes() == bytes(range(256))
        assert again.value("nothing") is again.arrays("nothing") is again.files("nothing", tmp_path) is None


def test_nothing_is_written_before_it_is_saved(tmp_path: Path) -> None:
    kept = Cache(tmp_path / "sub" / "kept")
    kept.keep("a", 1)
    assert kept.value("a") == 1
    assert not (tmp_path / "sub").exists()
    kept.save()
    assert Cache(tmp_path / "sub" / "kept").value("a") == 1


def test_objects_are_refused() -> None:
    with pytest.raises(ValueError, match="numbers were expected"):
        Cache().keep_arrays("a", {"objects": np.array([{}], dtype=object)})


def test_deleting_it_is_only_a_miss(tmp_path: Path) -> None:
    _filled(tmp_path / "kept")
    (tmp_path / "kept").unlink()
    assert Cache(tmp_path / "kept").value("value") is None


@pytest.mark.parametrize("harm", ["cut", "emptied", "overwritten", "other"])
def test_a_damaged_file_is_empty_and_can_be_written_again(tmp_path: Path, harm: str) -> None:
    file = tmp_path / "kept"
    _filled(file)
    data = file.read_bytes()
    file.write_bytes(
        {"cut": data[: len(data) // 2], "emptied": b"", "overwritten": data[:100] + b"x" * (len(data) - 100)}.get(
            harm, b"no database at all, but long enough to look like one" * 9
        )
    )
    kept = Cache(file)
    assert kept.value("value") in (None, {"a": [1, 2.5, "x"]})
    kept.value("arrays")
    _filled(file)
    assert Cache(file).value("value") == {"a": [1, 2.5, "x"]}


def test_a_damaged_file_that_nobody_reads_is_written_anew_in_the_next_run(tmp_path: Path) -> None:
    (tmp_path / "kept").write_bytes(b"no database at all, but long enough to look like one" * 9)
    _filled(tmp_path / "kept")
    assert Cache(_filled(tmp_path / "kept")._file).value("value") == {"a": [1, 2.5, "x"]}


def test_a_flipped_bit_is_a_miss(tmp_path: Path) -> None:
    _filled(tmp_path / "kept")
    with sqlite3.connect(tmp_path / "kept") as database:
        database.execute("update entries set value = '[4]' where key = 'arrays'")
    database.close()
    kept = Cache(tmp_path / "kept")
    assert kept.arrays("arrays") is None
    assert kept.value("value") is not None


def test_nothing_in_it_is_unpickled(tmp_path: Path) -> None:
    """Not even of a file that this user has signed."""
    stream = io.BytesIO()
    np.savez(stream, np.array(["a"]), np.array([{}], dtype=object))
    for data in (stream.getvalue(), b"no archive"):
        _filled(tmp_path / "kept")
        with sqlite3.connect(tmp_path / "kept") as database:
            row = (data, cache._signature("arrays", "[3]", data))
            database.execute("update entries set arrays = ?, signature = ? where key = 'arrays'", row)
        database.close()
        assert Cache(tmp_path / "kept").arrays("arrays") is None
        (tmp_path / "kept").unlink()


def test_what_another_user_made_is_not_believed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A project by mail may bring set pages and answers of a planner that never ran."""
    _filled(tmp_path / "kept")
    assert Cache(tmp_path / "kept").value("value") is not None
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "another"))
    cache._user_key.cache_clear()
    assert Cache(tmp_path / "kept").value("value") is Cache(tmp_path / "kept").arrays("arrays") is None
    _filled(tmp_path / "kept")
    assert Cache(tmp_path / "kept").value("value") is not None
    key = tmp_path / "another" / "assembler" / "cache-key"
    assert key.stat().st_mode & 0o077 == 0
    assert [path.name for path in key.parent.iterdir()] == ["cache-key"]
    cache._user_key.cache_clear()
    assert Cache(tmp_path / "kept").value("value") is not None


def test_an_entry_does_not_answer_for_another(tmp_path: Path) -> None:
    _filled(tmp_path / "kept")
    with sqlite3.connect(tmp_path / "kept") as database:
        database.execute("delete from entries where key = 'value'")
        database.execute("update entries set key = 'value' where key = 'arrays'")
    database.close()
    assert Cache(tmp_path / "kept").value("value") is None


def test_without_a_place_for_the_key_what_is_kept_serves_this_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_bytes(b"")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    cache._user_key.cache_clear()
    _filled(tmp_path / "kept")
    assert Cache(tmp_path / "kept").value("value") is not None
    cache._user_key.cache_clear()
    assert Cache(tmp_path / "kept").value("value") is None


@pytest.mark.parametrize(
    "sql",
    [
        "create trigger more after update on entries begin delete from entries; end",
        "create view other as with recursive n(x) as (select 1 union all select x + 1 from n) select x from n",
    ],
)
def test_a_file_with_views_or_triggers_is_empty(tmp_path: Path, sql: str) -> None:
    _filled(tmp_path / "kept")
    with sqlite3.connect(tmp_path / "kept") as database:
        database.execute(sql)
    database.close()
    assert Cache(tmp_path / "kept").value("value") is None
    assert _filled(tmp_path / "kept").value("value") is not None


def test_a_file_of_an_entry_cannot_be_written_elsewhere(tmp_path: Path) -> None:
    kept = Cache()
    kept.keep_arrays("evil", {"../outside.png": np.zeros(1, np.uint8)}, 1)
    (tmp_path / "into").mkdir()
    kept.files("evil", tmp_path / "into")
    assert [path.name for path in tmp_path.iterdir()] == ["into"]


def test_where_nothing_can_be_written_nothing_is_kept(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    kept = Cache(tmp_path / "file" / "kept")
    kept.keep("a", 1)
    kept.save()
    assert kept.value("a") == 1
    assert Cache(tmp_path / "file" / "kept").value("a") is None


def test_what_is_only_read_is_read(tmp_path: Path) -> None:
    _filled(tmp_path / "kept")
    (tmp_path / "kept").chmod(0o444)
    tmp_path.chmod(0o555)
    try:
        kept = Cache(tmp_path / "kept")
        assert kept.value("value") == {"a": [1, 2.5, "x"]}
        kept.keep("more", 1)
        kept.save()
    finally:
        tmp_path.chmod(0o755)


def test_it_stays_bounded_and_drops_the_longest_unused(tmp_path: Path) -> None:
    kept = Cache(tmp_path / "kept", limit_bytes=200_000)
    for number in range(4):
        kept.keep_arrays(f"{number}", {"a": np.zeros(50_000, np.uint8)})
        kept.save()
        time.sleep(0.01)
        Cache(tmp_path / "kept").value("nothing")
        assert kept.arrays("0") is not None
    kept.save()
    again = Cache(tmp_path / "kept")
    there = [number for number in range(4) if again.arrays(f"{number}") is not None]
    assert there == [0, 2, 3]


WRITER = """
import sys, numpy as np
from pathlib import Path
from assembler.cache import Cache
kept = Cache(Path(sys.argv[1]))
number = 0
while True:
    kept.keep_arrays(f"{number % 50}", {"a": np.full(3000, number % 50)})
    kept.save()
    if number == 0:
        print("begun", flush=True)
    number += 1
"""


def test_runs_killed_at_random_moments_leave_a_usable_cache(tmp_path: Path) -> None:
    rng = random.Random(7)
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])}
    for _ in range(4):
        words = [sys.executable, "-c", WRITER, str(tmp_path / "kept")]
        with (
            subprocess.Popen(words, stdout=subprocess.PIPE, env=environment) as first,
            subprocess.Popen(words, stdout=subprocess.PIPE, env=environment) as second,
        ):
            for writer in (first, second):
                assert writer.stdout is not None
                writer.stdout.readline()
            time.sleep(0.2 * rng.random())
            for writer in (first, second):
                writer.send_signal(signal.SIGKILL)
        kept = Cache(tmp_path / "kept")
        found = {number: kept.arrays(f"{number}") for number in range(50)}
        assert found[0] is not None
        assert all((one["a"] == number).all() for number, one in found.items() if one is not None)


def test_answers_of_other_code_are_not_used(tmp_path: Path) -> None:
    one = Answers(Cache(tmp_path / "kept"), common="one")
    key = one.key("closed", "P01")
    with pytest.raises(KeyError):
        one.get(key)
    one.put(key, None)
    assert one.has(key)
    assert one.get(key) is None
    kept = Cache(tmp_path / "kept")
    Answers(kept, common="one").put(key, False)
    kept.save()
    again, other = Answers(Cache(tmp_path / "kept"), common="one"), Answers(Cache(tmp_path / "kept"), common="other")
    assert again.has(again.key("closed", "P01"))
    assert again.get(again.key("closed", "P01")) is False
    assert not other.has(other.key("closed", "P01"))


def test_a_mark_of_the_code_holds_rooms_and_libraries() -> None:
    assert (
        len({code_mark(("figure",), ("numpy",)), code_mark(("drawing",), ("numpy",)), code_mark(("figure",), ())}) == 3
    )
