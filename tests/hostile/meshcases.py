"""Part files written by hand in every format: sound ones to start from, and crafted ones."""

from __future__ import annotations

import io
import json
import struct
import zipfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tests.hostile.smallfigure import block, write_part, write_parts
from tests.hostile.trial import Case, Place

Corner = tuple[float, float, float]

_BOX: tuple[Corner, ...] = tuple((x, y, z) for z in (0.0, 10.0) for y in (0.0, 40.0) for x in (0.0, 60.0))
_FACES = (
    (0, 2, 1),
    (1, 2, 3),
    (4, 5, 6),
    (5, 7, 6),
    (0, 1, 4),
    (1, 5, 4),
    (2, 6, 3),
    (3, 6, 7),
    (0, 4, 2),
    (2, 4, 6),
    (1, 3, 5),
    (3, 7, 5),
)
_CONTENT = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONS = (
    '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="r0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def stl(corners: Sequence[Any] = _BOX, faces: Sequence[Any] = _FACES, head: bytes = b"box", count: int = -1) -> bytes:
    """Binary STL."""
    with np.errstate(over="ignore", invalid="ignore"):
        rows = [np.asarray([corners[k] for k in face], dtype=np.float64).astype("<f4").tobytes() for face in faces]
    body = b"".join(struct.pack("<3f", 0, 0, 0) + row + b"\0\0" for row in rows)
    return head.ljust(80, b"\0")[:80] + struct.pack("<I", len(faces) if count < 0 else count) + body


def ascii_stl(corners: Sequence[Any] = _BOX, faces: Sequence[Any] = _FACES, name: str = "box") -> bytes:
    """ASCII STL."""
    loops = "".join(
        "facet normal 0 0 0\nouter loop\n"
        + "".join(f"vertex {' '.join(map(str, corners[k]))}\n" for k in face)
        + "endloop\nendfacet\n"
        for face in faces
    )
    return f"solid {name}\n{loops}endsolid {name}\n".encode()


def obj(corners: Sequence[Any] = _BOX, faces: Sequence[Any] = _FACES, before: str = "", after: str = "") -> bytes:
    """OBJ; faces by index from 0, or as text."""
    points = "".join(f"v {' '.join(map(str, one))}\n" for one in corners)
    words = "".join(f"f {' '.join(str(k + 1) if isinstance(k, int) else k for k in face)}\n" for face in faces)
    return f"{before}{points}{words}{after}".encode()


def ply(
    corners: Sequence[Any] = _BOX,
    faces: Sequence[Any] = _FACES,
    *,
    form: str = "ascii",
    counts: tuple[Any, Any] | None = None,
    before: str = "",
) -> bytes:
    """PLY, ASCII or binary of either byte order."""
    first, second = counts or (len(corners), len(faces))
    head = (
        f"ply\nformat {form} 1.0\n{before}element vertex {first}\n"
        f"property float x\nproperty float y\nproperty float z\n"
        f"element face {second}\nproperty list uchar int vertex_indices\nend_header\n"
    ).encode()
    if form == "ascii":
        rows = [" ".join(map(str, one)) for one in corners] + [f"{len(one)} {' '.join(map(str, one))}" for one in faces]
        return head + ("\n".join(rows) + "\n").encode()
    order = "<" if "little" in form else ">"
    points = b"".join(struct.pack(f"{order}3f", *one) for one in corners)
    return head + points + b"".join(struct.pack(f"{order}B{len(one)}i", len(one), *one) for one in faces)


def off(corners: Sequence[Any] = _BOX, faces: Sequence[Any] = _FACES, counts: str = "") -> bytes:
    """OFF."""
    rows = [" ".join(map(str, one)) for one in corners] + [f"{len(one)} {' '.join(map(str, one))}" for one in faces]
    return ("\n".join(["OFF", counts or f"{len(corners)} {len(faces)} 0", *rows]) + "\n").encode()


def mesh_xml(corners: Sequence[Any] = _BOX, faces: Sequence[Any] = _FACES, number: Any = 1) -> str:
    """One object of a 3MF model."""
    points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in corners)
    words = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces)
    return (
        f'<object id="{number}" type="model"><mesh><vertices>{points}</vertices><triangles>{words}</triangles></mesh>'
        "</object>"
    )


def model_xml(resources: str, items: str, unit: str = "millimeter", before: str = "") -> str:
    """A 3MF model."""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{before}<model unit="{unit}" xmlns="{_CONTENT}">'
        f"<resources>{resources}</resources><build>{items}</build></model>"
    )


