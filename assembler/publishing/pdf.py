"""The one owner of WeasyPrint: sets HTML pages as a tagged PDF, and says what did not fit.

What was set before from the same HTML, style, pictures and program need not be set again.
"""

from __future__ import annotations

import ctypes
import hashlib
import json
import logging
import re
import shutil
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from functools import cache, lru_cache, partial
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urljoin

import numpy as np
import weasyprint
from weasyprint.formatting_structure.boxes import BlockBox, MarginBox, TableCellBox, TextBox
from weasyprint.text.ffi import pango
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from assembler.cache import Cache, code_mark
from assembler.errors import AssemblerError, BookFolderError, Fault
from assembler.parallel import ordered_map
from assembler.publishing.bookpictures import book_picture, not_shown
from assembler.publishing.bounds import TooMuch, bounded
from assembler.publishing.fitting import SetText, misfits
from assembler.publishing.rasters import PlacedRaster, packed_raster, picture_names
from assembler.publishing.tagging import finish_structure

_LOGGER = logging.getLogger("weasyprint")
_SAID_NOTHING = ctypes.CFUNCTYPE(None, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_void_p)(lambda *_: None)
with suppress(OSError):
    # What Pango says of a size that no font has would stand between the lines of the program. Elsewhere than on Linux
    # the library has another name, and speaks.
    ctypes.CDLL("libgobject-2.0.so.0").g_log_set_default_handler(_SAID_NOTHING, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bookmark:
    """A line of the outline.

    Parameters
    ----------
    page
        Place of its page in the document, from 0.
    level
        1: a chapter.
    title
        What it says.
    x_pt, y_pt
        Where it leads, in points from the lower left corner of the page.
    """

    page: int
    level: int
    title: str
    x_pt: float
    y_pt: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPages:
    """A document as it was set.

    Parameters
    ----------
    content
        The PDF.
    pages
        Number of pages.
    bookmarks
        In the order of the pages.
    complaints
        What WeasyPrint logged at warning level or above, in order.
    misfits
        Text that runs out of its page or table cell, or was not set at all.
    """

    content: bytes
    pages: int
    bookmarks: tuple[Bookmark, ...]
    complaints: tuple[str, ...]
    misfits: tuple[str, ...]


PX_PER_MM = 96 / 25.4
"""CSS pixels."""
BASE_URL = "http://book.invalid/"
"""Stands for the folder of the book, so that no path of the machine gets into the file."""


ELSEWHERE = "http://elsewhere.invalid/"
"""Stands before the anchor of a link that leads out of a document, into another piece of the same book."""
PT_PER_PX = 0.75
MOST_SECONDS = 45.0
"""Processor time to set one document; a book is set in pieces, and the longest takes some 3 s."""
MOST_BYTES = 1_500_000_000
"""Memory to set one document."""
_LIBRARIES = ("weasyprint", "pydyf", "fonttools", "tinyhtml5", "tinycss2", "cssselect2", "pyphen", "pillow")

_CONTENT = "content"

_ANCHOR = re.compile(r'\bid="([^"]+)"')
_BLOCK = re.compile(r'\bdata-block="([^"]+)"')
_LINK = re.compile(r'(<a\b[^>]*?href=")#([^"]+)"')


class _BookFolder(URLFetcher):  # type: ignore[misc]
    """Hands out files of the book's folder and pictures written into the pages, and nothing else: no network.

    WeasyPrint goes on without what it does not get, so each refusal is noted.
    """

    def __init__(self, folder: Path, refused: list[Fault]) -> None:
        super().__init__(allowed_protocols=("data",), allow_redirects=False)
        self._folder = folder
        self._refused = refused

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> Any:
        try:
            if url.startswith(BASE_URL):
                return URLFetcherResponse(url, book_picture(self._folder, unquote(url.removeprefix(BASE_URL))))
            if not url.lower().startswith("data:image/"):
                raise BookFolderError(not_shown(url, "is no picture of the book"))
        except BookFolderError as exc:
            self._refused += exc.faults
            raise
        return super().fetch(url, headers)


class _InstalledFonts(FontConfiguration):  # type: ignore[misc]
    """The fonts of the machine: none is loaded from pages, which would also leave a folder of WeasyPrint's behind."""

    def __init__(self, refused: list[Fault]) -> None:
        super().__init__()
        self.refused = refused

    def add_font_face(self, rule_descriptors: Mapping[str, Any], url_fetcher: URLFetcher) -> None:
        name = str(rule_descriptors.get("font_family", ""))
        right = "install the font on this machine and name it in font-family"
        self.refused.append(not_shown(f"@font-face {name}", "loads a font", right))


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


@contextmanager
def _bounded() -> Iterator[None]:
    """Setting ends, whatever a template asks for.

    Raises
    ------
    BookFolderError
        If it does not.
    """
    try:
        with bounded(processor_s=MOST_SECONDS, more_bytes=MOST_BYTES):
            yield
    except (RecursionError, MemoryError, TooMuch) as exc:
        wrong = {
            RecursionError: "elements are nested too deep",
            MemoryError: f"a document takes more than {MOST_BYTES // 1_000_000} MB of memory",
        }.get(type(exc), f"a document {exc}")
        raise BookFolderError(Fault(file="the PDF", place="", wrong=wrong, right="mend the template of it")) from exc
    except (AssemblerError, OSError):
        raise
    except Exception as exc:  # noqa: BLE001  layout raises anything on a style that asks for what no page can be
        wrong = f"a document cannot be set ({type(exc).__name__}: {exc})"
        right = "mend its template or style; where neither is yours, please report it"
        raise BookFolderError(Fault(file="the PDF", place="", wrong=wrong, right=right)) from exc


@dataclass(frozen=True, slots=True, kw_only=True)
class Typesetter:
    """Sets documents whose pictures lie in one folder. It can be handed to other processes.

    Parameters
    ----------
    base
        Folder that relative picture names refer to.
    style
        CSS of all documents; the style of a document itself stands above it.
    is_tagged
        Whether to write PDF/UA-1 (tagged, titled).
    anchors
        Where links lead in words, see `finish_structure`.
    is_piece
        Whether the documents are pieces of one book, to be bound: a link to an anchor that a piece lacks then leads to
        another, and binding puts in the pixels of pictures.
    """

    base: Path
    style: str = ""
    is_tagged: bool = True
    anchors: Mapping[str, str] = field(default_factory=dict)
    is_piece: bool = False

    def pages(self, html: str) -> SetPages:
        """A whole document as PDF, the same bytes for the same HTML and pictures.

        Raises
        ------
        BookFolderError
            If a picture cannot be read: no document with holes in it is given.
        """
        html = self._linked(html)
        return self._set(html, self._named(html), hashlib.sha256(html.encode()).hexdigest()[:32].encode())

    def key(self, html: str) -> str:
        """Key of a document as it is set."""
        html = self._linked(html)
        return self._key("pages", html, json.dumps([self.is_tagged, self._named(html)], sort_keys=True))

    def heights_key(self, html: str) -> str:
        """Key of the heights of a document's blocks."""
        return self._key("heights", html)

    def _linked(self, html: str) -> str:
        return _linked_across(html) if self.is_piece else html

    def _named(self, html: str) -> dict[str, str]:
        """Where the links of a document lead, in words."""
        return {name: words for name, words in self.anchors.items() if f'#{name}"' in html}

    def heights(self, html: str) -> dict[str, float]:
        """Heights in mm of the blocks of a document, by their `data-block`, margins included.

        Parameters
        ----------
        html
            Its blocks are elements `<div class="measured" data-block="...">` one below the other. Each lies whole on
            one page.
        """
        refused: list[Fault] = []
        with _listening(), _bounded():
            document = self._document(html, refused, is_tagged=False)
        _complain(refused)
        found: dict[str, float] = {}
        for page in document.pages:
            for box in page._page_box.descendants():
                name = box.element.get("data-block") if box.element is not None else None
                if name and isinstance(box, BlockBox):
                    found.setdefault(name, box.margin_height() / PX_PER_MM)
        lost = sorted(set(_BLOCK.findall(html)) - found.keys())
        if lost:
            wrong = f"block {lost[0]!r} of a step is not shown"
            right = "take 'display: none' out of the style, or the block out of the template"
            raise BookFolderError(Fault(file="the PDF", place="", wrong=wrong, right=right))
        return found

    def _set(self, html: str, names: Mapping[str, str], identifier: bytes) -> SetPages:
        refused: list[Fault] = []
        with _listening() as listener, _bounded():
            document = self._document(html, refused, is_tagged=self.is_tagged)
            content = document.write_pdf(
                pdf_variant="pdf/ua-1" if self.is_tagged else None,
                pdf_identifier=identifier,
                pdf_tags=self.is_tagged,
                # Whole fonts are alike in all pieces, so that binding keeps one of each; subsets would not be.
                full_fonts=self.is_piece,
                finisher=(lambda _, pdf: finish_structure(pdf, names=names, elsewhere=ELSEWHERE))
                if self.is_tagged
                else None,
            )
        _complain(refused)
        if listener.errors:
            raise BookFolderError(
                *(Fault(file="the PDF", place="", wrong=line, right="") for line in sorted(set(listener.errors)))
            )
        return SetPages(
            content=content,
            pages=len(document.pages),
            bookmarks=tuple(_bookmarks(document)),
            complaints=tuple(listener.lines),
            misfits=misfits(html, tuple(_set_texts(document))),
        )

    def _document(self, html: str, refused: list[Fault], *, is_tagged: bool) -> Any:
        style, fonts, sheets = _prepared(self.style, self.base)
        refused += style
        fonts.refused = refused
        return weasyprint.HTML(string=html, base_url=BASE_URL, url_fetcher=_BookFolder(self.base, refused)).render(
            font_config=fonts,
            stylesheets=sheets,
            pdf_tags=is_tagged,
            cache=_placed_rasters(html, self.base, is_stand_in=self.is_piece),
        )

    def _key(self, what: str, html: str, *more: str) -> str:
        digest = hashlib.sha256()
        seen = [f"{name} {self._sight(content)}" for name, content in _pictures(html, self.base)]
        for piece in (what, _machine_mark(), self.style, html, *more, *seen):
            digest.update(hashlib.sha256(piece.encode()).digest())
        return digest.hexdigest()

    def _sight(self, content: bytes) -> str:
        """What a set page takes from a picture: its pixels, or of one that is put in later only its kind and size."""
        raster = packed_raster(content) if self.is_piece else None
        if raster is None:
            return hashlib.sha256(content).hexdigest()
        return f"{raster.width} {raster.height} {raster.kind}"


@lru_cache(maxsize=4)
def _prepared(style: str, base: Path) -> tuple[tuple[Fault, ...], _InstalledFonts, list[weasyprint.CSS]]:
    """A style that was read, with what it must not have, and fonts: once in each process."""
    refused: list[Fault] = []
    fonts = _InstalledFonts(refused)
    fetcher = _BookFolder(base, refused)
    sheet = weasyprint.CSS(string=style, base_url=BASE_URL, font_config=fonts, url_fetcher=fetcher)
    return tuple(refused), fonts, [sheet] if style else []


def _complain(refused: Sequence[Fault]) -> None:
    """A document that asks for what it must not have is not set, nor one with a hole in its place.

    Raises
    ------
    BookFolderError
        If something was refused.
    """
    if refused:
        raise BookFolderError(*dict.fromkeys(refused))


def set_all(
    typesetter: Typesetter, htmls: Sequence[str], kept: Cache | None = None, executor: Executor | None = None
) -> tuple[SetPages, ...]:
    """Documents as PDF; those that the cache has are not set again.

    Parameters
    ----------
    typesetter, htmls
        What to set.
    kept
        Where set pages are kept from run to run; None: nowhere.
    executor
        Workers that set pages; None: this process does.

    Raises
    ------
    BookFolderError
        If a picture cannot be read.
    """
    kept = kept or Cache()
    keys = [typesetter.key(html) for html in htmls]
    made = {key: found for key in keys if (found := _remembered(kept, key)) is not None}
    missing = {key: html for key, html in zip(keys, htmls, strict=True) if key not in made}
    fresh = ordered_map(executor, [partial(typesetter.pages, html) for html in missing.values()])
    for key, result in zip(missing, fresh, strict=True):
        made[key] = result
        kept.keep_arrays(key, {_CONTENT: np.frombuffer(result.content, np.uint8)}, _record(result))
    kept.save()
    return tuple(made[key] for key in keys)


def measure_all(
    typesetter: Typesetter, htmls: Sequence[str], kept: Cache | None = None, executor: Executor | None = None
) -> dict[str, float]:
    """Heights of the blocks of documents, see `Typesetter.heights`; parameters are those of `set_all`."""
    kept = kept or Cache()
    keys = [typesetter.heights_key(html) for html in htmls]
    found: dict[str, dict[str, float]] = {key: known for key in keys if (known := kept.value(key)) is not None}
    missing = {key: html for key, html in zip(keys, htmls, strict=True) if key not in found}
    fresh = ordered_map(executor, [partial(typesetter.heights, html) for html in missing.values()])
    for key, heights in zip(missing, fresh, strict=True):
        found[key] = heights
        kept.keep(key, heights)
    return {name: height for key in keys for name, height in found[key].items()}


def _remembered(kept: Cache, key: str) -> SetPages | None:
    arrays, record = kept.arrays(key), kept.value(key)
    try:
        return None if arrays is None or record is None else _set_pages(arrays[_CONTENT].tobytes(), record)
    except (KeyError, TypeError):
        # Written by somebody else: it is set again.
        return None


def _linked_across(html: str) -> str:
    """A document in which links to anchors that it lacks say that they lead elsewhere."""
    own = set(_ANCHOR.findall(html))
    return _LINK.sub(lambda found: found[0] if found[2] in own else f'{found[1]}{ELSEWHERE}#{found[2]}"', html)


@cache
def _machine_mark() -> str:
    """What the look of a page depends on besides the page: this room's code, the libraries, Pango, the fonts."""
    lister = shutil.which("fc-list")
    fonts = ""
    if lister is not None:
        listed = subprocess.run([lister, "--format", "%{file} %{fontversion}\\n"], capture_output=True, check=False)
        fonts = hashlib.sha256(b"\n".join(sorted(listed.stdout.splitlines()))).hexdigest()
    return f"{code_mark(('publishing',), _LIBRARIES)} {pango.pango_version()} {fonts}"


def _record(result: SetPages) -> dict[str, Any]:
    return {
        "pages": result.pages,
        "bookmarks": [asdict(mark) for mark in result.bookmarks],
        "complaints": list(result.complaints),
        "misfits": list(result.misfits),
    }


def _set_pages(content: bytes, record: Mapping[str, Any]) -> SetPages:
    return SetPages(
        content=content,
        pages=record["pages"],
        bookmarks=tuple(Bookmark(**mark) for mark in record["bookmarks"]),
        complaints=tuple(record["complaints"]),
        misfits=tuple(record["misfits"]),
    )


def _bookmarks(document: Any) -> Iterator[Bookmark]:
    for place, page in enumerate(document.pages):
        for level, title, (x, y), _ in page.bookmarks:
            yield Bookmark(page=place, level=level, title=title, x_pt=x * PT_PER_PX, y_pt=(page.height - y) * PT_PER_PX)


def write_pdf(html: str, target: Path, *, base: Path, is_tagged: bool = True) -> SetPages:
    """One document as a PDF file.

    Parameters
    ----------
    html
        The whole document, with its style.
    target
        File to write.
    base, is_tagged
        See `Typesetter`.

    Raises
    ------
    BookFolderError
        If a picture cannot be read, or the file cannot be written.
    """
    result = Typesetter(base=base, is_tagged=is_tagged).pages(html)
    save_pdf(result.content, target)
    return result


def save_pdf(content: bytes, target: Path) -> None:
    """A PDF into its file.

    Raises
    ------
    BookFolderError
        If it cannot be written.
    """
    try:
        target.write_bytes(content)
    except OSError as exc:
        raise BookFolderError(
            Fault(
                file=str(target), place="", wrong=f"cannot be written: {exc.strerror}", right="close or free the file"
            )
        ) from exc


def _placed_rasters(html: str, base: Path, *, is_stand_in: bool) -> dict[str, Any]:
    """Images by address, ready to be placed; what is missing or no plain PNG is left to the typesetter."""
    placed: dict[str, Any] = {}
    for name, content in _pictures(html, base):
        raster = packed_raster(content)
        if raster is not None:
            identity = hashlib.sha256(name.encode()).hexdigest()[:16]
            placed[urljoin(BASE_URL, name)] = PlacedRaster(raster, identity, unquote(name) if is_stand_in else "")
    return placed


def _pictures(html: str, base: Path) -> Iterator[tuple[str, bytes]]:
    """Addresses and contents of the PNG files of a page that are there."""
    for name in picture_names(html):
        with suppress(FileNotFoundError):
            yield name, book_picture(base, unquote(name))


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
