"""PNG files in a PDF: the pixels read back are those of the file, and odd files are left to the typesetter."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pypdf
import pytest
from PIL import Image

from assembler.publishing.pdf import write_pdf
from assembler.publishing.rasters import packed_raster

WIDTH, HEIGHT = 30, 20


def saved(folder: Path, mode: str, **how: object) -> Path:
    """A PNG of some mode with structure in it."""
    across, down = np.meshgrid(np.arange(WIDTH), np.arange(HEIGHT))
    colour = np.stack([across * 8, down * 12, (across + down) * 5], axis=2).astype(np.uint8)
    path = folder / "a.png"
    Image.fromarray(colour).convert(mode).save(path, **how)
    return path


def page_of(name: str) -> str:
    picture = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 30 20"><title>a</title><image href="{name}"'
    return f'<html lang="en"><head><title>t</title></head><body>{picture} width="30" height="20"/></svg></body></html>'


@pytest.mark.parametrize("mode", ["P", "RGB", "L"])
def test_pixels_in_the_pdf_are_those_of_the_file(tmp_path: Path, mode: str) -> None:
    path = saved(tmp_path, mode)
    write_pdf(page_of("a.png"), tmp_path / "t.pdf", base=tmp_path)
    (found,) = pypdf.PdfReader(tmp_path / "t.pdf").pages[0].images
    assert found.image is not None
    assert np.array_equal(np.asarray(found.image.convert("RGB")), np.asarray(Image.open(path).convert("RGB")))
    packed = packed_raster(path.read_bytes())
    assert packed is not None
    assert packed.data in (tmp_path / "t.pdf").read_bytes(), "the file was packed anew"


@pytest.mark.parametrize("mode", ["RGBA", "LA", "1", "I;16"])
def test_what_cannot_go_in_as_it_is_goes_through_the_typesetter(tmp_path: Path, mode: str) -> None:
    path = saved(tmp_path, "L" if mode == "I;16" else mode)
    if mode == "I;16":
        Image.fromarray(np.asarray(Image.open(path)).astype(np.uint16) * 200).save(path)
    assert packed_raster(path.read_bytes()) is None
    write_pdf(page_of("a.png"), tmp_path / "t.pdf", base=tmp_path)
    assert len(pypdf.PdfReader(tmp_path / "t.pdf").pages[0].images) == 1


def test_a_file_that_is_cut_short_or_no_png_is_not_taken(tmp_path: Path) -> None:
    whole = saved(tmp_path, "P").read_bytes()
    assert packed_raster(whole) is not None
    assert packed_raster(whole[:-20]) is None
    assert packed_raster(b"") is None
    assert packed_raster(b"GIF89a" + bytes(100)) is None


def test_a_transparent_palette_is_not_taken() -> None:
    image = Image.new("P", (4, 4))
    image.putpalette(bytes(range(12)))
    stream = io.BytesIO()
    image.save(stream, "PNG", transparency=0)
    assert packed_raster(stream.getvalue()) is None
