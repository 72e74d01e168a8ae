"""The pieces the crew book is set in: cover, each section, each step. Each counts its own pages.

A piece that did not change need not be set again, printed again, or changed in a binder: a page keeps its number from
issue to issue, and one that comes between two gets a letter ('27a'). Goes in: pages as data. Comes out: the HTML of one
piece after another, and what it is set as.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from urllib.parse import unquote

from assembler.errors import BookFolderError, Fault
from assembler.figure.printed import PrintedPiece
from assembler.publishing.cautions import in_columns
from assembler.publishing.changepages import ChangePage
from assembler.publishing.pages import Book, InForce, StepPage
from assembler.publishing.pdf import SetPages
from assembler.publishing.rasters import picture_names
from assembler.publishing.sheets import sheet_size
from assembler.publishing.steplayout import Kept
from assembler.publishing.templating import Templates
from assembler.publishing.words import Words

CONTENTS, EMPTY = "contents", "empty"
FRONT = ("reading", "safety", "tools", "bonding", "wrong", "overview", "parts", "order", "days")
"""Sections before the steps, in their order."""
END = ("finish", "base", "log")
"""Sections after the steps."""
MOST_ROUNDS = 10
"""A book settles in three: a section may have a page more than one, and what tells it one more for that."""
_LETTERED = re.compile(r"(\d+)([a-z]*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A run of pages that is set on its own.

    Parameters
    ----------
    name
        Different from piece to piece.
    template
        File that fills the body.
    section
        What the running head says.
    label
        What stands before the number of the page within the piece.
    revision
        Since which its pages are in force.
    step
        The step that it shows; None for all other pieces.
    """

    name: str
    template: str
    section: str
    label: str
    revision: str
    step: StepPage | None = None

    @property
    def is_headed(self) -> bool:
        """Whether its pages have heads and numbers."""
        return self.name != "cover"


class Printed:
    """What the pieces of a book printed, and since which revision each reads so: told by what is on it.

    Parameters
    ----------
    folder
        Where the pictures lie.
    before
        What the last issue printed, by name of the piece.
    revision
        Of the book.
    """

    def __init__(self, folder: Path, before: Mapping[str, PrintedPiece], revision: str) -> None:
        self._folder = folder
        self.before = before
        self._revision = revision
        self.now: dict[str, PrintedPiece] = {}

    def revision_of(self, name: str, html: str, *, is_new: bool = False, pages: tuple[str, ...] = ()) -> str:
        """Since when a piece reads so; asked more than once, the last answer counts.

        Parameters
        ----------
        name, html
            The piece, without its revision.
        is_new
            Whether it is to be printed again, however it reads.
        pages
            Numbers of its pages.
        """
        digest = hashlib.sha256(html.encode())
        for picture in picture_names(html):
            file = self._folder / unquote(picture)
            # A missing picture is a fault that setting the page reports.
            digest.update(file.read_bytes() if file.is_file() else b"")
        last = self.before.get(name)
        is_same = not is_new and last is not None and last.digest == digest.hexdigest()
        revision = last.revision if last is not None and is_same else self._revision
        self.now[name] = PrintedPiece(digest=digest.hexdigest(), revision=revision, pages=pages)
        return revision


