"""Which parts did the shop send, and can they be used? A folder of mesh files in, healed bodies and findings out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from assembler.errors import Fault, MeshFileError
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.ids import PartId, natural_key
from assembler.figure.joints import Origin
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part
from assembler.figure.settings import Settings
from assembler.figure.tolerances import Tolerances
from assembler.geometry.fingerprints import fingerprint
from assembler.geometry.healing import Healed, heal
from assembler.geometry.meshfault import mesh_fault
from assembler.geometry.meshfiles import SUFFIXES, Body, read_bodies
from assembler.geometry.touching import has_crowded_edges, solids_of_faces
from assembler.progress import Counted
from assembler.survey.intakebody import IntakeBody
from assembler.survey.partsizes import size_faults
from assembler.words import Value, also, say

_NO_AREA = 1e-9
"""Area of a surface that is none, as a share of its size squared: rounding of single precision."""
_LONGEST_NAME_BYTES = 200
"""Of a file: names that are made from it, with an ending of their own, have to fit as well (255 on most disks)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Intake:
    """All bodies of a folder, in the natural order of their names, with findings that name files."""

    bodies: tuple[IntakeBody, ...]
    findings: tuple[Finding, ...]


def read_parts(
    folder: Path,
    *,
    unit_mm: float | None,
    tolerances: Tolerances,
    progress: Callable[[str], None] | None = None,
) -> Intake:
    """Every body in a folder of part files.

    Parameters
    ----------
    folder
        Holds the part files; files of other kinds and hidden files are left alone.
    unit_mm
        Length of one unit of files that state none, mm; None: not stated, millimetres are assumed.
    tolerances
        For healing.
    progress
        Called with a line for each file.

    Raises
    ------
    MeshFileError
        If the folder is missing or holds no part files, for all files in it that cannot be used, or where the sizes
        of the parts cannot be those of one figure.
    """
    bodies: list[IntakeBody] = []
    findings: list[Finding] = []
    faults: list[Fault] = []
    files = _part_files(folder)
    for number, path in enumerate(files, 1):
        if progress:
            text = f"reading {path.name}"
            progress(Counted(text, stage="reading parts", done=number, total=len(files)))
        try:
            _require_name(path)
            taken, about = _read(path, len(files) == 1, unit_mm, tolerances)
        except MeshFileError as error:
            faults.extend(error.faults)
            continue
        bodies.extend(taken)
        findings.extend(about)
    faults = faults or size_faults(folder, bodies)
    if faults:
        raise MeshFileError(*faults)
    return Intake(bodies=tuple(bodies), findings=sort_findings([*_unwelded(bodies), *findings]))


def _unwelded(bodies: Sequence[IntakeBody]) -> list[Finding]:
    """One line for all files whose triangles did not share their corners."""
    found = tuple(body.file for body in bodies if body.welded)
    if not found:
        return []
    few: Value = found[:3]
    if len(found) > 3:
        few = say("word.and_more", first=found[:3], more=len(found) - 3)
    message = say("finding.mesh-unwelded", count=len(found), parts=len(bodies), few=few)
    return [Finding(level=Level.NOTE, code="mesh-unwelded", about=found, message=message)]


def _part_files(folder: Path) -> list[Path]:
    if not folder.is_dir():
        wrong = "is a file" if folder.exists() else "no such folder"
        raise MeshFileError(Fault(file=str(folder), place="", wrong=wrong, right="name the folder with the part files"))
    files = [path for path in folder.iterdir() if path.suffix.lower() in SUFFIXES and not path.name.startswith(".")]
    if not files:
        kinds = ", ".join(suffix[1:].upper() for suffix in SUFFIXES)
        wrong = "holds no part files"
        raise MeshFileError(Fault(file=str(folder), place="", wrong=wrong, right=f"put {kinds} files into it"))
    return sorted(files, key=lambda path: natural_key(path.name))


def _require_name(path: Path) -> None:
    name = path.name.encode("utf-8", "surrogateescape")
    if path.name != name.decode("utf-8", "replace"):
        raise mesh_fault(path, "", "the file name is not UTF-8", "rename the file with plain letters")
    if len(name) > _LONGEST_NAME_BYTES:
        wrong = f"the file name has {len(name)} bytes"
        raise mesh_fault(path, "", wrong, f"rename the file, with at most {_LONGEST_NAME_BYTES} bytes")


