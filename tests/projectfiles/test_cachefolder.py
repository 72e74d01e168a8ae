from __future__ import annotations

import os
import random
import shutil
import signal
import time
import traceback
from pathlib import Path

import pytest

from assembler.projectfiles.cachefolder import CacheFolder, content_key
from assembler.projectfiles.writing import own_mark


def _files(folder: Path, seed: int, size: int = 1000) -> dict[str, Path]:
    folder.mkdir(parents=True, exist_ok=True)
    made = {}
    for name in ("step.png", "view.json"):
        made[name] = folder / f"{seed}-{name}"
        made[name].write_bytes(random.Random(f"{seed}{name}").randbytes(size))
    return made


def _size(root: Path) -> int:
    return sum(path.stat().st_size for path in root.rglob("*") if path.is_file())


def test_keys_tell_where_one_piece_ends() -> None:
    keys = {content_key("ab", "c"), content_key("a", "bc"), content_key("abc"), content_key(b"abc", ""), content_key()}
    assert len(keys) == 5
    assert content_key("ab", b"c") == content_key(b"ab", "c")


def test_what_is_stored_comes_back_byte_for_byte(tmp_path: Path) -> None:
    cache = CacheFolder(root=tmp_path / "cache")
    files = _files(tmp_path / "made", 1)
    key = content_key("scene 1")
    assert not cache.lookup(key, list(files), tmp_path / "out")
    assert not (tmp_path / "out").exists()
    cache.store(key, files)
    assert cache.lookup(key, list(files), tmp_path / "out")
    assert {name: (tmp_path / "out" / name).read_bytes() for name in files} == {
        name: path.read_bytes() for name, path in files.items()
    }
    assert not cache.lookup(content_key("scene 2"), list(files), tmp_path / "out")


def test_deleting_it_is_only_a_miss(tmp_path: Path) -> None:
    cache = CacheFolder(root=tmp_path / "cache")
    files = _files(tmp_path / "made", 1)
    cache.store("ab" * 32, files)
    shutil.rmtree(cache.root)
    assert not cache.lookup("ab" * 32, list(files), tmp_path / "out")
    cache.store("ab" * 32, files)
    assert cache.lookup("ab" * 32, list(files), tmp_path / "out")


@pytest.mark.parametrize("damage", ["changed", "shorter", "missing", "no list", "list of nonsense", "list is no table"])
def test_a_damaged_entry_is_a_miss_writes_nothing_and_can_be_stored_again(tmp_path: Path, damage: str) -> None:
    cache = CacheFolder(root=tmp_path / "cache")
    files = _files(tmp_path / "made", 1)
    key = content_key("x")
    cache.store(key, files)
    entry = cache.root / key[:2] / key
    broken = {
        "changed": lambda: (entry / "step.png").write_bytes(b"?" * 1000),
        "shorter": lambda: (entry / "step.png").write_bytes(b""),
        "missing": lambda: (entry / "view.json").unlink(),
        "no list": lambda: (entry / "entry.json").unlink(),
        "list of nonsense": lambda: (entry / "entry.json").write_bytes(b"\xff{"),
        "list is no table": lambda: (entry / "entry.json").write_bytes(b"[1]"),
    }
    broken[damage]()
    assert not cache.lookup(key, list(files), tmp_path / "out")
    assert not (tmp_path / "out").exists()
    cache.store(key, files)
    assert cache.lookup(key, list(files), tmp_path / "out")


def test_names_with_folders_are_refused(tmp_path: Path) -> None:
    cache = CacheFolder(root=tmp_path / "cache")
    for name in ("../x", "a/b", "entry.json", ""):
        with pytest.raises(ValueError, match="plain file name"):
            cache.store("ab" * 32, {name: tmp_path})


def test_it_stays_bounded_and_drops_the_longest_unused(tmp_path: Path) -> None:
    cache = CacheFolder(root=tmp_path / "cache", limit_bytes=9000)
    keys = [content_key(str(index)) for index in range(6)]
    for index, key in enumerate(keys[:4]):
        cache.store(key, _files(tmp_path / "made", index))
        os.utime(cache.root / key[:2] / key / "entry.json", (1000 + index, 1000 + index))
    assert all(cache.lookup(key, ["step.png"], tmp_path / "out") for key in keys[:1])
    # The first was used just now, so the second is the longest unused.
    cache.store(keys[4], _files(tmp_path / "made", 4))
    there = [key for key in keys if (cache.root / key[:2] / key).exists()]
    assert there == [keys[0], keys[2], keys[3], keys[4]]
    assert _size(cache.root) <= 9000