def put_in(archive: zipfile.ZipFile, name: str, data: str | bytes) -> None:
    """An entry without today's date, so that the same seed gives the same bytes."""
    archive.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)


def threemf(model: str | bytes | None = None, **more: bytes) -> bytes:
    """A 3MF archive."""
    if model is None:
        model = model_xml(mesh_xml(), '<item objectid="1"/>')
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        put_in(archive, "[Content_Types].xml", _TYPES)
        put_in(archive, "_rels/.rels", _RELATIONS)
        put_in(archive, "3D/3dmodel.model", model)
        for name, data in more.items():
            put_in(archive, name, data)
    return stream.getvalue()


def gltf(corners: Sequence[Any] = _BOX, faces: Sequence[Any] = _FACES) -> tuple[dict[str, Any], bytes]:
    """A glTF document in metres and its buffer."""
    with np.errstate(over="ignore", invalid="ignore"):
        points = (np.asarray(corners, dtype=np.float64) * 1e-3).astype("<f4").tobytes()
    words = np.asarray(faces, dtype="<u4").tobytes()
    record: dict[str, Any] = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(corners), "type": "VEC3"},
            {"bufferView": 1, "componentType": 5125, "count": 3 * len(faces), "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": len(points)},
            {"buffer": 0, "byteOffset": len(points), "byteLength": len(words)},
        ],
        "buffers": [{"byteLength": len(points) + len(words)}],
    }
    return record, points + words


def glb(record: dict[str, Any] | bytes | None = None, data: bytes | None = None, length: int = -1) -> bytes:
    """A GLB file."""
    sound, buffer = gltf()
    words = record if isinstance(record, bytes) else json.dumps(record if record is not None else sound).encode()
    words += b" " * (-len(words) % 4)
    data = buffer if data is None else data
    chunks = struct.pack("<I4s", len(words), b"JSON") + words + struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks) if length < 0 else length) + chunks


SOUND: dict[str, tuple[str, Callable[[], bytes]]] = {
    "stl": (".stl", stl),
    "ascii stl": (".stl", ascii_stl),
    "obj": (".obj", obj),
    "ply": (".ply", ply),
    "ply little": (".ply", lambda: ply(form="binary_little_endian")),
    "ply big": (".ply", lambda: ply(form="binary_big_endian")),
    "off": (".off", off),
    "3mf": (".3mf", threemf),
    "glb": (".glb", glb),
    "gltf": (".gltf", lambda: _embedded()),
}
"""A sound box in every format: what mutations start from."""


def _embedded(uri: str | None = None) -> bytes:
    import base64

    record, data = gltf()
    coded = base64.b64encode(data).decode()
    record["buffers"][0]["uri"] = uri or f"data:application/octet-stream;base64,{coded}"
    return json.dumps(record).encode()


def part_case(name: str, suffix: str, data: Callable[[], bytes], **more: Any) -> Case:
    """Survey of a sound part beside a hostile one."""

    def build(place: Place) -> None:
        write_part(place.parts / "b.stl", block())
        (place.parts / f"c{suffix}").write_bytes(data())

    return Case(kind="mesh", name=name, build=build, **more)


REFUSED = frozenset((2,))
_NUMBERS: tuple[Any, ...] = (
    "nan",
    "inf",
    "-inf",
    "1e300",
    "-1e300",
    "3e38",
    "1e39",
    "1e-300",
    "1e9",
    "1e12",
    "1e7",
    "9" * 400,
    "0x10",
    "1,5",
    "",
    "a",
    "\u0661\u0662",
    "1e",
    "--1",
    "1_0",
)
_INDICES: tuple[Any, ...] = (-1, -5, -9, 8, 99, 2**31 - 1, 2**31, 2**32, 2**63, 2**64, -(2**31), 10**30)


def crafted() -> Iterator[Case]:
    """Each case that somebody thought of."""
    yield from _numbers()
    yield from _indices()
    yield from _degenerate()
    yield from _stl_cases()
    yield from _text_cases()
    yield from _ply_cases()
    yield from _threemf_cases()
    yield from _gltf_cases()
    yield from _set_cases()


def _with(value: Any) -> tuple[Any, ...]:
    return ((value, 0.0, 0.0), *_BOX[1:])


