"""The one owner of WeasyPrint: sets HTML pages as a tagged PDF, and says what did not fit."""

from __future__ import annotations

import hashlib
import logging
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urljoin

import weasyprint
from weasyprint.formatting_structure.boxes import BlockBox, MarginBox, TableCellBox, TextBox
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from assembler.errors import BookFolderError, Fault
from assembler.publishing.fitting import SetText, misfits
from assembler.publishing.rasters import PlacedRaster, packed_raster
from assembler.publishing.tagging import finish_structure

_LOGGER = logging.getLogger("weasyprint")


@dataclass(frozen=True, slots=True, kw_only=True)
class PdfResult:
    """What setting a document gave.

    Parameters
    ----------
    pages
        Number of pages.
    complaints
        What WeasyPrint logged at warning level or above, in order.
    misfits
        Text that runs out of its page or table cell, or was not set at all.
    """

    pages: int
    complaints: tuple[str, ...]
    misfits: tuple[str, ...]


PX_PER_MM = 96 / 25.4
"""CSS pixels."""
BASE_URL = "http://book.invalid/"
"""Stands for the folder of the book, so that no path of the machine gets into the file."""


_PNG_NAME = re.compile(r'<image [^>]*?href="([^":]+\.png)"')


class _BookFolder(URLFetcher):  # type: ignore[misc]
    """Hands out files of the book's folder and data written into the pages, and nothing else: no network."""

    def __init__(self, folder: Path) -> None:
        super().__init__(allowed_protocols=("data",))
        self._folder = folder

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> Any:
        if not url.startswith(BASE_URL):
            return super().fetch(url, headers)
        name = unquote(url.removeprefix(BASE_URL))
        return URLFetcherResponse(url, (self._folder / name).read_bytes())


class _Listener(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[str] = []
        self.errors: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        line = record.getMessage()
        self.lines.append(line)
        if record.levelno >= logging.ERROR:
            self.errors.append(line)


@contextmanager
def _listening() -> Iterator[_Listener]:
    listener = _Listener()
    _LOGGER.addHandler(listener)
    try:
        yield listener
    finally:
        _LOGGER.removeHandler(listener)


def write_pdf(
    html: str,
    target: Path,
    *,
    base: Path,
    is_tagged: bool = True,
    cover: str = "",
    anchors: Mapping[str, str] | None = None,
) -> PdfResult:
    """A PDF file, the same bytes for the same HTML and pictures.

    Parameters
    ----------
    html
        The whole document; its `<title>` and `lang` become the PDF's.
    target
        File to write.
    base
        Folder that relative picture names refer to.
    is_tagged
        Whether to write PDF/UA-1 (tagged, titled).
    cover, anchors
        Label of the first page, and where links lead in words, see `finish_structure`.

    Raises
    ------
    BookFolderError
        If a picture cannot be read, or the file cannot be written: no book with holes in it is left behind.
    """
    identifier = hashlib.sha256(html.encode()).hexdigest()[:32].encode()
    with _listening() as listener:
        document = weasyprint.HTML(string=html, base_url=BASE_URL, url_fetcher=_BookFolder(base)).render(
            font_config=FontConfiguration(), pdf_tags=is_tagged, cache=_placed_rasters(html, base)
        )
        content = document.write_pdf(
            pdf_variant="pdf/ua-1" if is_tagged else None,
            pdf_identifier=identifier,
            pdf_tags=is_tagged,
            finisher=_finisher(cover, anchors or {}) if is_tagged else None,
        )
    if listener.errors:
        raise BookFolderError(
            *(Fault(file=target.name, place="", wrong=line, right="") for line in sorted(set(listener.errors)))
        )
    try:
        target.write_bytes(content)
    except OSError as exc:
        raise BookFolderError(
            Fault(
                file=str(target), place="", wrong=f"cannot be written: {exc.strerror}", right="close or free the file"
            )
        ) from exc
    return PdfResult(
        pages=len(document.pages), complaints=tuple(listener.lines), misfits=misfits(html, tuple(_set_texts(document)))
    )


def _finisher(cover: str, anchors: Mapping[str, str]) -> Callable[[Any, Any], None]:
    return lambda _, pdf: finish_structure(pdf, cover=cover, names=anchors)


def _placed_rasters(html: str, base: Path) -> dict[str, Any]:
    """Images by address, ready to be placed; what is missing or no plain PNG is left to the typesetter."""
    placed: dict[str, Any] = {}
    for name in sorted(set(_PNG_NAME.findall(html))):
        file = base / unquote(name)
        raster = packed_raster(file.read_bytes()) if file.is_file() else None
        if raster is not None:
            placed[urljoin(BASE_URL, name)] = PlacedRaster(raster, hashlib.sha256(name.encode()).hexdigest()[:16])
    return placed


def measured_heights(html: str, *, base: Path) -> dict[str, float]:
    """Heights in mm of the blocks of a document, by their `data-block`, margins included.

    Parameters
    ----------
    html
        Each block lies whole on one page.
    base
        Folder that picture names refer to.
    """
    with _listening():
        document = weasyprint.HTML(string=html, base_url=BASE_URL, url_fetcher=_BookFolder(base)).render(
            font_config=FontConfiguration(), cache=_placed_rasters(html, base)
        )
    found: dict[str, float] = {}
    for page in document.pages:
        for box in page._page_box.descendants():
            name = box.element.get("data-block") if box.element is not None else None
            if name and isinstance(box, BlockBox):
                found.setdefault(name, box.margin_height() / PX_PER_MM)
    return found


def _set_texts(document: Any) -> Iterator[SetText]:
    """Every run of text outside the margins.

    The tree of laid out boxes is not part of WeasyPrint's public face; tests hold what is used of it.
    """
    for number, page in enumerate(document.pages, start=1):
        box = page._page_box
        right, bottom = box.content_box_x() + box.width, box.content_box_y() + box.height
        for child in box.children:
            if not isinstance(child, MarginBox):
                yield from _texts_below(child, number, right, bottom)


def _texts_below(box: Any, number: int, right: float, bottom: float) -> Iterator[SetText]:
    if isinstance(box, TableCellBox):
        right = min(right, box.position_x + box.border_width())
    if isinstance(box, TextBox):
        past = max(box.position_x + box.width - right, box.position_y + box.height - bottom)
        yield SetText(page=number, text=box.text, past_mm=past / PX_PER_MM)
    for child in getattr(box, "children", ()):
        yield from _texts_below(child, number, right, bottom)
