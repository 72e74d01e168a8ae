"""The change sheet alone, change-sheet.pdf: the page that a book carries at its front."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from assembler.figure.ids import PartId
from assembler.figure.pictures import Picture
from assembler.figure.settings import Settings
from assembler.publishing.changepages import change_page
from assembler.publishing.pdf import Typesetter, save_pdf
from assembler.publishing.pieces import page_style, page_templates
from assembler.publishing.sheets import sheet_size
from assembler.publishing.words import load_words
from assembler.recut.changes import Changes

PDF = "change-sheet.pdf"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetHead:
    """What the running heads of the sheet say; the names are those of `pages.Book`."""

    figure: str
    shop: str
    date: str
    language: str
    revision: str


def write_change_sheet(
    changes: Changes,
    settings: Settings,
    out_dir: Path,
    *,
    was: Mapping[PartId, Picture] | None = None,
    now: Mapping[PartId, Picture] | None = None,
    base: Path | None = None,
    is_draft: bool = False,
    overrides: Path | None = None,
) -> Path:
    """The change sheet alone as `change-sheet.pdf`.

    Parameters
    ----------
    changes
        What differs.
    settings
        Shop, date and sheet.
    out_dir
        Folder that exists.
    was, now
        Small pictures of parts; their files are named from `base`.
    base
        Folder of the pictures; None: `out_dir`.
    is_draft
        Marks every page.
    overrides
        Folder beside the project whose templates and words win.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken.
    BookFolderError
        If a picture is missing, or the file cannot be written.
    """
    words = load_words(overrides)
    templates = page_templates(words, overrides)
    mark = words("book.draft") if is_draft else ""
    typesetter = Typesetter(base=base or out_dir, style=page_style(templates, settings.sheet, mark, settings.date))
    html = change_sheet_html(changes, settings, was=was, now=now, overrides=overrides)
    save_pdf(typesetter.pages(html).content, out_dir / PDF)
    return out_dir / PDF


def change_sheet_html(
    changes: Changes,
    settings: Settings,
    *,
    was: Mapping[PartId, Picture] | None = None,
    now: Mapping[PartId, Picture] | None = None,
    overrides: Path | None = None,
) -> str:
    """The change sheet as one HTML document; parameters are those of `write_change_sheet`."""
    words = load_words(overrides)
    head = SheetHead(
        figure=changes.figure_name,
        shop=settings.shop_name,
        date=settings.date,
        language=words("book.language"),
        revision=changes.new_revision,
    )
    return page_templates(words, overrides).filled(
        "document.html",
        kind="change-sheet",
        template="changes.html",
        title=words("section.changes"),
        book=head,
        changes=change_page(changes, words, was=was, now=now),
        sheet=sheet_size(settings.sheet),
    )
