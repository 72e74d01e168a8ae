"""The only door to the renderer: bodies and a camera in, buffers of ids, depth and normals out.

One pass fills all three. pyrender's segmentation pass is the only one that is not blurred at edges, so the drawing
brings its own shaders for it (folder shaders/): two colour channels carry the item number, two the normal.

pyrender is pinned, since two of its private members are used: the shader cache, to bring the shaders, and the sorting
of nodes, which follows a set and would let flush faces flicker from run to run.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import Camera
from assembler.drawing.scenes import Item, smooth_groups
from assembler.errors import DrawingError
from assembler.figure.mesh import Mesh

os.environ.setdefault("PYOPENGL_PLATFORM", "egl")

_REMEDY = "install Mesa's EGL library (Debian package libegl1)"
_MISSING: Exception | None = None
try:
    import pyrender
    from OpenGL.error import Error as GlError
    from OpenGL.GL import GL_RENDERER, GL_VERSION, glGetString
    from pyrender.shader_program import ShaderProgramCache
except (ImportError, AttributeError, OSError) as error:
    # Without a GL library PyOpenGL fails with whichever of these its loader happens to hit. Said when somebody wants
    # to draw, not on import: the rest of the program works without pictures.
    _MISSING = error

NOWHERE_MM = -1e9
"""Nearness where nothing is."""

REACHES = 4
"""Ranges of depths between one and its double."""

_SHADERS = Path(__file__).parent / "shaders"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Buffers:
    """What a camera sees, pixel by pixel.

    Parameters
    ----------
    ids : (h, w) uint16
        Position of the item in the list that was drawn, from 1; 0 where nothing is.
    near_mm : (h, w) float32
        Nearness to the eye, mm from the camera's centre; far below everything where nothing is.
    normals : (h, w, 3) float32
        Unit normals in the axes of the view (right, up, towards the eye); zero where nothing is.
    """

    ids: NDArray[np.uint16]
    near_mm: NDArray[np.float32]
    normals: NDArray[np.float32]


class Rasteriser:
    """Bodies on the graphics side, drawn as often as needed.

    Parameters
    ----------
    shapes
        Meshes by key; uploaded once.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """

    def __init__(self, shapes: Mapping[str, Mesh]) -> None:
        if _MISSING is not None:
            raise DrawingError(f"no off-screen renderer: {_MISSING}; {_REMEDY}") from _MISSING
        self._scene = pyrender.Scene()
        self._boxes: dict[str, NDArray[np.float64]] = {}
        self._meshes: dict[str, Any] = {}
        self._nodes: dict[tuple[str, int], Any] = {}
        self._order: list[Any] = []
        self._camera = pyrender.OrthographicCamera(xmag=1.0, ymag=1.0, znear=1.0, zfar=2.0)
        self._eye = self._scene.add(self._camera, pose=np.eye(4))
        for name in sorted(shapes):
            self.add(name, shapes[name])
        try:
            self._renderer = pyrender.OffscreenRenderer(64, 64)
        except (AssertionError, AttributeError, ImportError, OSError, ValueError, GlError) as error:
            raise DrawingError(f"no off-screen renderer: {error!r}; {_REMEDY}") from error
        self._renderer._renderer._program_cache = ShaderProgramCache(shader_dir=str(_SHADERS))
        self._renderer._renderer._sorted_mesh_nodes = lambda _scene: self._order

    def __enter__(self) -> Rasteriser:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the graphics memory back."""
        self._renderer.delete()

    @property
    def machine(self) -> str:
        """What renders, in the words of the graphics library; stored pictures hold for one such machine."""
        self._renderer._platform.make_current()
        return " ".join(glGetString(what).decode() for what in (GL_RENDERER, GL_VERSION))

    def has(self, name: str) -> bool:
        """Whether a key is known."""
        return name in self._meshes

    def add(self, name: str, mesh: Mesh) -> None:
        """One more mesh under a new key; a key that is known is left alone."""
        if name in self._meshes or not len(mesh.faces):
            return
        points, normals, faces = smooth_groups(mesh)
        primitive = pyrender.Primitive(positions=points, normals=normals, indices=faces, mode=4)
        self._meshes[name] = pyrender.Mesh(primitives=[primitive])
        low, high = points.min(axis=0), points.max(axis=0)
        self._boxes[name] = np.array(
            [[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])]
        )
        self._boxes[name].flags.writeable = False

    def box(self, item: Item) -> NDArray[np.float64]:
        """Eight corners of an item's box where it is drawn, mm."""
        corners = self._boxes[item.shape]
        return item.placed(corners) if item.is_moved else corners

    def _corners(self, items: Sequence[Item]) -> NDArray[np.float64]:
        return np.array([self.box(item) for item in items if item.shape in self._meshes]).reshape(-1, 3)

    def draw(
        self,
        items: Sequence[Item],
        camera: Camera,
        *,
        nearest_mm: float | None = None,
        within: Sequence[Item] | None = None,
    ) -> Buffers:
        """Ids, depth and normals of the items.

        Parameters
        ----------
        items
            At most 65535; items whose mesh is unknown (empty) draw nothing.
        camera
            Parallel projection.
        nearest_mm
            Cut away what is nearer to the eye than this, mm from the camera's centre; None: show all.
        within
            Items that set the range of depths; None: those that are drawn.
        """
        known = [(number, item) for number, item in enumerate(items, start=1) if item.shape in self._meshes]
        corners = self._corners([item for _, item in known])
        axes = camera.axes
        reach = reach_mm(corners if within is None else self._corners(within), camera)
        colours = self._place([one for one, is_seen in zip(known, in_frame(corners, camera), strict=True) if is_seen])
        front = reach if nearest_mm is None else nearest_mm
        pose = np.eye(4)
        pose[:3, :3] = axes.T
        pose[:3, 3] = np.asarray(camera.centre_mm) + axes[2] * (front + 1.0)
        self._camera.ymag = camera.height_px * camera.mm_per_px / 2.0
        self._camera.xmag = camera.width_px * camera.mm_per_px / 2.0
        self._camera.zfar = front + 1.0 + reach
        self._scene.set_pose(self._eye, pose)
        self._renderer.viewport_width = camera.width_px
        self._renderer.viewport_height = camera.height_px
        flags = pyrender.RenderFlags.SEG | pyrender.RenderFlags.RGBA
        colour, depth = self._renderer.render(self._scene, flags, colours)
        return _decoded(colour, depth, self._camera.znear, self._camera.zfar, front + 1.0)

    def _place(self, items: Sequence[tuple[int, Item]]) -> dict[Any, NDArray[np.float64]]:
        """Nodes of the items at their poses, and the colours that carry their numbers."""
        used: dict[str, int] = {}
        colours: dict[Any, NDArray[np.float64]] = {}
        self._order = []
        for number, item in items:
            copy = used.get(item.shape, 0)
            used[item.shape] = copy + 1
            node = self._nodes.get((item.shape, copy))
            pose = np.eye(4)
            pose[:3, :3] = np.asarray(item.turn)
            pose[:3, 3] = item.shift_mm
            if node is None:
                node = self._scene.add(self._meshes[item.shape], pose=pose)
                self._nodes[(item.shape, copy)] = node
            else:
                self._scene.set_pose(node, pose)
            colours[node] = np.array([number % 256, number // 256, 0.0])
            self._order.append(node)
        return colours


def in_frame(corners: NDArray[np.float64], camera: Camera) -> NDArray[np.bool_]:
    """Whether each box reaches into a picture, (n,).

    Parameters
    ----------
    corners : (8 n, 3) float64
        Of one box after the other, mm.
    camera
        Of the picture.
    """
    where = camera.project(corners)[:, :2].reshape(-1, 8, 2)
    size = np.array([camera.width_px, camera.height_px])
    found: NDArray[np.bool_] = ((where.max(axis=1) > -1.0) & (where.min(axis=1) < size + 1.0)).all(axis=1)
    return found


def reach_mm(corners: NDArray[np.float64], camera: Camera) -> float:
    """How far from the camera's centre a picture's depths reach, mm.

    At least to the outermost corner of the box round everything, rounded up to one of `REACHES` sizes an octave: the
    last bits of each depth follow from it, and hold for whatever else fills about the same room.

    Parameters
    ----------
    corners : (n, 3) float64
        Of the boxes of all that is drawn, mm.
    camera
        Of the picture.
    """
    if not len(corners):
        return 1.0
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    back = camera.axes[2]
    farthest = float(abs((middle - np.asarray(camera.centre_mm)) @ back) + half @ np.abs(back)) + 1.0
    return float(2.0 ** (np.ceil(np.log2(farthest) * REACHES) / REACHES))


def _decoded(colour: NDArray[np.uint8], depth: NDArray[np.float32], near: float, far: float, eye_mm: float) -> Buffers:
    """Buffers from what the pass wrote; only the part of the picture that shows anything is computed."""
    shape = colour.shape[:2]
    ids = np.zeros(shape, dtype=np.uint16)
    near_mm = np.full(shape, NOWHERE_MM, dtype=np.float32)
    normals = np.zeros((*shape, 3), dtype=np.float32)
    drawn = (colour[..., 0] > 0) | (colour[..., 1] > 0)
    rows = np.flatnonzero(drawn.any(axis=1))
    if len(rows):
        columns = np.flatnonzero(drawn.any(axis=0))
        window = (slice(int(rows[0]), int(rows[-1]) + 1), slice(int(columns[0]), int(columns[-1]) + 1))
        part = colour[window]
        ids[window] = part[..., 0].astype(np.uint16) + (part[..., 1].astype(np.uint16) << 8)
        seen = ids[window] > 0
        across = part[..., 2:4].astype(np.float32)
        across *= np.float32(1.0 / 127.5)
        across -= np.float32(1.0)
        across[~seen] = 0.0
        normals[(*window, slice(0, 2))] = across
        left = np.float32(1.0) - across[..., 0] ** 2 - across[..., 1] ** 2
        normals[(*window, 2)] = np.where(seen, np.sqrt(np.maximum(left, np.float32(0.0))), np.float32(0.0))
        # pyrender undoes a perspective division that a parallel projection never made; this does it again.
        safe = np.where(seen, depth[window], np.float32(near))
        distance = np.float32(near + far) - np.float32(near * far) / safe
        near_mm[window] = np.where(seen, np.float32(eye_mm) - distance, np.float32(NOWHERE_MM))
    return Buffers(ids=ids, near_mm=near_mm, normals=normals)
