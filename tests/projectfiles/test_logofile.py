"""The shop's logo: read when it can be printed, one clear line when it cannot."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from assembler.errors import ProjectFileError
from assembler.projectfiles.figurefile import read_settings
from assembler.projectfiles.figuretemplate import FirstGuess, figure_toml
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.inputdigest import input_digest

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 4 2"><rect width="4" height="2"/></svg>'


def png() -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (4, 2), "navy").save(stream, "PNG")
    return stream.getvalue()


def figure(folder: Path, logo: str, data: bytes | None = None) -> Path:
    path = folder / "figure.toml"
    text = figure_toml(FirstGuess(name="Heron", unit="mm", base_part=None))
    assert 'logo = ""' in text
    path.write_text(text.replace('logo = ""', f'logo = "{logo}"'), encoding="utf-8")
    if data is not None:
        (folder / logo).write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("name", "data", "kind"), [("a.svg", SVG, "image/svg+xml"), ("a.png", png(), "image/png")], ids=["svg", "png"]
)
def test_a_logo_is_read(tmp_path: Path, name: str, data: bytes, kind: str) -> None:
    logo = read_settings(figure(tmp_path, name, data)).logo
    assert logo is not None
    assert (logo.media_type, logo.data) == (kind, data)


def test_without_a_logo_there_is_none(tmp_path: Path) -> None:
    assert read_settings(figure(tmp_path, "")).logo is None


@pytest.mark.parametrize(
    ("name", "data", "wrong"),
    [
        ("gone.svg", None, "'gone.svg' cannot be read: there is no such file"),
        ("a.svg", b"<svg", "'a.svg' is neither PNG nor SVG"),
        ("a.png", png()[:-6], "'a.png' is cut short"),
        ("a.svg", b"<html/>", "'a.svg' is no SVG: its first element is 'html'"),
        ("a.svg", SVG + b" " * 2_000_001, "'a.svg' has 2.0 MB"),
    ],
    ids=["missing", "broken", "short", "other", "large"],
)
def test_a_bad_logo_is_one_clear_line(tmp_path: Path, name: str, data: bytes | None, wrong: str) -> None:
    path = figure(tmp_path, name, data)
    with pytest.raises(ProjectFileError) as caught:
        read_settings(path)
    (fault,) = caught.value.faults
    assert (fault.file, fault.place) == (str(path), "shop.logo")
    assert fault.wrong.startswith(wrong)
    assert fault.right


def test_another_logo_is_another_book(tmp_path: Path) -> None:
    figure(tmp_path, "a.svg", SVG)
    first = input_digest(ProjectFolder(tmp_path))
    (tmp_path / "a.svg").write_bytes(SVG.replace(b'"4"', b'"3"'))
    assert input_digest(ProjectFolder(tmp_path)) != first
