"""The one owner of pikepdf: binds tagged PDFs that were set one by one into one tagged PDF.

Goes in: pieces in their order, each with its pages, bookmarks and page labels. Comes out: one file with one structure
tree, one set of link targets, one outline. The same pieces give the same bytes.

References
----------
ISO 32000-1: 7.9.6 (name trees), 12.3.2.3 (named destinations), 12.4.2 (page labels), 14.7 (logical structure), 14.7.4.4
(parent tree). All from memory.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from assembler.errors import BookFolderError, Fault
from assembler.publishing.bookpictures import book_picture
from assembler.publishing.pdf import Bookmark
from assembler.publishing.rasters import STAND_IN, packed_raster

_OF_A_PIECE = {"/Type", "/Pages", "/Names", "/Outlines", "/StructTreeRoot", "/PageLabels"}
"""What a catalogue says of its own pages; the rest (language, metadata, ...) is that of the first piece."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaves:
    """A piece to be bound.

    Parameters
    ----------
    content
        A tagged PDF.
    bookmarks
        Lines of the outline that lead to it.
    labels
        Numbers of its pages as printed; empty: pages count from 1.
    chapter
        Title in the outline and link target of a chapter that begins here without a heading of its own.
    """

    content: bytes
    bookmarks: tuple[Bookmark, ...]
    labels: tuple[str, ...]
    chapter: tuple[str, str] | None = None


def bound(pieces: Sequence[Leaves], pictures: Path, *, is_spread: bool = False) -> bytes:
    """One tagged PDF.

    Parameters
    ----------
    pieces
        At least one. Titles, language and metadata are those of the first.
    pictures
        Folder of the files whose pixels are put in.
    is_spread
        Whether two pages are shown beside each other, the first of them on the left.

    Raises
    ------
    BookFolderError
        If two pieces have a link target of the same name, a link leads to none, or a picture is missing.
    """
    with ExitStack() as stack:
        binding = _Binding(stack.enter_context(pikepdf.new()), pictures)
        for piece in pieces:
            # Streams are copied when the book is saved: every piece stays open until then.
            binding.add(stack.enter_context(pikepdf.open(io.BytesIO(piece.content))), piece)
        return binding.finished(is_spread=is_spread)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """What a piece that was added brings: its pages, the tops of their structure, and its outline."""

    pages: tuple[Any, ...]
    top: tuple[Any, ...]
    labels: tuple[str, ...]
    bookmarks: tuple[Bookmark, ...]