class Pieces:
    """The pieces of a crew book.

    Parameters
    ----------
    book
        Its pages as data, laid out.
    words
        The catalogue.
    overrides
        Folder beside the project whose templates win.
    changes
        The change sheet at its front; None for a first book.
    printed
        What the book before printed; None: there is none.
    """

    def __init__(
        self,
        book: Book,
        words: Words,
        overrides: Path | None = None,
        *,
        changes: ChangePage | None = None,
        printed: Printed | None = None,
    ) -> None:
        self._book = book
        self._words = words
        self._changes = changes
        self._printed = printed
        self._templates = page_templates(words, overrides)
        self._sheet = sheet_size(book.sheet)

    def style(self, *, is_marked: bool = True) -> str:
        """The CSS of all pieces; without the mark of a draft for what is only measured."""
        return page_style(self._templates, self._book.sheet, self._book.mark if is_marked else "", self._book.date)

    def each(
        self, set_all: Callable[[Sequence[tuple[Piece, str]]], Sequence[SetPages]]
    ) -> tuple[tuple[Piece, SetPages, tuple[str, ...]], ...]:
        """Every piece as it is set, in the order of the book, with the numbers of its pages.

        Sections are set first, since nobody knows before how many pages they have; steps know theirs; the contents,
        which tell all numbers, come last.

        Parameters
        ----------
        set_all
            Sets pieces, each with its HTML.

        Raises
        ------
        BookFolderError
            If the numbers of pages do not settle, as a template of the project may have it.
        """
        counts: dict[str, int] = {}
        known: dict[str, SetPages] = {}
        for _ in range(MOST_ROUNDS):
            pieces, numbers, order = self._ordered(counts)
            missing = [(piece, html) for piece, html in order if html not in known]
            sections = [(piece, html) for piece, html in missing if piece.step is None and piece.name != CONTENTS]
            steps = [(piece, html) for piece, html in missing if piece.step is not None]
            now = sections or steps or missing
            known |= {html: pages for (_, html), pages in zip(now, set_all(now), strict=True)}
            told = {piece.name: known[html].pages for piece, html in order if html in known}
            if not missing and all(_expected(piece, counts) == told[piece.name] for piece in pieces):
                return tuple((piece, known[html], numbers[piece.name]) for piece, html in order)
            counts |= told
        wrong = "the numbers of pages, and the pages that tell them, do not settle"
        raise BookFolderError(Fault(file="the PDF", place="", wrong=wrong, right="mend the templates of the project"))

    def _ordered(
        self, counts: Mapping[str, int]
    ) -> tuple[list[Piece], dict[str, tuple[str, ...]], list[tuple[Piece, str]]]:
        """Every piece, the numbers of its pages, and its HTML, where pieces have so many pages."""
        bare = list(self._even(counts))
        before = self._printed.before if self._printed else {}
        numbers = page_numbers([(piece.name, _expected(piece, counts)) for piece in bare], before)
        pieces = [self._since(piece, numbers[piece.name]) for piece in bare if piece.name != CONTENTS]
        in_force = {piece.name: self._in_force(piece, numbers[piece.name]) for piece in pieces}
        contents = [self._since(piece, numbers[piece.name], in_force) for piece in bare if piece.name == CONTENTS]
        done = {piece.name: piece for piece in (*pieces, *contents)}
        order = [done[piece.name] for piece in bare]
        return order, numbers, [(piece, self.html(piece, numbers[piece.name], in_force)) for piece in order]

    def _in_force(self, piece: Piece, pages: tuple[str, ...]) -> InForce:
        is_new = self._changes is not None and piece.revision == self._book.revision
        return InForce(pages=self._words.span(pages[0], pages[-1]), revision=piece.revision, is_new=is_new)

    def _since(self, piece: Piece, pages: tuple[str, ...], in_force: Mapping[str, InForce] | None = None) -> Piece:
        """The piece with the revision since which it reads as it does; steps know theirs from what changed in them."""
        if self._printed is None:
            return piece
        bare = self.html(replace(piece, revision=""), pages, in_force or {})
        revision = self._printed.revision_of(piece.name, bare, pages=pages)
        return piece if piece.step is not None else replace(piece, revision=revision)

    def _even(self, counts: Mapping[str, int]) -> Iterator[Piece]:
        """Every piece; a step of two pages, and the first of two short ones, begin on an odd page.

        Both pages then lie on one sheet of paper, and side by side on a screen. An empty page comes before the first
        step at most: short steps come in pairs, unless one of them runs on.
        """
        before, is_first = 0, False
        for piece in self.listed():
            if piece.step is not None:
                is_first = piece.step.layout.is_short and not is_first
                if before % 2 and (is_first or not piece.step.layout.is_short):
                    yield replace(self._section(EMPTY), name=f"{EMPTY}-{piece.name}")
                    before += 1
            before += _expected(piece, counts)
            yield piece

    def listed(self) -> Iterator[Piece]:
        """Every piece in its order, without an empty page."""
        book = self._book
        yield self._section("cover")
        if self._changes is not None:
            yield self._section("changes")
        yield self._section(CONTENTS)
        yield from (self._section(name) for name in FRONT if has_section(book, name))
        yield from (self._step(step) for step in book.steps)
        yield from (self._section(name) for name in END if has_section(book, name))

    def html(self, piece: Piece, pages: tuple[str, ...], in_force: Mapping[str, InForce]) -> str:
        """One piece as an HTML document.

        Parameters
        ----------
        piece
            What.
        pages
            Numbers of its pages.
        in_force
            Pages of all pieces, for the contents.

        Raises
        ------
        TemplateError
            If an override, or the catalogue, is broken; names file and line.
        """
        book = self._book
        return self._templates.filled(
            "piece.html",
            piece=piece,
            step=piece.step,
            pages=pages,
            book=book,
            sheet=self._sheet,
            changes=self._changes if piece.name == "changes" else None,
            in_force=in_force if piece.name == CONTENTS else {},
            title=self._words("book.title", figure=book.figure, revision=book.revision)
            if piece.name == "cover"
            else book.figure,
        )

    def measured(self, step: StepPage) -> str:
        """The blocks of a step below each other on one endless sheet, to be measured."""
        return self._templates.filled("measure.html", book=self._book, sheet=self._sheet, step=step)

    def _section(self, name: str) -> Piece:
        title = self._words(f"section.{name}")
        return Piece(name=name, template=f"{name}.html", section=title, label=title, revision=self._book.revision)

    def _step(self, step: StepPage) -> Piece:
        return Piece(
            name=step.anchor,
            template="step.html",
            section=self._words("section.steps"),
            label=self._words("page.step", number=step.number),
            revision=step.revision,
            step=step,
        )