def test_of_equally_old_entries_the_lower_key_goes_first(tmp_path: Path) -> None:
    keys = sorted(content_key(str(index)) for index in range(4))
    for order in (keys, keys[::-1]):
        cache = CacheFolder(root=tmp_path / order[0][:4], limit_bytes=7000)
        for index, key in enumerate(order[:3] if order == keys else order[1:]):
            cache.store(key, _files(tmp_path / "made", index))
            os.utime(cache.root / key[:2] / key / "entry.json", (1000, 1000))
        cache.store("f" * 64, _files(tmp_path / "made", 9))
        there = sorted(path.name for path in cache.root.glob("??/*"))
        assert there == [keys[1], keys[2], "f" * 64]


def test_an_entry_larger_than_the_limit_is_not_kept_and_drops_nothing(tmp_path: Path) -> None:
    cache = CacheFolder(root=tmp_path / "cache", limit_bytes=5000)
    cache.store("ab" * 32, _files(tmp_path / "made", 1))
    cache.store("cd" * 32, _files(tmp_path / "made", 2, size=4000))
    assert cache.lookup("ab" * 32, ["step.png"], tmp_path / "out")
    assert not cache.lookup("cd" * 32, ["step.png"], tmp_path / "out")


def test_leftovers_of_killed_runs_are_swept_and_nothing_else(tmp_path: Path) -> None:
    cache = CacheFolder(root=tmp_path / "cache")
    pid = os.fork()
    if pid == 0:
        os._exit(0)
    os.waitpid(pid, 0)
    machine, _, own = own_mark().partition("-")
    for name in (f".new.{machine}-{pid}.abcdefgh", f".gone.{machine}-{pid}.abcdefgh", f".new.{own_mark()}.abcdefgh"):
        (cache.root / name).mkdir(parents=True)
    (cache.root / ".my-notes").mkdir()
    os.utime(cache.root / ".my-notes", (1000, 1000))
    cache.store("ab" * 32, _files(tmp_path / "made", 1))
    assert sorted(path.name for path in cache.root.glob(".*")) == [".my-notes", f".new.{machine}-{own}.abcdefgh"]


def _run(root: Path, made: Path, seed: int) -> None:
    """Store and look up at random in a small cache, so that entries come and go all the time; dies on a wrong byte."""
    cache = CacheFolder(root=root, limit_bytes=9000)
    rng = random.Random(seed)
    for turn in range(60):
        which = rng.randrange(8)
        key = content_key(str(which))
        wanted = {name: (made / f"{which}-{name}").read_bytes() for name in ("step.png", "view.json")}
        out = root.parent / f"out-{seed}-{turn}"
        if cache.lookup(key, list(wanted), out):
            assert {name: (out / name).read_bytes() for name in wanted} == wanted
        else:
            cache.store(key, {name: made / f"{which}-{name}" for name in wanted})


def test_four_runs_at_once_never_see_a_wrong_byte(tmp_path: Path) -> None:
    for which in range(8):
        _files(tmp_path / "made", which)
    pids = []
    for seed in range(4):
        pid = os.fork()
        if pid == 0:
            try:
                _run(tmp_path / "cache", tmp_path / "made", seed)
                os._exit(0)
            except BaseException:  # noqa: BLE001  a child must never come back into the test run
                traceback.print_exc()
                os._exit(70)
        pids.append(pid)
    assert [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in pids] == [0] * 4


def test_runs_killed_at_random_moments_leave_a_usable_cache(tmp_path: Path) -> None:
    for which in range(8):
        _files(tmp_path / "made", which)
    rng = random.Random(7)
    for seed in range(20):
        pid = os.fork()
        if pid == 0:
            try:
                _run(tmp_path / "cache", tmp_path / "made", seed)
                os._exit(0)
            except BaseException:  # noqa: BLE001  as above
                os._exit(70)
        time.sleep(rng.random() * 0.05)
        os.kill(pid, signal.SIGKILL)
        status = os.waitpid(pid, 0)[1]
        assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0
    _run(tmp_path / "cache", tmp_path / "made", 99)
