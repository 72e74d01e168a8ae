"""One room to draw in: the light copies of a figure's parts, uploaded once, and what every picture of it needs.

In: a plan and its meshes. Out: items, boxes, mating maps and saved rasters for the views.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from assembler.drawing.camera import Camera
from assembler.drawing.copies import Copies, light_copies
from assembler.drawing.explode import Hung
from assembler.drawing.hardwaremodels import nut, screw, washer
from assembler.drawing.mating import MatingMap, mating_map
from assembler.drawing.palette import COLOURS, indexed
from assembler.drawing.partviews import PartViews
from assembler.drawing.raster import Rasteriser
from assembler.drawing.scenes import Item, Role
from assembler.figure.ids import JointId, PartId
from assembler.figure.joints import Joint
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Vector
from assembler.figure.plan import Plan
from assembler.figure.shelf import NoShelf

Floats = NDArray[np.float64]


class Studio:
    """A figure ready to be drawn.

    Parameters
    ----------
    plan
        Parts, joints and steps.
    meshes
        Full meshes by part.
    out_dir
        Where pictures are written; made if missing.
    light
        Copies from `light_copies`, where they were made before.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """

    def __init__(self, plan: Plan, meshes: Mapping[PartId, Mesh], out_dir: Path, light: Copies | None = None) -> None:
        self.plan = plan
        self.meshes = meshes
        self.out_dir = Path(out_dir)
        self.out_dir.mkdir(parents=True, exist_ok=True)
        self.joints: dict[JointId, Joint] = {joint.id: joint for joint in plan.joints}
        copies = light or light_copies(meshes, NoShelf())
        self.light = copies.fine
        self.names = tuple(sorted(name for name in self.light if len(self.light[name].faces)))
        self.rasteriser = Rasteriser({name: self.light[name] for name in self.names})
        for name in self.names:
            self.rasteriser.add(coarse(name), copies.rough[name])
        self._bought = {part.id for part in plan.parts if not part.is_printed}
        self._maps: dict[JointId, MatingMap] = {}
        self._views: dict[Camera, PartViews] = {}

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

    def part_views(self, camera: Camera) -> PartViews:
        """What a camera sees of each of `coarse_items` alone; drawn once for each camera."""
        if camera not in self._views:
            self._views[camera] = PartViews(self.coarse_items(), camera, self.rasteriser)
        return self._views[camera]

    def box(self, part: PartId) -> Floats:
        """Corners of a part's box, (8, 3), mm."""
        return self.rasteriser.box(Item(name=part, shape=part, role=Role.STANDING))

    def full(self, part: PartId) -> str:
        """Key of the part's full mesh, uploaded when a detail first asks for it."""
        key = f"{part}#"
        self.rasteriser.add(key, self.meshes[part])
        return key

    def shape_of(self, mesh: Mesh) -> str:
        """Key of a body that is no part of this figure, or not any more."""
        key = f"solid {mesh_digest(mesh)}"
        self.rasteriser.add(key, mesh)
        return key

    def mating(self, joint: JointId) -> MatingMap | None:
        """Mating faces of a joint; None if a part has no mesh."""
        found = self._maps.get(joint)
        if found is None:
            record = self.joints[joint]
            pair = self.items(record.parts, Role.STANDING)
            if len(pair) < 2:
                return None
            found = self._maps[joint] = mating_map(record, pair[0], pair[1], self.rasteriser)
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


def coarse(shape: str) -> str:
    """Key of the coarse copy of a part."""
    return f"{shape}~"
