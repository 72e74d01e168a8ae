"""Can a part file hold what it announces? Content in, nothing or one fault out, before a reader makes arrays of it.

Headers of a few bytes can ask for any amount of memory: counts without data, archives that unpack to a thousand times
their size, objects that place each other without end. Malformed content is left to the reader, which says so.
"""

from __future__ import annotations

import io
import json
import re
import struct
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from lxml import etree

from assembler.geometry.meshfault import mesh_fault
from assembler.roombound import memory_bytes, memory_gib

MOST_UNPACKED_BYTES = 1_000_000_000
MOST_RATIO = 200.0
"""How many times smaller an archive may be than its content. Coordinates as text pack 5 to 30 times."""
_SMALL_BYTES = 1_000_000
"""Below this any ratio will do: a file of equal lines packs well."""
MOST_PLACED = 10_000
"""Placements of objects in one file."""
MOST_NESTED = 50
"""Objects within objects; real files have three or four."""

_EXPORT = "export the part again"
_COMPONENT_BYTES = {5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4}
_COMPONENTS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}
_SHARED = 4
"""How many times the same bytes of a glTF file may be read: interleaved and shared data are read more than once."""
_NODE_BYTES, _ATTRIBUTE_BYTES = 140, 260
"""What the XML library keeps for an element and for an attribute, measured."""
_TEXT_FACTOR = 20
_OBJ_FACTOR = 8
"""Bytes that the readers of text keep for each byte of it, measured 17 for PLY and OFF, 6.5 for OBJ: a number is an
object of its own for a while."""
_PLY_ELEMENT = re.compile(rb"^element\s+\S+\s+(\S+)", re.MULTILINE)
_HEADER_BYTES = 100_000


def check_announced(path: Path, data: bytes) -> None:
    """Nothing, when the content can hold what it announces.

    Parameters
    ----------
    path
        Its ending says what to look at.
    data
        Content of the file.

    Raises
    ------
    MeshFileError
        If it announces more than it holds, refers to files beside it, places objects without end, or takes more memory
        to read than is allowed.
    Exception
        Whatever malformed content leads to; the caller wraps it.
    """
    look = {".3mf": _archive, ".glb": _glb, ".gltf": _gltf, ".ply": _ply, ".off": _off, ".obj": _text}
    look[path.suffix.lower()](path, data)


def _text(path: Path, data: bytes) -> None:
    factor = _OBJ_FACTOR if path.suffix.lower() == ".obj" else _TEXT_FACTOR
    _check_need(path, factor * len(data))


def _check_need(path: Path, need_bytes: int) -> None:
    if need_bytes > memory_bytes():
        wrong = f"takes {need_bytes / 1024**3:.3g} GiB of memory to read, {memory_gib():g} are allowed (--memory)"
        raise mesh_fault(path, "", wrong, "export it as binary STL, or coarser")


def _ply(path: Path, data: bytes) -> None:
    head, mark, _ = data[:_HEADER_BYTES].partition(b"end_header")
    if mark:
        _bounded_counts(path, [int(count) for count in _PLY_ELEMENT.findall(head)], len(data))
    if b"ascii" in head:
        _text(path, data)


def _off(path: Path, data: bytes) -> None:
    numbers = re.findall(rb"[^#\s]\S*", re.sub(rb"#[^\n]*", b"", data[:_HEADER_BYTES]))
    _bounded_counts(path, [int(number) for number in numbers[1:3]], len(data))
    _text(path, data)


def _bounded_counts(path: Path, counts: Sequence[int], size: int) -> None:
    """Each row takes at least a byte."""
    if min(counts, default=0) < 0 or sum(counts) > size:
        raise mesh_fault(path, "header", f"announces {sum(counts)} rows in {size} bytes", _EXPORT)


def _glb(path: Path, data: bytes) -> None:
    length = struct.unpack_from("<I", data, 12)[0]
    if length > len(data) - 20:
        raise mesh_fault(path, "header", f"announces {length} bytes of {len(data)}", _EXPORT)
    _scene(path, json.loads(data[20 : 20 + length]), len(data))


def _gltf(path: Path, data: bytes) -> None:
    _scene(path, json.loads(data), len(data))


