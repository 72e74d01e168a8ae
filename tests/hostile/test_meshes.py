"""Part files that lie, never end, or are of another unit: one line each, nothing made out of bounds.

Every file is built here, byte by byte.
"""

from __future__ import annotations

import base64
import io
import json
import os
import struct
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assembler.errors import InputError, MeshFileError
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.geometry.announced import MOST_NESTED, MOST_PLACED
from assembler.geometry.freespace import Grid as CellGrid
from assembler.geometry.freespace import patch_of, surface_points
from assembler.geometry.meshfiles import MOST_BODIES
from assembler.geometry.samples import spread_samples
from assembler.geometry.stepfiles import has_step_reader
from assembler.geometry.sweeps import frame_of, height_field
from assembler.project import open_project
from assembler.survey.intake import Intake, read_parts
from assembler.survey.partsizes import likely_unit

CORNERS = np.array([(x, y, z) for x in (0, 60) for y in (0, 50) for z in (0, 40)], dtype=float)
FACES = [
    (0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5), (0, 4, 5), (0, 5, 1),
    (2, 3, 7), (2, 7, 6), (0, 2, 6), (0, 6, 4), (1, 5, 7), (1, 7, 3),
]  # fmt: skip


def box(scale: float = 1.0, at: Sequence[float] = (0.0, 0.0, 0.0)) -> np.ndarray:
    """Triangles of a box of 60 x 50 x 40."""
    return (CORNERS * scale + at)[np.array(FACES)]


def stl(triangles: np.ndarray) -> bytes:
    record = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    record["corners"] = triangles
    return bytes(80) + struct.pack("<I", len(triangles)) + record.tobytes()


def text_stl(triangles: np.ndarray) -> bytes:
    facets = "".join(
        "facet normal 0 0 0\nouter loop\n"
        + "".join(f"vertex {x:.7f} {y:.7f} {z:.7f}\n" for x, y, z in corners)
        + "endloop\nendfacet\n"
        for corners in triangles.tolist()
    )
    return f"solid part\n{facets}endsolid part\n".encode()


def off(vertices: object = 8, faces: object = 12, first: str = "3 0 1 3") -> bytes:
    rows = [f"{x:g} {y:g} {z:g}" for x, y, z in CORNERS]
    rows += [first, *(f"3 {a} {b} {c}" for a, b, c in FACES[1:])]
    return ("OFF\n" + f"{vertices} {faces} 0\n" + "\n".join(rows) + "\n").encode()


def obj(first: str = "f 1 2 4", head: str = "", x: str = "0") -> bytes:
    rows = [f"v {a:g} {b:g} {c:g}" for a, b, c in CORNERS]
    rows[0] = f"v {x} 0 0"
    rows += [first, *(f"f {a + 1} {b + 1} {c + 1}" for a, b, c in FACES[1:])]
    return (head + "\n".join(rows) + "\n").encode()


def ply(vertices: int = 8, faces: int = 12, first: str = "3 0 1 3", comment: str = "") -> bytes:
    head = f"ply\nformat ascii 1.0\n{comment}element vertex {vertices}\nproperty float x\nproperty float y\n"
    head += f"property float z\nelement face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    rows = [f"{x:g} {y:g} {z:g}" for x, y, z in CORNERS] + [first, *(f"3 {a} {b} {c}" for a, b, c in FACES[1:])]
    return (head + "\n".join(rows) + "\n").encode()


def binary_ply() -> bytes:
    data: bytes = trimesh.Trimesh(CORNERS, FACES, process=False).export(file_type="ply")
    return data


