"""The one owner of WeasyPrint: sets HTML pages as a tagged PDF, and says what did not fit."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import weasyprint
from weasyprint.text.fonts import FontConfiguration

from assembler.errors import BookFolderError, Fault

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
    """

    pages: int
    complaints: tuple[str, ...]


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


def write_pdf(html: str, target: Path, *, base: Path, is_tagged: bool = True) -> PdfResult:
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

    Raises
    ------
    BookFolderError
        If a picture cannot be read, or the file cannot be written: no book with holes in it is left behind.
    """
    identifier = hashlib.sha256(html.encode()).hexdigest()[:32].encode()
    with _listening() as listener:
        document = weasyprint.HTML(string=html, base_url=f"{base.resolve().as_uri()}/").render(
            font_config=FontConfiguration(), pdf_tags=is_tagged
        )
        content = document.write_pdf(
            pdf_variant="pdf/ua-1" if is_tagged else None, pdf_identifier=identifier, pdf_tags=is_tagged
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
    return PdfResult(pages=len(document.pages), complaints=tuple(listener.lines))
