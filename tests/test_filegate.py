from __future__ import annotations

import os
from pathlib import Path

import pytest

from assembler.errors import InputError, MeshFileError
from assembler.filegate import read_file, read_text


def _read(path: Path, root: Path) -> bytes:
    return read_file(path, root=root, most_bytes=100, error=MeshFileError)


def test_reads_a_plain_file_and_a_link_that_stays_inside(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"x")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    assert _read(tmp_path / "a", tmp_path) == _read(tmp_path / "b", tmp_path) == b"x"


@pytest.mark.parametrize("name", ["link", "link/secret", "../secret"])
def test_refuses_what_leaves_the_folder(tmp_path: Path, name: str) -> None:
    root, outside = tmp_path / "root", tmp_path / "outside"
    root.mkdir()
    outside.mkdir()
    (outside / "secret").write_bytes(b"x")
    (tmp_path / "secret").write_bytes(b"x")
    (root / "link").symlink_to(outside if "/" in name else outside / "secret")
    with pytest.raises(MeshFileError, match="leads out of"):
        _read(root / name, root)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda path: os.mkfifo(path), "pipe, device"),
        (lambda path: path.mkdir(), "is a folder"),
        (lambda path: path.write_bytes(b"x" * 101), "MB"),
        (lambda path: path.symlink_to(path), "cannot be read"),
        (lambda path: path.symlink_to("/dev/zero"), "leads out of"),
    ],
)
def test_refuses_what_is_no_file_of_the_right_size(tmp_path: Path, make, words: str) -> None:
    make(tmp_path / "a")
    with pytest.raises(MeshFileError, match=words):
        _read(tmp_path / "a", tmp_path)


def test_refuses_a_device_wherever_it_may_lie() -> None:
    with pytest.raises(InputError, match="device"):
        read_file(Path("/dev/zero"), root=None, most_bytes=100)


def test_a_missing_file_is_the_callers_to_explain(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        _read(tmp_path / "a", tmp_path)


def test_text_may_have_a_byte_order_mark(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"\xef\xbb\xbfx = 1\n")
    assert read_text(tmp_path / "a", root=tmp_path) == "x = 1\n"
    (tmp_path / "a").write_bytes(b"\xff")
    with pytest.raises(InputError, match="UTF-8"):
        read_text(tmp_path / "a", root=tmp_path)