def scene(uri: str | None = None, first: int = 0, count: int = 8, **more: object) -> tuple[dict[str, object], bytes]:
    faces = np.array(FACES, dtype="<u4")
    faces[0, 0] = first
    data = (CORNERS / 1000).astype("<f4").tobytes() + faces.tobytes()
    accessors = [
        {"bufferView": 0, "componentType": 5126, "count": count, "type": "VEC3"},
        {"bufferView": 1, "componentType": 5125, "count": 36, "type": "SCALAR"},
    ]
    head: dict[str, object] = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": [0]}],
        "scene": 0,
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": accessors,
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": 96},
            {"buffer": 0, "byteOffset": 96, "byteLength": 144},
        ],
        "buffers": [{"byteLength": len(data)} | ({"uri": uri} if uri else {})],
    }
    return head | more, data


def glb(first: int = 0, count: int = 8, **more: object) -> bytes:
    head, data = scene(None, first, count, **more)
    text = json.dumps(head).encode()
    text += b" " * (-len(text) % 4)
    size = 12 + 8 + len(text) + 8 + len(data)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(data), 0x004E4942) + data
    return struct.pack("<III", 0x46546C67, 2, size) + chunks


def gltf(uri: str | None = None) -> bytes:
    inside = "data:application/octet-stream;base64," + base64.b64encode(scene()[1]).decode()
    return json.dumps(scene(uri or inside)[0]).encode()


MESH = (
    "<mesh><vertices>"
    + "".join(f'<vertex x="{x:g}" y="{y:g}" z="{z:g}"/>' for x, y, z in CORNERS)
    + "</vertices><triangles>"
    + '<triangle v1="{first}" v2="1" v3="3"/>'
    + "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in FACES[1:])
    + "</triangles></mesh>"
)


