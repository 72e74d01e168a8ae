"""Makes the pictures of the README from the demo's documents: `.venv/bin/python demo/readme_pictures.py`.

Needs poppler's `pdftoppm`, and the demo as `sh demo/run` leaves it. Pages are found by what is on them.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import pypdf
from PIL import Image

BOOKS = Path(__file__).parent / "out" / "project" / "books" / "draft"
PICTURES = Path(__file__).parent / "pictures"
EDGE = (190, 190, 190)
SHOWN = {
    "crew-spread.png": ("crew-book.pdf", "Step 19, page 1 / 2", 2, 620),
    "engineers-table.png": ("engineers-file.pdf", "All joints", 1, 900),
    "labels.png": ("shop-file.pdf", "glue face: do not touch", 1, 620),
}
"""File; document, words on its first page, pages side by side, width of one in pixels."""


def main() -> int:
    """Write every picture.

    Raises
    ------
    SystemExit
        If no page of a document holds the words.
    """
    for name, (document, words, count, width_px) in SHOWN.items():
        pages = [page.extract_text() for page in pypdf.PdfReader(BOOKS / document).pages]
        first = next((number for number, text in enumerate(pages, start=1) if words in text), None)
        if first is None:
            raise SystemExit(f"{document}: no page says '{words}'")
        images = [_page(BOOKS / document, number, width_px) for number in range(first, first + count)]
        shown = Image.new("RGB", (sum(one.width for one in images), images[0].height), "white")
        for place, image in enumerate(images):
            shown.paste(image, (place * image.width, 0))
        shown.quantize(64).save(PICTURES / name, optimize=True)
    return 0


def _page(document: Path, number: int, width_px: int) -> Image.Image:
    with tempfile.TemporaryDirectory() as folder:
        command = ["pdftoppm", "-png", "-singlefile", "-f", str(number), "-scale-to-x", str(width_px)]
        subprocess.run([*command, "-scale-to-y", "-1", document, Path(folder) / "page"], check=True)
        image = Image.open(Path(folder) / "page.png").convert("RGB")
    for x in (0, image.width - 1):
        image.paste(EDGE, (x, 0, x + 1, image.height))
    for y in (0, image.height - 1):
        image.paste(EDGE, (0, y, image.width, y + 1))
    return image


if __name__ == "__main__":
    sys.exit(main())
