"""What is known of a project once its parts are read, before they are surveyed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part
from assembler.figure.settings import Settings
from assembler.projectfiles.folder import ProjectFolder


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsRead:
    """A project without joints.

    Parameters
    ----------
    folder
        Where it lies.
    settings, parts, meshes
        Up to date with each other; `parts` in the order of their ids.
    """

    folder: ProjectFolder
    settings: Settings
    parts: tuple[Part, ...]
    meshes: Mapping[PartId, Mesh]
