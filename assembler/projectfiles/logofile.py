"""The shop's logo: an SVG or PNG file beside figure.toml, checked before any work is done for a book.

Goes in: the name in figure.toml. Comes out: the picture, or what is wrong with it.
"""

from __future__ import annotations

import struct
import xml.etree.ElementTree as ElementTree
from pathlib import Path

from assembler.errors import Fault, InputError
from assembler.figure.settings import Logo
from assembler.filegate import read_file
from assembler.projectfiles.svgcontent import svg_fault

LARGEST_BYTES = 2_000_000
"""A larger logo would weigh on every copy of the book."""
_PNG = b"\x89PNG\r\n\x1a\n"
_LEAST_PNG = 57
"""Signature, header and end (W3C PNG, third edition, 5.2, 5.6 and 11.2): less is no picture."""
_MOST_PIXELS = 20_000_000
"""2 MB of PNG can unpack to gigabytes."""
_RIGHT = "an SVG or PNG file of at most 2 MB in the project folder, such as logo.svg"


def read_logo(figure: Path, name: str) -> Logo | Fault:
    """The logo that figure.toml names, or the fault.

    Parameters
    ----------
    figure
        figure.toml; the name is relative to its folder.
    name
        As stated; not empty.
    """
    try:
        data = read_file(figure.parent / name, root=figure.parent, most_bytes=LARGEST_BYTES)
    except FileNotFoundError:
        return _fault(figure, f"{name!r} cannot be read: there is no such file")
    except InputError as exc:
        (fault,) = exc.faults
        return _fault(figure, f"{name!r} {fault.wrong}")
    if data.startswith(_PNG):
        if len(data) < _LEAST_PNG or b"IEND" not in data[-12:] or 0 in struct.unpack_from(">II", data, 16):
            return _fault(figure, f"{name!r} is cut short")
        width, height = struct.unpack_from(">II", data, 16)
        if width * height > _MOST_PIXELS:
            return _fault(figure, f"{name!r} has {width} x {height} pixels", "a picture of at most 20 million pixels")
        return Logo(media_type="image/png", data=data)
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, LookupError, ValueError) as exc:
        # Not only what is no XML: an encoding that nobody knows, too.
        return _fault(figure, f"{name!r} is neither PNG nor SVG: {exc}")
    if not root.tag.endswith("svg"):
        return _fault(figure, f"{name!r} is no SVG: its first element is {root.tag!r}")
    if wrong := svg_fault(data):
        return _fault(figure, f"{name!r} {wrong}", "a logo that holds all it shows, as paths")
    return Logo(media_type="image/svg+xml", data=data)


def _fault(figure: Path, wrong: str, right: str = _RIGHT) -> Fault:
    return Fault(file=str(figure), place="shop.logo", wrong=wrong, right=right)
