"""The structure of a PDF put right where the typesetter leaves gaps, before the file is written.

Goes in: the objects of a tagged document. They come out changed: running heads are artifacts, header cells say which
way they head, each link is one annotation that says in words where it leads, elements without content are gone.

References
----------
ISO 14289-1 (PDF/UA-1): 7.1 (artifacts), 7.5 (header cells), 7.18.5 (links); ISO 32000-1: 14.7.4.4 (parent tree),
14.8.2.2 (artifacts). All from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import unquote

import pydyf

PRINTED = 4
"""Annotation flag 3: printed as it is seen."""
_MAY_BE_EMPTY = {"/TD", "/TH", "/Figure", "/Document"}


def finish_structure(pdf: pydyf.PDF, *, names: Mapping[str, str], elsewhere: str = "") -> None:
    """Puts the structure of a tagged document right, in place.

    Parameters
    ----------
    pdf
        As WeasyPrint hands it over: page streams not yet packed, structure tree complete.
    names
        What stands behind an anchor, in words; an anchor that is missing here keeps its own name.
    elsewhere
        Address before the anchor of a link that leads out of the document: such links become links to that anchor, to
        be found once the pieces of the book are bound.
    """
    tree = _Tree(pdf)
    tree.keep_one_annotation_a_link()
    tree.describe_links(names, elsewhere)
    tree.head_cells(tree.root, is_column=False)
    tree.drop_empty(tree.root)
    tree.make_artifacts()


class _Tree:
    """The structure tree of a document, with its references followed."""

    def __init__(self, pdf: pydyf.PDF) -> None:
        self._objects = {item.reference: item for item in pdf.objects}
        self._root = self._objects[pdf.catalog["StructTreeRoot"]]
        self.root = self._objects[self._root["K"][0]]
        self._pages = [self._objects[reference] for reference in pdf.page_references]

    def _kids(self, element: Any) -> list[Any]:
        """Elements and references to annotations below an element; numbers of marked content are left out."""
        return [self._objects[kid] for kid in element["K"] if isinstance(kid, bytes)]

    def _below(self, element: Any) -> Iterator[Any]:
        yield element
        for kid in self._kids(element):
            if "S" in kid:
                yield from self._below(kid)

    def keep_one_annotation_a_link(self) -> None:
        """One annotation for each link; what stands inside it is plain text."""
        gone: set[bytes] = set()
        for link in self._outermost_links(self.root):
            has_own = any(kid.get("Type") == "/OBJR" for kid in self._kids(link))
            for inner in list(self._below(link))[1:] if has_own else ():
                if inner["S"] == "/Link":
                    inner["S"] = "/Span"
                for kid in self._kids(inner):
                    if kid.get("Type") == "/OBJR":
                        inner["K"].remove(kid.reference)
                        gone.add(kid["Obj"])
        for page in self._pages:
            if "Annots" in page:
                page["Annots"] = pydyf.Array([one for one in page["Annots"] if one not in gone])
        numbers = self._objects[self._root["ParentTree"]]["Nums"]
        lost = {self._objects[reference]["StructParent"] for reference in gone}
        pairs = zip(numbers[::2], numbers[1::2], strict=True)
        numbers[:] = [item for key, value in pairs if key not in lost for item in (key, value)]

    def _outermost_links(self, element: Any) -> Iterator[Any]:
        for kid in self._kids(element):
            if kid.get("S") == "/Link":
                yield kid
            elif "S" in kid:
                yield from self._outermost_links(kid)

    def describe_links(self, names: Mapping[str, str], elsewhere: str) -> None:
        """Where each link leads, in words, for those who cannot see the page; all are printed."""
        for page in self._pages:
            for reference in page.get("Annots", ()):
                annotation = self._objects[reference]
                annotation["F"] = PRINTED
                address = annotation["A"]["URI"].string if "A" in annotation else ""
                if elsewhere and address.startswith(f"{elsewhere}#"):
                    del annotation["A"]
                    annotation["Dest"] = pydyf.String(unquote(address.removeprefix(f"{elsewhere}#")))
                target = annotation["Dest"].string if "Dest" in annotation else ""
                if target in names:
                    annotation["Contents"] = pydyf.String(names[target])

    def head_cells(self, element: Any, *, is_column: bool) -> None:
        """Cells in the head of a table head their columns, all others their rows."""
        for kid in self._kids(element):
            if kid.get("S") == "/TH":
                kid["A"]["Scope"] = "/Column" if is_column else "/Row"
            if "S" in kid:
                self.head_cells(kid, is_column=kid["S"] == "/THead" or (is_column and kid["S"] != "/Table"))

    def drop_empty(self, element: Any) -> None:
        """Takes out elements without content: squares to tick, and frames that only place things."""
        for kid in self._kids(element):
            if "S" in kid:
                self.drop_empty(kid)
                if not kid["K"] and kid["S"] not in _MAY_BE_EMPTY:
                    element["K"].remove(kid.reference)

    def make_artifacts(self) -> None:
        """Marked content that no element of the tree has is an artifact: heads, feet, the tabs at the edge."""
        told: dict[bytes, set[int]] = {page.reference: set() for page in self._pages}
        for element in self._below(self.root):
            if "Pg" in element:
                told[element["Pg"]].update(kid for kid in element["K"] if isinstance(kid, int))
        numbers = self._objects[self._root["ParentTree"]]["Nums"]
        for place, page in enumerate(self._pages):
            lost = _unmarked(self._objects[page["Contents"]].stream, told[page.reference])
            parents = numbers[2 * place + 1]
            for mark in lost:
                parents[mark] = b"null"


def _unmarked(stream: list[Any], told: set[int]) -> list[int]:
    """Turns marked content that is not among some numbers into artifacts, in place; returns its numbers."""
    lost = []
    for place, item in enumerate(stream):
        if isinstance(item, pydyf.Dictionary) and "MCID" in item and item["MCID"] not in told:
            lost.append(item["MCID"])
            stream[place - 1] = "/Artifact"
            stream[place] = pydyf.Dictionary({"Type": "/Pagination"})
    return lost