def _numbers() -> Iterator[Case]:
    for value in _NUMBERS:
        told = str(value)[:8]
        yield part_case(f"ascii stl v {told}", ".stl", lambda v=value: ascii_stl(_with(v)))
        yield part_case(f"obj v {told}", ".obj", lambda v=value: obj(_with(v)))
        yield part_case(f"ply v {told}", ".ply", lambda v=value: ply(_with(v)))
        yield part_case(f"off v {told}", ".off", lambda v=value: off(_with(v)))
        model = lambda v=value: threemf(model_xml(mesh_xml(_with(v)), '<item objectid="1"/>'))  # noqa: E731
        yield part_case(f"3mf v {told}", ".3mf", model)
    for value in (float("nan"), float("inf"), 3e38, 1e30, 1e15, 1e12, 1e9, 1e8, 1e7, 1e-30, 1e-44):
        yield part_case(f"stl v {value:g}", ".stl", lambda v=value: stl(_with(v)))
        yield part_case(f"glb v {value:g}", ".glb", lambda v=value: glb(*gltf(_with(v))))
        far = lambda v=value: stl([(x + v, y, z) for x, y, z in _BOX])  # noqa: E731
        yield part_case(f"stl moved {value:g}", ".stl", far)
        large = lambda v=value: stl([(x * v, y * v, z * v) for x, y, z in _BOX])  # noqa: E731
        yield part_case(f"stl times {value:g}", ".stl", large)


def _indices() -> Iterator[Case]:
    for value in _INDICES:
        faces: tuple[tuple[Any, ...], ...] = ((value, 2, 1), *_FACES[1:])
        yield part_case(f"ply index {value}", ".ply", lambda f=faces: ply(_BOX, f), codes=REFUSED)
        yield part_case(f"off index {value}", ".off", lambda f=faces: off(_BOX, f), codes=REFUSED)
        yield part_case(
            f"3mf index {value}",
            ".3mf",
            lambda f=faces: threemf(model_xml(mesh_xml(_BOX, f), '<item objectid="1"/>')),
            codes=REFUSED,
        )
        # In OBJ a negative index counts from the end; -8 is the first.
        right = REFUSED if not -8 <= value < 0 else frozenset((0, 1, 2))
        text = lambda v=value: obj(_BOX, ((str(v + 1 if v >= 0 else v), 2, 1), *_FACES[1:]))  # noqa: E731
        yield part_case(f"obj index {value}", ".obj", text, codes=right)
        if -(2**31) <= value < 2**31:
            for form in ("binary_little_endian", "binary_big_endian"):
                yield part_case(
                    f"{form} index {value}", ".ply", lambda f=faces, form=form: ply(_BOX, f, form=form), codes=REFUSED
                )
        if 0 <= value < 2**32:
            yield part_case(f"glb index {value}", ".glb", lambda f=faces: glb(*gltf(_BOX, f)), codes=REFUSED)


def _degenerate() -> Iterator[Case]:
    flat = tuple((x, y, 0.0) for x, y, _ in _BOX)
    point = tuple((1.0, 1.0, 1.0) for _ in _BOX)
    line = tuple((x, 0.0, 0.0) for x, _, _ in _BOX)
    twice = (*_FACES, *(tuple(reversed(face)) for face in _FACES))
    for name, corners, faces in (
        ("flat", flat, _FACES),
        ("point", point, _FACES),
        ("line", line, _FACES),
        ("both ways", _BOX, twice),
        ("twice", _BOX, (*_FACES, *_FACES)),
        ("one face", _BOX, _FACES[:1]),
        ("same corner", _BOX, tuple((a, a, a) for a, _, _ in _FACES)),
        ("same two corners", _BOX, tuple((a, a, b) for a, b, _ in _FACES)),
        ("no faces", _BOX, ()),
        ("nothing", (), ()),
        ("one corner", _BOX[:1], ()),
        ("inside out", _BOX, tuple(tuple(reversed(face)) for face in _FACES)),
        ("half", _BOX, _FACES[:6]),
        ("thin", tuple((x, y, z * 1e-7) for x, y, z in _BOX), _FACES),
        ("tiny", tuple((x * 1e-6, y * 1e-6, z * 1e-6) for x, y, z in _BOX), _FACES),
    ):
        given: Any = (corners, faces)
        yield part_case(f"stl {name}", ".stl", lambda g=given: stl(*g))
        yield part_case(f"obj {name}", ".obj", lambda g=given: obj(*g))
        yield part_case(f"ply {name}", ".ply", lambda g=given: ply(*g))
        yield part_case(f"off {name}", ".off", lambda g=given: off(*g))
        yield part_case(f"3mf {name}", ".3mf", lambda g=given: threemf(model_xml(mesh_xml(*g), '<item objectid="1"/>')))
        yield part_case(f"glb {name}", ".glb", lambda g=given: glb(*gltf(*g)))