def _scene(path: Path, scene: Mapping[str, Any], size: int) -> None:
    for buffer in scene.get("buffers", []):
        uri = str(buffer.get("uri", "data:"))
        if not uri.startswith("data:"):
            raise mesh_fault(path, f"buffer {uri}", "the mesh lies in another file", "export as GLB, which is one file")
    for number, accessor in enumerate(scene.get("accessors", [])):
        if not 0 <= accessor["count"] <= size:
            wrong = f"announces {accessor['count']} entries in a file of {size} bytes"
            raise mesh_fault(path, f"accessor {number}", wrong, _EXPORT)
    announced = sum(_accessor_bytes(accessor) for accessor in scene.get("accessors", []))
    announced = max(announced, sum(view["byteLength"] for view in scene.get("bufferViews", [])))
    if announced > _SHARED * size:
        raise mesh_fault(path, "accessors", f"announce {announced} bytes in a file of {size}", _EXPORT)


def _accessor_bytes(accessor: Mapping[str, Any]) -> int:
    return int(accessor["count"]) * _COMPONENT_BYTES[accessor["componentType"]] * _COMPONENTS[accessor["type"]]


def _archive(path: Path, data: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        unpacked = sum(info.file_size for info in archive.infolist())
        if unpacked > MOST_UNPACKED_BYTES or unpacked > max(MOST_RATIO * len(data), _SMALL_BYTES):
            wrong = f"unpacks from {len(data) / 1e6:.3g} to {unpacked / 1e6:.0f} MB"
            right = f"at most {MOST_UNPACKED_BYTES / 1e6:.0f} MB and {MOST_RATIO:.0f} times are read: export as STL"
            raise mesh_fault(path, "", wrong, right)
        # A member never gives more than it states: the library stops there.
        models = {
            info.filename.strip("/"): archive.read(info)
            for info in archive.infolist()
            if info.filename.lower().endswith(".model")
        }
    for model in models.values():
        need = _NODE_BYTES * model.count(b"<") + _ATTRIBUTE_BYTES * model.count(b"=") + 2 * len(model)
        _check_need(path, need)
    root = next((model for name, model in models.items() if "3d/3dmodel.model" in name.lower()), None)
    if root is None:
        raise mesh_fault(path, "", "holds no 3D model", "export the part again as 3MF")
    _placements(path, root, models)


def _placements(path: Path, root: bytes, models: Mapping[str, bytes]) -> None:
    """Bounds on what is placed: how often, how deep, and how much is read again from other models of the archive."""
    parts_of: dict[str, list[str]] = {}
    placed: list[str] = []
    read_again = 0
    for _, element in etree.iterparse(
        io.BytesIO(root), tag=("{*}mesh", "{*}object", "{*}item"), resolve_entities=False, no_network=True
    ):
        kind = etree.QName(element).localname
        if kind == "item":
            placed.append(element.attrib["objectid"])
        elif kind == "object":
            components = list(element.iter("{*}component"))
            parts_of[element.attrib["id"]] = [component.attrib["objectid"] for component in components]
            for component in components:
                others = [value for key, value in component.attrib.items() if key.endswith("path")]
                read_again += sum(len(models.get(other.strip("/"), b"")) for other in others)
        if kind != "item":
            element.clear()
    if read_again > MOST_UNPACKED_BYTES:
        raise mesh_fault(path, "components", f"read {read_again / 1e6:.0f} MB of other models", "export as STL")
    known: dict[str, int] = {}
    total = sum(_count(path, name, parts_of, known, 1) for name in placed)
    if total > MOST_PLACED:
        wrong = f"objects are placed {total:.3g} times, at most {MOST_PLACED} are read"
        raise mesh_fault(path, "build", wrong, "export each part once")


def _count(path: Path, name: str, parts_of: Mapping[str, Sequence[str]], known: dict[str, int], depth: int) -> int:
    """How many placements an object comes to."""
    if depth > MOST_NESTED:
        wrong = f"objects lie within each other deeper than {MOST_NESTED}, or without end"
        raise mesh_fault(path, f"object {name}", wrong, "export each part as one object")
    if name not in known:
        parts = parts_of.get(name) or []
        known[name] = sum(_count(path, part, parts_of, known, depth + 1) for part in parts) if parts else 1
    return known[name]