def archive(**files: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in files.items():
            packed.writestr(name.replace("_", "/", 1).replace("_", "."), data)
    return stream.getvalue()


def threemf(objects: str = "", items: str = '<item objectid="1"/>', first: str = "0", more: str = "") -> bytes:
    model = (
        '<model unit="millimeter" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
        f'<object id="1" type="model">{MESH.format(first=first)}</object>{objects}</resources>'
        f"<build>{items}</build>{more}</model>"
    )
    return archive(**{"3D_3dmodel_model": model.encode()})


def doublings(count: int) -> bytes:
    """Objects of two components each: two to the power of the count."""
    objects = "".join(
        f'<object id="{k}"><components>{2 * f"""<component objectid="{k - 1}"/>"""}</components></object>'
        for k in range(2, count + 2)
    )
    return threemf(objects, f'<item objectid="{count + 1}"/>')


def chain(count: int) -> bytes:
    objects = "".join(
        f'<object id="{k}"><components><component objectid="{k - 1}"/></components></object>'
        for k in range(2, count + 2)
    )
    return threemf(objects, f'<item objectid="{count + 1}"/>')


def circle() -> bytes:
    objects = '<object id="2"><components><component objectid="2"/></components></object>'
    return threemf(objects, '<item objectid="2"/>')


def intake(folder: Path, unit_mm: float | None = 1.0) -> Intake:
    return read_parts(folder, unit_mm=unit_mm, tolerances=Tolerances())


def refused(folder: Path, capfd: pytest.CaptureFixture[str], unit_mm: float | None = 1.0) -> str:
    """The one line with which a folder is refused; nothing else is said."""
    with pytest.raises(InputError) as raised:
        intake(folder, unit_mm)
    (fault,) = raised.value.faults
    line = str(fault)
    assert fault.wrong
    assert fault.right
    assert "\n" not in line
    assert len(line.removeprefix(str(folder))) <= 300
    assert capfd.readouterr() == ("", "")
    return line


SOUND = {
    "c.stl": stl(box()),
    "text.stl": text_stl(box()),
    "c.obj": obj(),
    "c.off": off(),
    "c.ply": ply(),
    "binary.ply": binary_ply(),
    "c.glb": glb(),
    "c.gltf": gltf(),
    "c.3mf": threemf(),
}


@pytest.mark.parametrize("name", SOUND)
def test_what_is_attacked_below_is_a_sound_part_otherwise(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(SOUND[name])
    (body,) = intake(tmp_path).bodies
    assert body.is_watertight
    assert body.fingerprint.volume_mm3 == pytest.approx(60 * 50 * 40, rel=1e-5)


LIARS = {
    # corners that are not there
    "beyond.off": (off(first="3 0 1 900"), ""),
    "beyond.obj": (obj("f 1 2 900"), ""),
    "beyond.ply": (ply(first="3 0 1 900"), "names corner 900, there are 0 to 7"),
    "negative.ply": (ply(first="3 0 1 -2"), "names corner -2, there are 0 to 7"),
    "beyond.glb": (glb(first=900), "names corner 900"),
    "huge.glb": (glb(first=4_000_000_000), "names corner 4000000000"),
    "beyond.3mf": (threemf(first="900"), "names corner 900"),
    "negative.3mf": (threemf(first="-5"), "names corner -5"),
    "word.3mf": (threemf(first="one"), "cannot be read as 3MF"),
    # counts without data
    "count.glb": (glb(count=1_000_000_000), "announces 1000000000 entries"),
    "zeros.glb": (
        glb(accessors=[{"componentType": 5126, "count": 900, "type": "MAT4"} for _ in range(9)]),
        "announce 518400 bytes",
    ),
    "count.ply": (ply(vertices=2_000_000_000), "announces 2000000012 rows"),
    "count.off": (off(vertices=2_000_000_000), "announces 2000000012 rows"),
    "negative.off": (off(vertices=-3), "announces"),
    "words.off": (off(vertices="many"), "cannot be read as OFF"),
    "count.stl": (stl(box())[:80] + struct.pack("<I", 2_000_000_000) + stl(box())[84:], "cut short"),
    # no model, no numbers, no end
    "empty.3mf": (archive(), "holds no 3D model"),
    "other.3mf": (archive(a_txt=b"x"), "holds no 3D model"),
    "deep.gltf": (b'{"a":' + 100_000 * b"[" + 100_000 * b"]" + b"}", "cannot be read as GLTF"),
    "deep.3mf": (threemf(more=5000 * "<a>" + 5000 * "</a>"), "cannot be read as 3MF"),
    "doubled.3mf": (doublings(39), "objects are placed 5.5e+11 times"),
    "chain.3mf": (chain(3000), f"deeper than {MOST_NESTED}"),
    "circle.3mf": (circle(), f"deeper than {MOST_NESTED}, or without end"),
    "many.3mf": (threemf(items=(MOST_PLACED + 1) * '<item objectid="1"/>'), "objects are placed 1e+04 times"),
    "unknown.3mf": (threemf(items='<item objectid="7"/>'), "holds no triangles"),
    "spaces.3mf": (threemf(more=30_000_000 * " "), "unpacks from"),
    # no area, no place
    "line.stl": (stl(box() * (1, 0, 0)), "no area"),
    "point.stl": (stl(box() * 0.0), "no area"),
    "bothways.stl": (stl(np.concatenate((box()[:2], box()[:2, ::-1]))), "cancel each other"),
    "flat.3mf": (threemf(items='<item objectid="1" transform="0 0 0 0 0 0 0 0 0 0 0 0"/>'), "no area"),
    "broken.obj": (obj().replace(b"v ", b"v 1\nv ", 1), "not of three numbers"),
    "far.obj": (obj(x="1e300"), "beyond 1e+12"),
    "far.stl": (stl(box() * 3e36), "beyond 1e+12"),
    "far.3mf": (threemf(items='<item objectid="1" transform="1 0 0 0 1 0 0 0 1 1e300 0 0"/>'), "beyond 1e+12"),
    "nan.obj": (obj(x="nan"), "not finite"),
    "inf.3mf": (threemf(items='<item objectid="1" transform="1 0 0 0 1 0 0 0 1 inf 0 0"/>'), "not finite"),
    "away.stl": (stl(box(at=(2e6, 0, 0))), "lies 2 km from the origin"),
    # the mesh beside the file
    "beside.gltf": (gltf("c.bin"), "the mesh lies in another file; export as GLB"),
    "outside.gltf": (gltf("../../../dev/zero"), "the mesh lies in another file"),
    "net.gltf": (gltf("http://host.invalid/c.bin"), "the mesh lies in another file"),
    "long.gltf": (gltf("x" * 20_000), "the mesh lies in another file"),
    # words as long as the file
    "long.3mf": (threemf(first="9" * 5000), ""),
    "long.off": (off(vertices="v" * 20_000), "cannot be read as OFF"),
}  # fmt: skip


@pytest.mark.parametrize("name", LIARS)
def test_file_that_lies_is_one_line(name: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    content, words = LIARS[name]
    (tmp_path / name).write_bytes(content)
    assert words in refused(tmp_path, capfd)


@pytest.mark.parametrize("name", ["c.obj", "c.off", "c.ply", "c.3mf"])
def test_text_that_takes_too_much_memory_is_one_line(
    name: str, tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("assembler.roombound._allowed_gib", 1e-6)
    (tmp_path / name).write_bytes(SOUND[name])
    assert "of memory to read" in refused(tmp_path, capfd)


def test_flipped_bit_in_an_archive_is_one_line(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    data = bytearray(threemf())
    data[120] ^= 0x10
    (tmp_path / "c.3mf").write_bytes(data)
    assert "cannot be read as 3MF" in refused(tmp_path, capfd)


@pytest.mark.parametrize("comment", ["comment TextureFile ../secret.png\n", "comment TextureFile /dev/zero\n"])
@pytest.mark.parametrize("head", ["mtllib ../secret.mtl\nusemtl a\n", "mtllib /dev/zero\nusemtl a\n"])
def test_nothing_beside_a_file_is_opened(
    comment: str, head: str, tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    parts = tmp_path / "parts"
    parts.mkdir()
    (tmp_path / "secret.mtl").write_text("newmtl a\n")
    (parts / "a.ply").write_bytes(ply(comment=comment))
    (parts / "b.obj").write_bytes(obj(head=head))
    picture = {"images": [{"uri": "../secret.png"}], "textures": [{"source": 0}]}
    (parts / "c.glb").write_bytes(
        glb(**picture, materials=[{"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}}])
    )
    opened: list[str] = []
    plain_open, plain_os_open = io.open, os.open
    monkeypatch.setattr("builtins.open", lambda name, *a, **k: (opened.append(str(name)), plain_open(name, *a, **k))[1])
    monkeypatch.setattr(os, "open", lambda name, *a, **k: (opened.append(str(name)), plain_os_open(name, *a, **k))[1])
    assert len(intake(parts).bodies) == 3
    assert {Path(name).name for name in opened} == {"a.ply", "b.obj", "c.glb"}
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("kind", ["pipe", "folder", "device", "outside", "circle"])
def test_what_is_no_file_of_the_folder_is_one_line(
    kind: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    parts = tmp_path / "parts"
    parts.mkdir()
    (tmp_path / "outside.stl").write_bytes(stl(box()))
    place = parts / "c.stl"
    make: dict[str, Callable[[], object]] = {
        "pipe": lambda: os.mkfifo(place),
        "folder": place.mkdir,
        "device": lambda: place.symlink_to("/dev/zero"),
        "outside": lambda: place.symlink_to(tmp_path / "outside.stl"),
        "circle": lambda: place.symlink_to(place),
    }
    make[kind]()
    assert "c.stl" in refused(parts, capfd)


@pytest.mark.parametrize("name", [b"latin \xe9.stl", b"n" * 251 + b".stl", "\N{WHALE}".encode() * 62 + b".stl"])
def test_name_that_cannot_be_kept_is_one_line(name: bytes, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / os.fsdecode(name)).write_bytes(stl(box()))
    assert "rename the file" in refused(tmp_path, capfd)


@pytest.mark.skipif(not has_step_reader(), reason="the optional library for STEP is not installed")
def test_step_library_is_not_heard(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "c.step").write_bytes(b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n")
    assert "STEP" in refused(tmp_path, capfd)


def figure(folder: Path, *scales: float) -> Path:
    """Boxes on top of each other, each of a scale; the first three of 1."""
    folder.mkdir(exist_ok=True)
    for number, scale in enumerate((1.0, 1.0, 1.0, *scales)):
        (folder / f"p{number}.stl").write_bytes(stl(box(scale, (0.0, 0.0, 40.0 * number))))
    return folder


@pytest.mark.parametrize(
    ("scale", "words"),
    [
        (25.4, "p3.stl: measures 1.524 m, 25.4 times more than most parts; millimetres against inches?"),
        (1000.0, "p3.stl: measures 60 m, 1e+03 times more than most parts; millimetres against metres?"),
        (0.001, "p3.stl: measures 0.06 mm, 1e+03 times less than most parts; millimetres against metres?"),
    ],
)
def test_part_of_another_unit_is_one_line(
    scale: float, words: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert words in refused(figure(tmp_path / "parts", scale), capfd)


def test_parts_too_large_together_are_one_line(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    for number in range(3):
        # 333 m2 each, less than one body may have.
        (tmp_path / f"p{number}.stl").write_bytes(stl(box(150.0, (0.0, 0.0, 6000.0 * number))))
    assert "the parts are too large: the middle one measures 9 m" in refused(tmp_path, capfd)


def test_small_part_is_a_finding_and_no_fault(tmp_path: Path) -> None:
    assert len(intake(figure(tmp_path / "parts", 1 / 25.4)).bodies) == 4


def test_part_far_from_the_others_is_one_line(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    parts = figure(tmp_path / "parts")
    (parts / "p3.stl").write_bytes(stl(box(at=(150_000, 0, 0))))
    assert "p3.stl: lies 150 m from the other parts" in refused(parts, capfd)


@pytest.mark.parametrize(("unit", "scale", "likely"), [("m", 10.0, "mm"), ("m", 0.7, "mm"), ("mm", 0.001, "m")])
def test_wrong_unit_of_the_call_writes_nothing_and_names_the_right_one(
    unit: str, scale: float, likely: str, tmp_path: Path
) -> None:
    parts = tmp_path / "parts"
    parts.mkdir()
    for number in range(3):
        (parts / f"p{number}.stl").write_bytes(stl(box(scale, (0.0, 0.0, 40.0 * scale * number))))
    with pytest.raises(MeshFileError, match=f"survey with --unit {likely},"):
        open_project(tmp_path / "project", lambda _: None, parts_from=parts, unit=unit)
    assert not (tmp_path / "project").exists()


def test_unit_that_the_project_contradicts_is_said(tmp_path: Path) -> None:
    parts, root = figure(tmp_path / "parts"), tmp_path / "project"
    open_project(root, lambda _: None, parts_from=parts, unit="mm", is_quick=True)
    with pytest.raises(InputError, match="got --unit m, but the project has figure.unit"):
        open_project(root, lambda _: None, parts_from=parts, unit="m")


@pytest.mark.parametrize(("size", "unit"), [(300.0, "mm"), (0.3, "m"), (12.0, "cm"), (1e7, None)])
def test_likely_unit(size: float, unit: str | None) -> None:
    assert likely_unit(size) == unit


def huge() -> Mesh:
    return Mesh(vertices=CORNERS * 1e4, faces=np.array(FACES))


HUNGRY: dict[str, Callable[[], object]] = {
    "samples": lambda: spread_samples(huge()),
    "points": lambda: surface_points(huge(), 4.5),
    "cells": lambda: patch_of(CORNERS * 1e4, CellGrid(origin_mm=(0, 0, 0), cell_mm=10.0, shape=(10**5, 10**5, 10**5))),
    "heights": lambda: height_field(huge(), frame_of((0.0, 0.0, 1.0)), 2.0),
}


@pytest.mark.parametrize("name", HUNGRY)
def test_array_out_of_bounds_is_one_line_before_it_is_made(name: str) -> None:
    with pytest.raises(InputError, match=r"GiB of memory, 4 are allowed \(--memory\); look for a part in"):
        HUNGRY[name]()


def loose(count: int) -> np.ndarray:
    chance = np.random.default_rng(5)
    return chance.uniform(0, 900, (count, 1, 3)) + chance.uniform(-20, 20, (count, 3, 3))


@pytest.mark.parametrize("count", [3000, 30_000])
def test_loose_triangles_are_one_line(count: int, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "c.stl").write_bytes(stl(loose(count)))
    assert f"{count} loose pieces, at most {MOST_BODIES}" in refused(tmp_path, capfd)


@pytest.mark.parametrize("share", [0.01, 0.3, 1.0])
def test_unwelded_triangles_become_one_body_that_says_so(share: float, tmp_path: Path) -> None:
    sphere = trimesh.creation.icosphere(subdivisions=3, radius=100.0)
    chance = np.random.default_rng(3)
    some = chance.random(len(sphere.faces)) < share
    spread = np.asarray(sphere.triangles) + some[:, None, None] * chance.uniform(-1e-4, 1e-4, (len(some), 3, 3))
    (tmp_path / "c.stl").write_bytes(text_stl(spread))
    (body,) = intake(tmp_path).bodies
    assert body.is_watertight
    assert len(body.mesh.vertices) == len(sphere.vertices)
    apart = len(np.unique(spread.reshape(-1, 3), axis=0)) - len(sphere.vertices)
    assert body.welded == apart
    assert body.fingerprint.volume_mm3 == pytest.approx(sphere.volume, rel=1e-5)


def test_objects_placed_many_times_are_read_in_seconds(tmp_path: Path) -> None:
    items = "".join(
        f'<item objectid="1" transform="1 0 0 0 1 0 0 0 1 {70 * (k % 20)} {70 * (k // 20)} 0"/>' for k in range(400)
    )
    (tmp_path / "c.3mf").write_bytes(threemf(items=items))
    bodies = intake(tmp_path).bodies
    assert len(bodies) == 400
    assert all(body.is_watertight for body in bodies)


def test_many_bodies_in_one_place_are_one_line(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "c.3mf").write_bytes(threemf(items='<item objectid="1"/>' * 300))
    assert "300 bodies of one size lie in one place" in refused(tmp_path, capfd)


def test_copies_of_an_object_are_bounded(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("assembler.geometry.foreignfiles.MOST_COPIED_TRIANGLES", 30)
    (tmp_path / "c.3mf").write_bytes(threemf(items='<item objectid="1"/>' * 5))
    assert "placed again come to 48 triangles more; at most 30 are read" in refused(tmp_path, capfd)


@pytest.mark.parametrize("name", SOUND)
@settings(derandomize=True, max_examples=50, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_mutated_file_is_read_or_refused(
    name: str, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    content = bytearray(SOUND[name])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content) - 1))
        change = data.draw(st.sampled_from(("bit", "byte", "cut", "double")))
        if change == "bit":
            content[at] ^= 1 << data.draw(st.integers(0, 7))
        elif change == "byte":
            content[at] = data.draw(st.integers(0, 255))
        elif change == "cut":
            del content[at : at + data.draw(st.integers(1, 40))]
            content = content or bytearray(b"0")
        else:
            content[at:at] = content[at : at + data.draw(st.integers(1, 40))]
    folder = tmp_path_factory.mktemp("mutated")
    (folder / name).write_bytes(content)
    faults = []
    try:
        assert intake(folder).bodies
    except InputError as error:
        faults = [str(fault) for fault in error.faults]
    assert not any("\n" in fault or len(fault) > 400 for fault in faults)