def _stl_cases() -> Iterator[Case]:
    for count in (0, 1, 11, 13, 10**6, 2**31, 2**32 - 1):
        yield part_case(f"stl count {count}", ".stl", lambda c=count: stl(count=c))
    for size in (0, 1, 5, 79, 80, 83, 84, 85, 133, 400):
        yield part_case(f"stl cut at {size}", ".stl", lambda s=size: stl()[:s])
    yield part_case("stl binary that begins with solid", ".stl", lambda: stl(head=b"solid box"))
    yield part_case("stl loose faces", ".stl", lambda: _loose(400))
    yield part_case("stl 3000 loose faces", ".stl", lambda: _loose(3000))
    yield part_case("stl sheet", ".stl", lambda: _sheet(60))
    yield part_case("ascii stl long name", ".stl", lambda: ascii_stl(name="n" * 20000))
    yield part_case("ascii stl only solid", ".stl", lambda: b"solid\n" * 100000)
    yield part_case("ascii stl vertex of two", ".stl", lambda: ascii_stl([one[:2] for one in _BOX]))
    yield part_case("ascii stl NUL", ".stl", lambda: ascii_stl().replace(b"60", b"6\0"))
    yield part_case("ascii stl utf-16", ".stl", lambda: ascii_stl().decode().encode("utf-16"))
    yield part_case("ascii stl utf-8 mark", ".stl", lambda: b"\xef\xbb\xbf" + ascii_stl())
    yield part_case("ascii stl one long line", ".stl", lambda: ascii_stl().replace(b"\n", b" "))
    yield part_case("ascii stl escape", ".stl", lambda: ascii_stl(name="\x1b[31m\x07").replace(b"60.0", b"6\x1b[2J"))