def has_section(book: Book, name: str) -> bool:
    """Whether a book has anything to say in a section."""
    has = {
        "finish": book.finish is not None or len(book.parts.sections) > 0,
        "order": len(book.parts.order) > 0,
        "days": len(book.days.charts) > 0,
        "overview": book.parts.overview is not None,
        "log": len(book.log) > 0,
    }
    return has.get(name, True)


def _expected(piece: Piece, counts: Mapping[str, int]) -> int:
    """Pages of a piece: steps know theirs, a section has one until it is set."""
    usual = 1 if piece.step is None or piece.step.layout.is_short else 2
    return counts.get(piece.name, usual)


def page_numbers(counts: Sequence[tuple[str, int]], before: Mapping[str, PrintedPiece]) -> dict[str, tuple[str, ...]]:
    """Numbers of the pages of all pieces: those of the book before stay, what comes between gets letters.

    Parameters
    ----------
    counts
        Name and pages of each piece, in the order of the book.
    before
        What the book before printed.
    """
    taken = set(chain.from_iterable(piece.pages for piece in before.values()))
    # Books of earlier versions have no numbers to keep.
    is_first = not taken
    found, last = dict[str, tuple[str, ...]](), ""
    for name, count in counts:
        own = list(before[name].pages[:count]) if name in before else []
        while len(own) < count:
            own.append(_after(own[-1] if own else last, taken, is_first=is_first))
            taken.add(own[-1])
        found[name] = tuple(own)
        last = own[-1] if own else last
    return found


def _after(last: str, taken: set[str], *, is_first: bool) -> str:
    """The next number that nobody has: 28 after 27, in a later book 27a."""
    match = _LETTERED.fullmatch(last)
    number, letters = (int(match[1]), match[2]) if match else (0, "")
    if is_first:
        return str(number + 1)
    while not letters or f"{number}{letters}" in taken:
        letters = _next_letters(letters)
    return f"{number}{letters}"


def _next_letters(letters: str) -> str:
    if not letters:
        return "a"
    return f"{letters[:-1]}{chr(ord(letters[-1]) + 1)}" if letters[-1] < "z" else f"{letters}a"


def kept_layout(before: Mapping[str, PrintedPiece], numbers: Sequence[str]) -> Kept:
    """How the steps of these numbers lay in the book before."""
    pages = {number: before[f"step-{number}"].pages for number in numbers if f"step-{number}" in before}
    singles = [number for number in numbers if len(pages.get(number, ())) == 1]
    pairs = tuple(
        (one, other)
        for one, other in zip(singles, singles[1:], strict=False)
        if (place := pages[one][0]).isdigit() and int(place) % 2 and pages[other][0] == str(int(place) + 1)
    )
    return Kept(pairs=pairs, long=frozenset(number for number, one in pages.items() if len(one) > 1))


def page_templates(words: Words, overrides: Path | None) -> Templates:
    """Templates of all documents."""
    return Templates(overrides, {"w": words, "in_columns": in_columns})


def page_style(templates: Templates, sheet: str, mark: str, date: str) -> str:
    """The CSS that all pages share.

    Parameters
    ----------
    templates
        Of the pages.
    sheet
        Name of the sheet.
    mark
        'DRAFT', printed at the head of every page; empty for an issue.
    date
        Printed at the foot of every page of a draft; an issue is told by its revision, and pages that stay in force
        when the next one comes out have to stay what they are.
    """
    return templates.filled("book.css", sheet=sheet_size(sheet), mark=mark, date=date if mark else "")
