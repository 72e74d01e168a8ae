"""Outlines and edges of patches as plain arrays and JSON values, and back to the bit, to be kept from run to run.

One of the modules that own shapely: polygons travel as well-known binary (OGC 06-103r4).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from assembler.geometry.facing import EdgePieces, Patch
from assembler.geometry.flats import Flat
from assembler.geometry.openings import Opening, Shape
from assembler.geometry.outlines import Outline


def outline_records(outlines: Sequence[Outline]) -> tuple[dict[str, NDArray[Any]], list[dict[str, Any]]]:
    """Arrays by name, and a record for each outline."""
    arrays: dict[str, NDArray[Any]] = {}
    for number, outline in enumerate(outlines):
        arrays[f"faces{number}"] = outline.flat.faces
        arrays[f"polygon{number}"] = np.frombuffer(shapely.to_wkb(outline.polygon), dtype=np.uint8)
        arrays[f"rim{number}"] = outline.rim
        arrays[f"beyond{number}"] = outline.rim_beyond
    return arrays, [_record(outline) for outline in outlines]


def outlines_from(arrays: Mapping[str, NDArray[Any]], records: Sequence[Mapping[str, Any]]) -> tuple[Outline, ...]:
    """The outlines that `outline_records` was given."""
    return tuple(
        Outline(
            flat=Flat(
                normal=np.array(record["normal"]),
                origin=np.array(record["origin"]),
                faces=arrays[f"faces{number}"],
                spread_mm=record["spread_mm"],
            ),
            polygon=shapely.from_wkb(arrays[f"polygon{number}"].tobytes()),
            openings=tuple(_opening(opening) for opening in record["openings"]),
            rim=arrays[f"rim{number}"],
            rim_beyond=arrays[f"beyond{number}"],
            low_mm=np.array(record["low_mm"]),
            high_mm=np.array(record["high_mm"]),
        )
        for number, record in enumerate(records)
    )


def _record(outline: Outline) -> dict[str, Any]:
    return {
        "normal": outline.flat.normal.tolist(),
        "origin": outline.flat.origin.tolist(),
        "spread_mm": float(outline.flat.spread_mm),
        "low_mm": outline.low_mm.tolist(),
        "high_mm": outline.high_mm.tolist(),
        "openings": [opening_record(opening) for opening in outline.openings],
    }


def opening_record(opening: Opening) -> dict[str, Any]:
    """All that an opening says."""
    return {
        "centre_mm": opening.centre_mm.tolist(),
        "width_mm": float(opening.width_mm),
        "length_mm": float(opening.length_mm),
        "along": opening.along.tolist(),
        "shape": opening.shape,
        "spread_mm": float(opening.spread_mm),
        "axis": opening.axis.tolist(),
    }


def _opening(record: Mapping[str, Any]) -> Opening:
    return Opening(
        centre_mm=np.array(record["centre_mm"]),
        width_mm=record["width_mm"],
        length_mm=record["length_mm"],
        along=np.array(record["along"]),
        shape=Shape(record["shape"]),
        spread_mm=record["spread_mm"],
        axis=np.array(record["axis"]),
    )


def edge_pieces_record(pieces: EdgePieces) -> tuple[dict[str, NDArray[Any]], list[bool]]:
    """Pieces as arrays and plain values."""
    one, two = pieces.beyond
    arrays = {"middle": pieces.middle_mm, "length": pieces.length_mm, "loop": pieces.loop, "one": one, "two": two}
    return arrays, list(pieces.is_inner)


def edge_pieces_from(arrays: Mapping[str, NDArray[Any]], is_inner: Sequence[bool]) -> EdgePieces:
    """The pieces of such values."""
    return EdgePieces(
        middle_mm=arrays["middle"],
        length_mm=arrays["length"],
        loop=arrays["loop"],
        is_inner=tuple(is_inner),
        beyond=(arrays["one"], arrays["two"]),
    )


def patch_shape(patch: Patch) -> str:
    """Digest of the area of a patch."""
    return hashlib.sha256(shapely.to_wkb(patch.polygon)).hexdigest()