def _read(
    path: Path, is_whole_figure: bool, unit_mm: float | None, tolerances: Tolerances
) -> tuple[list[IntakeBody], list[Finding]]:
    """The bodies of one file, mended, with what is to be said about them."""
    bodies: list[IntakeBody] = []
    findings: list[Finding] = []
    read = read_bodies(path, is_whole_figure=is_whole_figure)
    for body in read:
        taken, about = _take(path, body, len(read) > 1, unit_mm, tolerances)
        bodies.append(taken)
        findings.extend(about)
    return bodies, findings


def _take(
    path: Path, body: Body, is_one_of_many: bool, unit_mm: float | None, tolerances: Tolerances
) -> tuple[IntakeBody, list[Finding]]:
    name = f"{body.file}#{body.index}" if is_one_of_many else body.file
    stated = body.unit_mm if body.unit_mm is not None else unit_mm
    scale = stated if stated is not None else 1.0
    mesh = body.mesh if scale == 1.0 else Mesh(vertices=body.mesh.vertices * scale, faces=body.mesh.faces)
    healed = heal(mesh, tolerances)
    mark = fingerprint(healed.mesh) if len(healed.mesh.faces) else None
    if mark is None or mark.area_mm2 <= _NO_AREA * math.dist(*mark.box_mm) ** 2:
        wrong = "its faces have no area, or cancel each other"
        raise mesh_fault(path, f"body {body.index}" if is_one_of_many else "", wrong, "export the part again")
    taken = IntakeBody(
        file=name,
        mesh=healed.mesh,
        triangles=body.triangles,
        is_watertight=healed.is_watertight,
        notes=healed.notes,
        welded=body.welded,
        fingerprint=mark,
        unit_mm=scale,
        unit_origin=Origin.ASSUMED if stated is None else Origin.STATED,
    )
    return taken, _healing_findings(name, healed)


def _healing_findings(name: str, healed: Healed) -> list[Finding]:
    found = []
    if healed.notes:
        message = say("finding.mesh-mended", part=name, notes=also(healed.notes))
        found.append(Finding(level=Level.NOTE, code="mesh-mended", about=(name,), message=message))
    if healed.open_place_mm is not None:
        place = ", ".join(f"{value:.0f}" for value in healed.open_place_mm)
        message = say("finding.not-watertight", part=name, open_edges=healed.open_edges, place=place)
        remedy = say("remedy.not-watertight")
        found.append(Finding(level=Level.WARN, code="not-watertight", about=(name,), message=message, remedy=remedy))
    solids = _flush_solids(healed)
    if solids > 1:
        message = say("finding.flush-solids", file=name, solids=solids)
        remedy = say("remedy.flush-solids")
        found.append(Finding(level=Level.NOTE, code="flush-solids", about=(name,), message=message, remedy=remedy))
    return found


def _flush_solids(healed: Healed) -> int:
    """How many solids of a closed part share edges; 1 where none do or their edges do not tell."""
    mesh = healed.mesh
    if not healed.is_watertight or healed.is_simple or not has_crowded_edges(mesh.faces, len(mesh.vertices)):
        return 1
    solid = solids_of_faces(mesh.vertices, mesh.faces)
    return 1 if solid is None else int(solid.max()) + 1


def make_parts(intake: Intake, ids: Mapping[str, PartId], settings: Settings) -> tuple[Part, ...]:
    """The bodies as parts, in the natural order of their ids.

    Parameters
    ----------
    intake
        From `read_parts`.
    ids
        Id of each body, by its `file`.
    settings
        Material and density of each part.

    Raises
    ------
    KeyError
        If a body has no id, or figure.toml names a material that it does not define.
    """
    parts = [_part(body, ids[body.file], settings) for body in intake.bodies]
    return tuple(sorted(parts, key=lambda part: natural_key(part.id)))


def _part(body: IntakeBody, part_id: PartId, settings: Settings) -> Part:
    material = settings.material_of(part_id)
    rule = settings.parts.get(part_id)
    is_printed = rule.is_printed if rule and rule.is_printed is not None else part_id != settings.base.part
    print_ = body.fingerprint
    return Part(
        id=part_id,
        file=body.file,
        material=material.name,
        is_printed=is_printed,
        mass_kg=abs(print_.volume_mm3) * 1e-9 * material.density_kg_m3,
        volume_mm3=abs(print_.volume_mm3),
        area_mm2=print_.area_mm2,
        centre_mm=print_.centre_mm,
        triangles=body.triangles,
        is_watertight=body.is_watertight,
        fingerprint=print_,
    )
