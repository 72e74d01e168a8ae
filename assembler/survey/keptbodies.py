"""Bodies that an earlier run read from the same file: records to arrays and JSON, and back."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from assembler.errors import MeshFileError
from assembler.figure.findings import Finding
from assembler.figure.joints import Origin
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint
from assembler.figure.records import read_as
from assembler.figure.tolerances import Tolerances
from assembler.filegate import MESH_BYTES, read_file
from assembler.geometry.stepfiles import STEP_SUFFIXES
from assembler.projectfiles.keptarrays import KeptArrays
from assembler.survey.intakebody import IntakeBody

Taken = tuple[list[IntakeBody], list[Finding]]

_NOT_BY_BYTES = STEP_SUFFIXES
"""Endings of files whose bytes alone do not say what is read: an optional library, whose version no mark of the code
can hold, makes the triangles."""


def body_key(
    path: Path, kept: KeptArrays, *, is_whole_figure: bool, unit_mm: float | None, tolerances: Tolerances
) -> str | None:
    """Key over all that the bodies of a file depend on; None where that cannot be told from the file alone."""
    if path.suffix.lower() in _NOT_BY_BYTES:
        return None
    try:
        data = read_file(path, root=path.parent, most_bytes=MESH_BYTES, error=MeshFileError)
    except (FileNotFoundError, MeshFileError):
        # The reader says what is wrong with it.
        return None
    content = hashlib.sha256(data).hexdigest()
    return kept.key("bodies", path.name, content, is_whole_figure, unit_mm, asdict(tolerances))


def kept_bodies(key: str, kept: KeptArrays) -> Taken | None:
    """What was read from a file before, with its findings; None if it is not there."""
    found = kept.get(key)
    if found is None:
        return None
    bodies = [
        _body(record, Mesh(vertices=found.arrays[f"vertices{number}"], faces=found.arrays[f"faces{number}"]))
        for number, record in enumerate(found.value["bodies"])
    ]
    return bodies, [read_as(Finding, record) for record in found.value["findings"]]


def keep_bodies(key: str, kept: KeptArrays, bodies: Sequence[IntakeBody], findings: Sequence[Finding]) -> None:
    """Keep what was read from a file."""
    arrays = {}
    for number, body in enumerate(bodies):
        arrays[f"vertices{number}"] = body.mesh.vertices
        arrays[f"faces{number}"] = body.mesh.faces.astype(np.int32)
    value = {"bodies": [_record(body) for body in bodies], "findings": [asdict(finding) for finding in findings]}
    kept.put(key, arrays, value)


def _record(body: IntakeBody) -> dict[str, Any]:
    return {
        "file": body.file,
        "triangles": body.triangles,
        "is_watertight": body.is_watertight,
        "notes": body.notes,
        "fingerprint": asdict(body.fingerprint),
        "unit_mm": body.unit_mm,
        "unit_origin": body.unit_origin,
    }


def _body(record: dict[str, Any], mesh: Mesh) -> IntakeBody:
    return IntakeBody(
        file=record["file"],
        mesh=mesh,
        triangles=record["triangles"],
        is_watertight=record["is_watertight"],
        notes=tuple(record["notes"]),
        fingerprint=read_as(Fingerprint, record["fingerprint"]),
        unit_mm=record["unit_mm"],
        unit_origin=Origin(record["unit_origin"]),
    )