def _loose(count: int) -> bytes:
    corners = [(9.0 * (k // 3) + k % 3, 5.0 * (k % 3 == 1), 2.0 * (k % 7)) for k in range(3 * count)]
    return stl(corners, [(3 * k, 3 * k + 1, 3 * k + 2) for k in range(count)])


def _sheet(side: int) -> bytes:
    corners = [(5.0 * x, 5.0 * y, 0.0) for y in range(side) for x in range(side)]
    cells = [y * side + x for y in range(side - 1) for x in range(side - 1)]
    faces = [(k, k + 1, k + side) for k in cells] + [(k + 1, k + side + 1, k + side) for k in cells]
    return stl(corners, faces)


def _text_cases() -> Iterator[Case]:
    for name, before, after in (
        ("mtllib outside", "mtllib ../../outside/secret.mtl\n", ""),
        ("mtllib device", "mtllib /dev/zero\n", ""),
        ("usemtl and map", "mtllib c.mtl\nusemtl x\n", ""),
        ("mtllib long", f"mtllib {'m' * 5000}\n", ""),
        ("call", "call ../../outside/secret.txt\n", ""),
        ("groups", "".join(f"g g{k}\n" for k in range(3000)), ""),
        ("objects", "".join(f"o o{k}\nv 0 0 0\n" for k in range(500)), ""),
        ("endless continuation", "v 0 0 \\\n" * 1000, ""),
        ("huge polygon", "", f"f {' '.join('1' for _ in range(20000))}\n"),
        ("face of one", "", "f 1\n"),
        ("face of two", "", "f 1 2\n"),
        ("face of words", "", "f a b c\n"),
        ("face 1/2/3", "", "f 1/9/9 2/9/9 3/9/9\n"),
        ("face ///", "", "f 1/// 2/// 3///\n"),
        ("curves", "", "curv 0 1 1 2 3\ncstype bezier\nend\n"),
        ("NUL", "\0\0\0\n", ""),
        ("escape", "o \x1b[31mred\n", "f \x1b[2J 1 2\n"),
    ):
        yield part_case(f"obj {name}", ".obj", lambda b=before, a=after: obj(before=b, after=a))
    yield part_case("obj vertices of two", ".obj", lambda: obj([one[:2] for one in _BOX]))
    yield part_case("obj vertices of nine", ".obj", lambda: obj([(*one, *one, *one) for one in _BOX]))
    yield part_case("obj empty", ".obj", lambda: b"")
    yield part_case("obj utf-16", ".obj", lambda: obj().decode().encode("utf-16"))
    for counts in (
        "0 0 0",
        "-1 -1 0",
        "9 12 0",
        "8 99 0",
        "1000000000 12 0",
        "8 1000000000 0",
        "8",
        "a b c",
        "99999999999999999999 12 0",
        "8 12 0 8 12 0 8",
        "8.5 12 0",
        "nan nan nan",
        "1e300 12 0",
    ):
        yield part_case(f"off counts {counts}", ".off", lambda c=counts: off(counts=c))
    yield part_case("off head only", ".off", lambda: b"OFF")
    yield part_case(
        "off face of 10**9", ".off", lambda: off(_BOX, ((0, 1, 2), (3,) * 9)).replace(b"9 3", b"1000000000 3")
    )


def _ply_cases() -> Iterator[Case]:
    for form in ("ascii", "binary_little_endian", "binary_big_endian"):
        for counts in (
            (-1, 12),
            (8, -1),
            (0, 12),
            (8, 0),
            (10**9, 12),
            (8, 10**9),
            (10**18, 12),
            (8, 10**30),
            ("a", 12),
            (7, 12),
            (9, 12),
            (8, 11),
            (8, 13),
            ("", ""),
        ):
            yield part_case(f"ply {form} counts {counts}", ".ply", lambda f=form, c=counts: ply(form=f, counts=c))
        for name, before in (
            ("texture outside", "comment TextureFile ../../outside/secret.png\n"),
            ("texture absolute", "comment TextureFile /etc/hostname\n"),
            ("texture device", "comment TextureFile /dev/zero\n"),
            ("texture missing", "comment TextureFile ../x.png\n"),
            ("long comment", f"comment {'c' * 100000}\n"),
            ("element first", "element thing 1000000000\nproperty double a\n"),
            ("list first", "element thing 3\nproperty list uint uint a\n"),
            ("unknown type", "element thing 1\nproperty quaternion a\n"),
            ("no name", "element\n"),
            ("half property", "element thing 1\nproperty\n"),
            ("property without element", "property float q\n"),
            ("same element", "element vertex 8\nproperty float x\n"),
        ):
            yield part_case(f"ply {form} {name}", ".ply", lambda f=form, b=before: ply(form=f, before=b))
        for size in (0, 3, 10, 60, 150, 200, 230, 280, 330):
            yield part_case(f"ply {form} cut at {size}", ".ply", lambda f=form, s=size: ply(form=f)[:s])
    yield part_case("ply unknown format", ".ply", lambda: ply(form="binary_middle_endian"))
    yield part_case("ply no end of header", ".ply", lambda: ply().replace(b"end_header\n", b""))
    yield part_case("ply face of 255", ".ply", lambda: ply(_BOX, ((0,) * 255, *_FACES), form="binary_little_endian"))
    yield part_case("ply face of 0", ".ply", lambda: ply(_BOX, ((), *_FACES)))


def _stored(names: Sequence[tuple[str, bytes]], **more: Any) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in names:
            put_in(archive, name, data)
    return stream.getvalue()


def _packed(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name)
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry


def _bomb(unit: bytes, bytes_unpacked: int) -> bytes:
    model = model_xml(mesh_xml() + "FILL", '<item objectid="1"/>').encode()
    before, _, after = model.partition(b"FILL")
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        put_in(archive, "[Content_Types].xml", _TYPES)
        put_in(archive, "_rels/.rels", _RELATIONS)
        with archive.open(_packed("3D/3dmodel.model"), "w", force_zip64=True) as out:
            out.write(before)
            block_bytes = unit * (10_000_000 // len(unit))
            for _ in range(bytes_unpacked // len(block_bytes)):
                out.write(block_bytes)
            out.write(after)
    return stream.getvalue()


def _placed(transform: str) -> bytes:
    return threemf(model_xml(mesh_xml(), f'<item objectid="1" transform="{transform}"/>'))


def _chain(links: int, per_link: int) -> bytes:
    objects = [mesh_xml()]
    for number in range(2, links + 2):
        component = f'<component objectid="{number - 1}"/>' * per_link
        objects.append(f'<object id="{number}" type="model"><components>{component}</components></object>')
    return threemf(model_xml("".join(objects), f'<item objectid="{links + 1}"/>'))


def _loop(names: Sequence[tuple[int, int]]) -> bytes:
    objects = "".join(
        f'<object id="{a}" type="model"><components><component objectid="{b}"/></components></object>' for a, b in names
    )
    return threemf(model_xml(mesh_xml() + objects, f'<item objectid="{names[0][0]}"/>'))


def _threemf_cases() -> Iterator[Case]:
    sound = mesh_xml()
    item = '<item objectid="1"/>'
    entities = "".join(f'<!ENTITY e{k + 1} "{f"&e{k};" * 10}">' for k in range(9))
    laughs = f'<!DOCTYPE model [<!ENTITY e0 "ha">{entities}]>'
    outside = '<!DOCTYPE model [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
    models: dict[str, str | bytes] = {
        "laughs": model_xml(sound.replace('type="model"', 'name="&e9;"'), item, before=laughs),
        "entity outside": model_xml(f"<metadata>&x;</metadata>{sound}", item, before=outside),
        "no objects": model_xml("", item),
        "no items": model_xml(sound, ""),
        "item of nothing": model_xml(sound, '<item objectid="7"/>'),
        "item without id": model_xml(sound, "<item/>"),
        "two of one id": model_xml(sound + sound, item),
        "object without mesh": model_xml('<object id="1" type="model"/>', item),
        "object without id": model_xml(sound.replace('id="1"', ""), item),
        "unit unknown": model_xml(sound, item, unit="furlong"),
        "unit empty": model_xml(sound, item, unit=""),
        "unit foot": model_xml(sound, item, unit="foot"),
        "no vertices": model_xml('<object id="1" type="model"><mesh><triangles/></mesh></object>', item),
        "triangle without v3": model_xml(sound.replace(' v3="1"', ""), item),
        "vertex without z": model_xml(sound.replace(' z="0.0"', ""), item),
        "triangle of words": model_xml(sound.replace('v1="0"', 'v1="zero"'), item),
        "cut": model_xml(sound, item)[:300],
        "empty": "",
        "not xml": "hello",
        "utf-16": model_xml(sound, item).replace("UTF-8", "UTF-16").encode("utf-16"),
        "deep": model_xml(sound + "<a>" * 50000 + "</a>" * 50000, item),
        "long attribute": model_xml(sound.replace('id="1"', f'id="{"9" * 20000}"'), item),
        "many items": model_xml(sound, item * 300),
        "many tiny objects": model_xml(
            "".join(mesh_xml(_BOX[:3], ((0, 1, 2),), k) for k in range(1, 400)),
            "".join(f'<item objectid="{k}"/>' for k in range(1, 400)),
        ),
        "other namespace": model_xml(sound, item).replace("2015/02", "2099/02"),
        "path outside": model_xml(sound, '<item objectid="1" p:path="/../../outside/secret.bin" xmlns:p="http://p"/>'),
    }
    for name, model in models.items():
        yield part_case(f"3mf {name}", ".3mf", lambda m=model: threemf(m))
    for name, values in (
        ("zero", "0 0 0 0 0 0 0 0 0 0 0 0"),
        ("huge", "1e300 0 0 0 1 0 0 0 1 0 0 0"),
        ("far", "1 0 0 0 1 0 0 0 1 1e300 0 0"),
        ("nan", "nan 0 0 0 1 0 0 0 1 0 0 0"),
        ("short", "1 0 0"),
        ("words", "a b c d e f g h i j k l"),
        ("mirror", "-1 0 0 0 1 0 0 0 1 0 0 0"),
        ("flat", "1 0 0 0 1 0 0 0 0 0 0 0"),
        ("empty", ""),
        ("long", "1 " * 1000),
        ("overflow", "1e38 0 0 0 1e38 0 0 0 1e38 0 0 0"),
    ):
        yield part_case(f"3mf transform {name}", ".3mf", lambda v=values: _placed(v))
    yield part_case("3mf empty zip", ".3mf", lambda: _stored([]))
    yield part_case("3mf no model", ".3mf", lambda: _stored([("[Content_Types].xml", _TYPES.encode())]))
    yield part_case("3mf entry outside", ".3mf", lambda: threemf(**{"../../../outside/WRITTEN": b"x"}))
    yield part_case("3mf absolute entry", ".3mf", lambda: threemf(**{"/nowhere/WRITTEN": b"x"}))
    yield part_case("3mf zip in zip", ".3mf", lambda: _stored([("3D/3dmodel.model", threemf())]))
    yield part_case("3mf not a zip", ".3mf", lambda: b"PK\3\4 not a zip")
    yield part_case("3mf archive cut", ".3mf", lambda: threemf()[:-30])
    yield part_case("3mf bit of data", ".3mf", lambda: _flipped(threemf(), 400))
    yield part_case("3mf 10000 entries", ".3mf", lambda: threemf(**{f"e{k}": b"" for k in range(10000)}))
    yield part_case("3mf loop of one", ".3mf", lambda: _loop([(2, 2)]))
    yield part_case("3mf loop of two", ".3mf", lambda: _loop([(2, 3), (3, 2)]))
    yield part_case("3mf chain of 3000", ".3mf", lambda: _chain(3000, 1))
    yield part_case("3mf 12 doublings", ".3mf", lambda: _chain(12, 2))
    yield part_case("3mf 39 doublings", ".3mf", lambda: _chain(39, 2))
    yield part_case("3mf bomb of spaces", ".3mf", lambda: _bomb(b" ", 3_000_000_000), codes=REFUSED)
    yield part_case("3mf bomb of elements", ".3mf", lambda: _bomb(b"<a/>", 1_500_000_000), codes=REFUSED)


def _flipped(data: bytes, place: int) -> bytes:
    return data[:place] + bytes([data[place] ^ 16]) + data[place + 1 :]


def _changed(*path: Any, value: Any) -> bytes:
    record, data = gltf()
    at: Any = record
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    return glb(record, data)


_GLTF: tuple[tuple[tuple[Any, ...], Any], ...] = tuple(
    [
        (("accessors", which, key), value)
        for which in (0, 1)
        for key, values in (
            ("count", (0, -1, 1, 7, 10**9, 10**18, 1.5, "8", None)),
            ("componentType", (0, 5120, 5130, "5126", None)),
            ("type", ("VEC2", "MAT4", "", "SCALAR", None)),
            ("bufferView", (-1, 9, None, "0")),
            ("byteOffset", (-4, 1, 10**9)),
            ("sparse", ({"count": 10**9}, {})),
        )
        for value in values
    ]
    + [
        (("bufferViews", 0, key), value)
        for key, values in (
            ("byteLength", (0, -1, 10**9)),
            ("byteOffset", (-1, 10**9)),
            ("buffer", (1, -1)),
            ("byteStride", (0, 1, 252, -12, 10**9)),
        )
        for value in values
    ]
    + [
        (("nodes", 0, "scale"), value)
        for value in ([0, 0, 0], [1e30, 1e30, 1e30], [1e-30] * 3, ["a"] * 3, [1], [-1, 1, 1])
    ]
    + [(("nodes", 0, "matrix"), value) for value in ([0] * 16, [1e38] * 16, [1] * 15, "m")]
    + [(("nodes", 0, "translation"), value) for value in ([1e38, 0, 0], [1e9, 0, 0], [None] * 3)]
    + [(("nodes", 0, "rotation"), value) for value in ([0, 0, 0, 0], [9, 9, 9, 9])]
    + [(("nodes", 0, "children"), value) for value in ([0], [9], [-1], "x")]
    + [(("nodes", 0, "mesh"), value) for value in (1, -1, "0", None)]
    + [(("nodes",), value) for value in ([], {}, None, [{"mesh": 0}] * 300, [{"children": [1]}, {"children": [0]}])]
    + [(("scenes", 0, "nodes"), value) for value in ([0] * 100, [], [5], None)]
    + [(("scene",), value) for value in (1, -1, "x")]
    + [(("meshes", 0, "primitives", 0, "mode"), value) for value in (0, 1, 2, 3, 5, 6, 9, "4")]
    + [(("meshes", 0, "primitives", 0, "attributes"), value) for value in ({}, {"POSITION": 9}, {"POSITION": 1}, None)]
    + [(("meshes", 0, "primitives", 0, "indices"), value) for value in (0, 7, -1, None)]
    + [(("meshes", 0, "primitives"), value) for value in ([], {}, None)]
    + [(("meshes", 0, "name"), value) for value in ("n" * 5000, "../x", "\x1b[31m", 5)]
    + [(("asset",), value) for value in ({}, {"version": "1.0"}, None)]
    + [(("extensionsRequired",), value) for value in (["KHR_draco_mesh_compression"], "x")]
    + [(("buffers", 0, "byteLength"), value) for value in (0, 10**12, -1)]
    + [
        (("images",), [{"uri": uri}])
        for uri in ("../../outside/secret.png", "/dev/zero", "http://book.invalid/x.png", "file:///etc/hostname")
    ]
)
_URIS = (
    "../../outside/secret.bin",
    "/dev/zero",
    "file:///etc/hostname",
    "http://book.invalid/c.bin",
    "data:,",
    "data:x",
    "data:application/octet-stream;base64,!!!",
    "",
    "c.gltf",
    "%2e%2e/%2e%2e/outside/secret.bin",
    "n" * 5000,
    "missing.bin",
)


def _gltf_cases() -> Iterator[Case]:
    for path, value in _GLTF:
        told = " ".join(map(str, path))
        yield part_case(f"glb {told} {str(value)[:30]!r}", ".glb", lambda p=path, v=value: _changed(*p, value=v))
    for uri in _URIS:
        yield part_case(f"gltf buffer {uri[:30]}", ".gltf", lambda u=uri: _embedded(u))
        yield part_case(f"glb buffer {uri[:30]}", ".glb", lambda u=uri: _changed("buffers", 0, "uri", value=u))
    for name, record in (
        ("deep", b"[" * 100000),
        ("not json", b"hello"),
        ("list", b"[]"),
        ("empty", b""),
        ("null", b"null"),
        ("big number", b'{"asset":' + b"9" * 20000 + b"}"),
        ("deep keys", b'{"a":' * 5000 + b"1" + b"}" * 5000),
    ):
        yield part_case(f"glb json {name}", ".glb", lambda r=record: glb(r))
        yield part_case(f"gltf json {name}", ".gltf", lambda r=record: r)
    for length in (0, 11, 12, 100, 2**32 - 1):
        yield part_case(f"glb length {length}", ".glb", lambda n=length: glb(length=n))
    for size in (0, 4, 11, 12, 19, 20, 100, 900):
        yield part_case(f"glb cut at {size}", ".glb", lambda s=size: glb()[:s])
    yield Case(
        kind="mesh",
        name="gltf with its buffer beside it",
        build=_beside,
        calls=(("survey", "{parts}", "{project}", "--quick"), ("check", "{project}")),
        check=_read_again,
    )


def _beside(place: Place) -> None:
    record, data = gltf()
    record["buffers"][0]["uri"] = "c.bin"
    (place.parts / "c.gltf").write_text(json.dumps(record))
    (place.parts / "c.bin").write_bytes(data)
    write_part(place.parts / "b.stl", block())


def _read_again(place: Place) -> str:
    """Either refused at once, or taken in with all that belongs to it."""
    taken = (place.project / "parts" / "c.gltf").exists()
    return "taken in without its buffer" if taken and not (place.project / "parts" / "c.bin").exists() else ""


def _set_cases() -> Iterator[Case]:
    for factor in (1.0, 3.0, 10.0):
        for unit in ("m", "cm", "in", "mm"):
            yield _unit_case(f"set in {unit} times {factor:g}", unit, factor)
    yield _unit_case("set times 1e-3 in mm", "mm", 1e-3)
    yield _unit_case("set times 1e3 in mm", "mm", 1e3)
    shifts: tuple[tuple[str, tuple[str, ...], tuple[float, ...]], ...] = (
        ("60 in a row", tuple(f"p{k}.stl" for k in range(60)), tuple(70.0 * k for k in range(60))),
        ("25 in one place", tuple(f"p{k}.stl" for k in range(25)), (0.0,) * 25),
        ("names by case", ("c.stl", "C.STL"), (0.0, 60.0)),
        ("far", ("c.stl", "d.stl", "e.stl"), (0.0, 1e5, 1e6)),
    )
    for name, files, places in shifts:

        def build(place: Place, files: tuple[str, ...] = files, places: tuple[float, ...] = places) -> None:
            for file, shift in zip(files, places, strict=True):
                (place.parts / file).write_bytes(stl([(x + shift, y, z) for x, y, z in _BOX]))

        yield Case(kind="mesh", name=f"set {name}", build=build)

    def copied(place: Place) -> None:
        write_parts(place.parts)
        (place.parts / "Copy of A.stl").write_bytes((place.parts / "A.stl").read_bytes())

    twice = (("survey", "{parts}", "{project}", "--quick"), ("check", "{project}"))
    yield Case(kind="mesh", name="set with a copy", build=copied, calls=twice, codes=frozenset((0, 1)))
    yield Case(kind="mesh", name="set of nothing", build=lambda place: None, codes=REFUSED)
    empty = ("survey", "", "{project}")
    yield Case(kind="mesh", name="set from an unset variable", build=lambda place: None, calls=(empty,), codes=REFUSED)


def _unit_case(name: str, unit: str, factor: float) -> Case:
    """The small figure in a wrong unit, and the call that puts it right."""

    def build(place: Place) -> None:
        write_parts(place.parts)
        for path in sorted(place.parts.iterdir()):
            rows = np.frombuffer(path.read_bytes()[84:], dtype="(3,)<f4,(3,3)<f4,<u2").copy()
            rows["f1"] *= factor
            path.write_bytes(path.read_bytes()[:84] + rows.tobytes())

    survey = ("survey", "{parts}", "{project}", "--unit")
    return Case(kind="mesh", name=name, build=build, calls=((*survey, unit), (*survey, "mm")))


def suffix_cases() -> Iterator[Case]:
    """Each sound file under each suffix, and under none of its own."""
    for form, (own, data) in SOUND.items():
        for suffix in sorted({one for one, _ in SOUND.values()} | {".STL", ".step", ".stp"}):
            if suffix != own:
                yield part_case(f"{form} as {suffix}", suffix, data)
        assert Path(f"c{own}").suffix == own
