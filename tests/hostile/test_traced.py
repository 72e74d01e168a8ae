"""What a whole book opens, starts and calls, as the kernel sees it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.hostile import traced

needs_strace = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed: nothing was watched")


@needs_strace
def test_a_book_opens_nothing_that_is_not_its_own_and_calls_nobody(tmp_path: Path) -> None:
    assert traced.watched(tmp_path) == []


def test_what_is_not_its_own_is_seen(tmp_path: Path) -> None:
    """Lines as strace writes them."""
    place = traced.Place(tmp_path)
    secret = tmp_path / "outside" / "secret.txt"
    secret.parent.mkdir()
    secret.write_text("x")
    own = f'7 openat(AT_FDCWD, "{place.project}/figure.toml", O_RDONLY|O_CLOEXEC) = 3'
    bad = (
        f'7 openat(AT_FDCWD, "{secret}", O_RDONLY|O_CLOEXEC) = 3',
        f'7 openat(AT_FDCWD, "{place.project}/../../outside/secret.txt", O_RDONLY) = 3',
        '7 openat(AT_FDCWD, "pickle.py", O_RDONLY|O_CLOEXEC) = 3',
        '7 connect(5, {sa_family=AF_INET, sin_port=htons(80), sin_addr=inet_addr("192.0.2.1")}, 16) = -1 EINPROGRESS',
        '7 execve("/usr/bin/curl", ["curl"], 0x7ffd /* 9 vars */) = 0',
        f'7 unlink("{secret}") = 0',
    )
    whole = [own, '7 openat(AT_FDCWD, "/nowhere/x", O_RDONLY) = -1 ENOENT (No such file or directory)', *bad]
    assert len(list(traced.faults(whole, place))) == len(bad)
    halves = [
        f'7 openat(AT_FDCWD, "{secret}" <unfinished ...>',
        '8 unlink("x") = -1 ENOENT',
        "7 <... openat resumed>, O_RDONLY) = 3",
    ]
    assert len(list(traced.faults(traced.joined(halves), place))) == 1
