"""PNG files put into a PDF as they are: their packed pixels are what a PDF wants, so nothing is unpacked or packed.

Goes in: the bytes of a PNG. Comes out: what a PDF image is made of, and an image that the typesetter can place.

References
----------
PNG specification (W3C, third edition), 5 (chunks), 11.2.1 (IHDR); ISO 32000-1, 7.4.4.4 (predictors of FlateDecode: 15
is PNG's own row filters), 8.6.6.3 (indexed colour).
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from typing import Any

import pydyf

SIGNATURE = b"\x89PNG\r\n\x1a\n"
_GREY, _COLOUR, _INDEXED = 0, 2, 3
_BANDS = {_GREY: 1, _COLOUR: 3, _INDEXED: 1}
_SPACES = {_GREY: "/DeviceGray", _COLOUR: "/DeviceRGB"}


_PNG_NAME = re.compile(r'<image [^>]*?href="([^":]+\.png)"')


def picture_names(html: str) -> list[str]:
    """Addresses of the PNG files that a page shows, each once, sorted."""
    return sorted(set(_PNG_NAME.findall(html)))


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedRaster:
    """A PNG without transparency or interlacing, 8 bits a number.

    Parameters
    ----------
    width, height
        Pixels.
    kind
        PNG colour type: 0 grey, 2 red green blue, 3 indexed.
    palette
        Red, green, blue of each number; empty unless indexed.
    data
        Packed rows.
    """

    width: int
    height: int
    kind: int
    palette: bytes
    data: bytes


def packed_raster(png: bytes) -> PackedRaster | None:
    """What a PDF image takes from a PNG; None for bytes that cannot go in as they are.

    Parameters
    ----------
    png
        A file. Transparent, interlaced or 16-bit PNGs, and files that are none or are cut short, give None.
    """
    chunks = _chunks(png)
    header = chunks.get(b"IHDR", [b""])[0]
    if len(header) != 13 or b"tRNS" in chunks or b"IEND" not in chunks:
        return None
    width, height, depth, kind, packing, _, interlaced = struct.unpack(">IIBBBBB", header)
    if depth != 8 or kind not in _BANDS or packing or interlaced or not (width and height):
        return None
    palette = b"".join(chunks.get(b"PLTE", [])) if kind == _INDEXED else b""
    data = b"".join(chunks.get(b"IDAT", []))
    return PackedRaster(width=width, height=height, kind=kind, palette=palette, data=data)


def _chunks(png: bytes) -> dict[bytes, list[bytes]]:
    """Contents by name; none for what is no PNG."""
    found: dict[bytes, list[bytes]] = {}
    place = len(SIGNATURE) if png.startswith(SIGNATURE) else len(png)
    while place + 12 <= len(png):
        length, name = struct.unpack_from(">I4s", png, place)
        found.setdefault(name, []).append(png[place + 8 : place + 8 + length])
        place += length + 12
    return found


STAND_IN = "StandsFor"
"""Entry of a PDF image that has no pixels yet: the name of the file that has them."""


class PlacedRaster:
    """A packed raster as WeasyPrint places images: what its own raster images answer to, without their work.

    Parameters
    ----------
    raster
        Pixels.
    name
        Differs from image to image.
    stands_for
        File whose pixels are put in when pieces are bound, so that a page need not be set again for other pixels of
        the same size; empty: the pixels are those of the raster.
    """

    def __init__(self, raster: PackedRaster, name: str, stands_for: str = "") -> None:
        self.id = name
        self._raster = raster
        self._stands_for = stands_for

    def get_intrinsic_size(self, resolution: float, _font_size: float) -> tuple[float, float, float]:
        """Width, height and their ratio."""
        raster = self._raster
        return raster.width / resolution, raster.height / resolution, raster.width / raster.height

    def draw(self, stream: Any, concrete_width: float, concrete_height: float, _style: Any) -> None:
        """Puts the image on the page."""
        name = stream.add_image(self, interpolate=True, ratio=1)
        stream.transform(concrete_width, 0, 0, -concrete_height, 0, concrete_height)
        stream.draw_x_object(name)

    def get_x_object(self, interpolate: bool, _dpi_ratio: float) -> pydyf.Stream:
        """The image as a PDF object, or what stands in for it."""
        raster = self._raster
        name = {STAND_IN: pydyf.String(self._stands_for)} if self._stands_for else {}
        return pydyf.Stream(
            [b"" if self._stands_for else raster.data],
            pydyf.Dictionary(
                {
                    "Type": "/XObject",
                    "Subtype": "/Image",
                    "Width": raster.width,
                    "Height": raster.height,
                    "ColorSpace": _SPACES.get(raster.kind) or pydyf.Array(colour_space(raster)),
                    "BitsPerComponent": 8,
                    "Interpolate": "true" if interpolate else "false",
                    "Filter": "/FlateDecode",
                    "DecodeParms": pydyf.Dictionary(
                        {"Predictor": 15, "Colors": _BANDS[raster.kind], "Columns": raster.width}
                    ),
                    **name,
                }
            ),
        )


def colour_space(raster: PackedRaster) -> list[Any]:
    """The PDF colour space of an indexed raster; its palette in hexadecimal digits."""
    return ["/Indexed", "/DeviceRGB", len(raster.palette) // 3 - 1, f"<{raster.palette.hex()}>"]