class _Binding:
    def __init__(self, book: pikepdf.Pdf, pictures: Path) -> None:
        self._book = book
        self._folder = pictures
        self._pictures: dict[str, Any] = {}
        self._parts: list[_Part] = []
        self._parents: list[Any] = []
        self._targets: dict[bytes, Any] = {}
        self._streams: dict[bytes, Any] = {}

    def add(self, source: pikepdf.Pdf, piece: Leaves) -> None:
        """Append the pages of a piece, with all that refers to them."""
        book, start = self._book, len(self._book.pages)
        with warnings.catch_warnings():
            # It warns that targets of links stay behind; they are carried over below.
            warnings.filterwarnings("ignore", message="Copying pages from another Pdf")
            book.pages.extend(source.pages)
        pages = [book.pages[place].obj for place in range(start, len(book.pages))]
        root = source.Root
        # Copied as one, after the pages: what refers to a page then refers to its copy.
        held = Dictionary(
            Catalog=Dictionary({key: root[key] for key in sorted(set(root.keys()) - _OF_A_PIECE)}),
            Structure=root.StructTreeRoot,
            Targets=root.get("/Names", Dictionary()).get("/Dests", Dictionary()).get("/Names", Array()),
        )
        copied = book.copy_foreign(source.make_indirect(held))
        if start == 0:
            for key, value in copied.Catalog.items():
                book.Root[key] = value
            for key, value in source.docinfo.items():
                book.docinfo[key] = String(str(value))
        self._number(copied.Structure, pages)
        self._add_targets(copied.Targets)
        self._share_streams(pages)
        bookmarks = piece.bookmarks
        if piece.chapter is not None:
            title, anchor = piece.chapter
            top = float(pages[0].MediaBox[3])
            bookmarks = (Bookmark(page=0, level=1, title=title, x_pt=0.0, y_pt=top), *bookmarks)
            self._add_targets([String(anchor), Array([pages[0], Name.XYZ, 0, top, 0])])
        (document,) = copied.Structure.K
        self._parts.append(_Part(pages=tuple(pages), top=tuple(document.K), labels=piece.labels, bookmarks=bookmarks))

    def _number(self, tree: Any, pages: Sequence[Any]) -> None:
        """Pages and annotations of a piece get new numbers in the parent tree."""
        numbers = tree.ParentTree.Nums
        parents = {int(numbers[place]): numbers[place + 1] for place in range(0, len(numbers), 2)}
        for page in pages:
            owners = [(page, "/StructParents"), *((note, "/StructParent") for note in page.get("/Annots", Array()))]
            for owner, name in owners:
                if name in owner:
                    self._parents.append(parents[int(owner[name])])
                    owner[name] = len(self._parents) - 1

    def _add_targets(self, names: Any) -> None:
        for place in range(0, len(names), 2):
            name = bytes(names[place])
            if name in self._targets:
                raise _link_fault(name, "stands on the pages of two pieces", "one place for each id")
            self._targets[name] = names[place + 1]

    def _share_streams(self, pages: Sequence[Any]) -> None:
        """Pictures and fonts that an earlier piece has too are kept once."""
        seen: set[tuple[int, int]] = set()
        for page in pages:
            resources = page.Resources
            if resources.objgen in seen:
                continue
            seen.add(resources.objgen)
            pictures = resources.get("/XObject", Dictionary())
            for key, picture in pictures.items():
                if f"/{STAND_IN}" in picture:
                    pictures[key] = self._shared(self._filled(picture))
                elif picture.get("/Subtype") == Name.Image and "/SMask" not in picture:
                    pictures[key] = self._shared(picture)
            for font in resources.get("/Font", Dictionary()).as_dict().values():
                descriptor = font.DescendantFonts[0].FontDescriptor
                for key in ("/FontFile2", "/FontFile3"):
                    if key in descriptor:
                        descriptor[key] = self._shared(descriptor[key])

    def _filled(self, picture: Any) -> Any:
        """The picture that an image without pixels stands for; each file is read once."""
        name = str(picture[f"/{STAND_IN}"])
        if name not in self._pictures:
            raster = packed_raster(book_picture(self._folder, name))
            if raster is None or (raster.width, raster.height) != (int(picture.Width), int(picture.Height)):
                fault = Fault(
                    file=name, place="picture", wrong="changed while the book was set", right="write the book again"
                )
                raise BookFolderError(fault)
            entries = {key: value for key, value in picture.items() if key != f"/{STAND_IN}"}
            if raster.palette:
                last = len(raster.palette) // 3 - 1
                entries["/ColorSpace"] = Array([Name.Indexed, Name.DeviceRGB, last, String(raster.palette)])
            filled = self._book.make_stream(raster.data)
            for key, value in entries.items():
                if key not in ("/Length", "/Filter", "/DecodeParms"):
                    filled[key] = value
            filled.write(raster.data, filter=picture.Filter, decode_parms=picture.DecodeParms)
            self._pictures[name] = filled
        return self._pictures[name]

    def _shared(self, stream: Any) -> Any:
        head = repr(sorted((str(key), repr(value)) for key, value in stream.items()))
        digest = hashlib.sha256(head.encode() + b"\0" + stream.read_raw_bytes()).digest()
        return self._streams.setdefault(digest, stream)

    def finished(self, *, is_spread: bool) -> bytes:
        """The pages under all that stands over them."""
        book, parts = self._book, self._parts
        for page in book.pages:
            for note in page.obj.get("/Annots", Array()):
                if bytes(note.Dest) not in self._targets:
                    raise _link_fault(bytes(note.Dest), "is on no page", "a link to an id of a page")
        top = [element for part in parts for element in part.top]
        document = book.make_indirect(Dictionary(Type=Name.StructElem, S=Name.Document, K=Array(top)))
        numbers = [item for place, parent in enumerate(self._parents) for item in (place, parent)]
        tree = Dictionary(
            Type=Name.StructTreeRoot,
            K=Array([document]),
            ParentTree=book.make_indirect(Dictionary(Nums=Array(numbers))),
            ParentTreeNextKey=len(self._parents),
        )
        book.Root.StructTreeRoot = book.make_indirect(tree)
        document.P = book.Root.StructTreeRoot
        for element in top:
            element.P = document
        pairs = [item for name in sorted(self._targets) for item in (String(name), self._targets[name])]
        book.Root.Names = Dictionary(Dests=book.make_indirect(Dictionary(Names=Array(pairs))))
        book.Root.PageMode = Name.UseOutlines
        book.Root.PageLayout = Name.TwoPageLeft if is_spread else Name.SinglePage
        self._write_labels_and_outline(parts)
        target = io.BytesIO()
        book.save(
            target, object_stream_mode=pikepdf.ObjectStreamMode.generate, deterministic_id=True, min_version="1.7"
        )
        return target.getvalue()

    def _write_labels_and_outline(self, parts: Sequence[_Part]) -> None:
        starts = list(accumulate((len(part.pages) for part in parts), initial=0))
        labels: list[Any] = []
        for start, part in zip(starts, parts, strict=False):
            if not part.labels:
                labels += [start, Dictionary(S=Name.D, St=1)]
            for place, label in enumerate(part.labels):
                labels += [start + place, Dictionary(P=String(label))]
        self._book.Root.PageLabels = Dictionary(Nums=Array(labels))
        with self._book.open_outline() as outline:
            above: list[tuple[int, list[pikepdf.OutlineItem]]] = [(0, outline.root)]
            for start, part in zip(starts, parts, strict=False):
                for mark in part.bookmarks:
                    while above[-1][0] >= mark.level:
                        above.pop()
                    item = pikepdf.OutlineItem(mark.title, start + mark.page, "XYZ", left=mark.x_pt, top=mark.y_pt)
                    above[-1][1].append(item)
                    above.append((mark.level, item.children))


def _link_fault(name: bytes, wrong: str, right: str) -> BookFolderError:
    anchor = name.decode(errors="replace")
    return BookFolderError(Fault(file="the PDF", place=f"link target #{anchor}", wrong=wrong, right=right))
