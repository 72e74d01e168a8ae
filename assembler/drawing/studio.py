"""One room to draw in: the light copies of a figure's parts, uploaded once, and what every picture of it needs.

In: the bodies of a figure. Out: items, boxes, mating maps and saved rasters for the views.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from assembler.drawing.bodies import Figure, read_figure
from assembler.drawing.explode import Hung
from assembler.drawing.hardwaremodels import nut, screw, washer
from assembler.drawing.image import COLOURS, indexed
from assembler.drawing.mating import MatingMap, mating_map
from assembler.drawing.raster import Rasteriser
from assembler.drawing.scenes import Item, Role
from assembler.figure.ids import JointId, PartId
from assembler.figure.joints import Joint
from assembler.figure.parts import Vector

Floats = NDArray[np.float64]


class Studio:
    """A figure ready to be drawn.

    Parameters
    ----------
    figure
        Its bodies.
    out_dir
        Where pictures are written; made if missing.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """

    def __init__(self, figure: Figure, out_dir: Path) -> None:
        self.meshes = figure.full
        self.out_dir = Path(out_dir)
        self.out_dir.mkdir(parents=True, exist_ok=True)
        self.light = figure.fine
        self.names = tuple(sorted(name for name in self.light if len(self.light[name].faces)))
        self.rasteriser = Rasteriser({name: self.light[name] for name in self.names})
        for name in self.names:
            self.rasteriser.add(coarse(name), figure.rough[name])
        self._bought = figure.bought
        self._maps: dict[JointId, MatingMap] = {}

    def __enter__(self) -> Studio:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the graphics memory back."""
        self.rasteriser.close()

    def items(self, parts: Iterable[PartId], role: Role, shift_mm: Vector = (0.0, 0.0, 0.0)) -> list[Item]:
        """Parts as items of a picture; parts without a mesh are left out."""
        known = set(self.names)
        return [
            Item(name=part, shape=part, role=role, shift_mm=shift_mm, is_printed=part not in self._bought)
            for part in parts
            if part in known
        ]

    def coarse_items(self) -> list[Item]:
        """All parts in their places, as coarse copies."""
        return [Item(name=name, shape=coarse(name), role=Role.STANDING) for name in self.names]

    def box(self, part: PartId) -> Floats:
        """Corners of a part's box, (8, 3), mm."""
        return self.rasteriser.box(Item(name=part, shape=part, role=Role.STANDING))

    def boxes(self, parts: Iterable[PartId]) -> dict[PartId, Floats]:
        """Boxes of some parts."""
        return {part: self.box(part) for part in parts}

    def full(self, part: PartId) -> str:
        """Key of the part's full mesh, uploaded when a detail first asks for it."""
        key = f"{part}#"
        self.rasteriser.add(key, self.meshes[part])
        return key

    def mating(self, joint: Joint) -> MatingMap | None:
        """Mating faces of a joint; None if a part has no mesh."""
        found = self._maps.get(joint.id)
        if found is None:
            pair = self.items(joint.parts, Role.STANDING)
            if len(pair) < 2:
                return None
            found = self._maps[joint.id] = mating_map(joint, pair[0], pair[1], self.rasteriser)
        return found

    def upload_hardware(self, hung: Iterable[Hung]) -> None:
        """Meshes of pieces of hardware, each kind once."""
        makers = {"screw": screw, "washer": washer, "nut": nut}
        for piece in hung:
            if not self.rasteriser.has(piece.item.shape):
                self.rasteriser.add(piece.item.shape, makers[piece.kind](piece.axis.stack))

    def save(self, picture: NDArray[np.uint8], file: str) -> None:
        """Write a PNG with a palette of its own; the same pixels give the same bytes."""
        indices, colours = indexed(picture)
        image = Image.fromarray(indices)
        # Filled up to 256 colours, Pillow writes a byte for each pixel, as every PDF reader can read it.
        image.putpalette(colours.tobytes().ljust(3 * COLOURS, b"\0"))
        image.save(self.out_dir / file, format="PNG", compress_level=6)


_OPEN: dict[Path, Studio] = {}
"""The one studio of this process, by the file that says what is in it: opening one costs more than most pictures."""


def studio_of(figure: Path) -> Studio:
    """The studio of a figure that was written for the workers; pictures are written beside that file.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """
    if figure not in _OPEN:
        close_studio()
        _OPEN[figure] = Studio(read_figure(figure), figure.parent)
    return _OPEN[figure]


def close_studio() -> None:
    """Give back what `studio_of` holds."""
    while _OPEN:
        _OPEN.popitem()[1].close()


def coarse(shape: str) -> str:
    """Key of the coarse copy of a part."""
    return f"{shape}~"
