"""Where everything lies in a project folder, and how part files come into it.

A folder of the project that is a link out of it is refused wherever it is asked for: nothing is read, written, deleted
there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote

from assembler.errors import Fault, ProjectFileError
from assembler.filegate import MESH_BYTES, checked_file, checked_place, read_json
from assembler.projectfiles.writing import copy_whole

PART_SUFFIXES = (".stl", ".obj", ".ply", ".3mf", ".glb", ".gltf", ".off", ".step", ".stp")


@dataclass(frozen=True, slots=True)
class ProjectFolder:
    """A project folder.

    Parameters
    ----------
    root
        The folder itself.
    """

    root: Path

    @property
    def figure(self) -> Path:
        """What the shop decides."""
        return self.root / "figure.toml"

    @property
    def joints(self) -> Path:
        """What joins what."""
        return self.root / "joints.toml"

    @property
    def ids(self) -> Path:
        """Numbers given out."""
        return self.root / "ids.toml"

    @property
    def surveyed(self) -> Path:
        """What the last survey said; the program's own."""
        return self.root / "surveyed.json"

    @property
    def built(self) -> Path:
        """As-built log."""
        return self.root / "built.toml"

    @property
    def parts(self) -> Path:
        """Meshes."""
        return self._inside("parts")

    @property
    def kept_meshes(self) -> Path:
        """Meshes as of the last run; the program's own, may be deleted."""
        return self._inside("kept-meshes")

    @property
    def books(self) -> Path:
        """Drafts and issued books."""
        return self._inside("books")

    @property
    def cache(self) -> Path:
        """What can be made again; the program's own, may be deleted at any time."""
        return self._inside(".cache")

    @property
    def kept(self) -> Path:
        """The file of `cache`."""
        return self.cache / "kept.sqlite"

    @property
    def templates(self) -> Path:
        """Where the shop's own page templates may lie."""
        return self._inside("templates")

    @property
    def set_aside(self) -> Path:
        """Part files that others have replaced."""
        return self._inside("parts-set-aside")

    @property
    def shown(self) -> Path:
        """Pictures that somebody asked for; may be deleted."""
        return self._inside("shown")

    def _inside(self, name: str) -> Path:
        return checked_place(self.root / name, root=self.root, error=ProjectFileError)

    @property
    def overrides(self) -> Path | None:
        """The shop's own page templates; None where there are none."""
        return self.templates if self.templates.is_dir() else None


def part_files(folder: Path) -> tuple[Path, ...]:
    """Files in a folder that can hold parts, by name; hidden ones are no parts."""
    found = (path for path in folder.iterdir() if path.suffix.lower() in PART_SUFFIXES and path.is_file())
    return tuple(sorted(path for path in found if not path.name.startswith(".")))


def take_in_parts(source: Path, project: ProjectFolder) -> None:
    """Copy the part files into the project; files that are gone or replaced step aside, none is deleted.

    Parameters
    ----------
    source
        Folder with the shop's exports; may be the project's own parts folder.
    project
        Where they go.

    Raises
    ------
    ProjectFileError
        If the source is no folder, or holds no part files, or one that must not be read.
    """
    if not source.is_dir():
        raise ProjectFileError(
            Fault(file=str(source), place="", wrong="there is no such folder", right="name the folder of part files")
        )
    files = part_files(source)
    if not files:
        raise ProjectFileError(
            Fault(
                file=str(source),
                place="",
                wrong="no part files in it",
                right="put the parts there as " + ", ".join(suffix[1:].upper() for suffix in PART_SUFFIXES),
            )
        )
    if source.resolve() == project.parts.resolve():
        return
    wanted = sorted({*files, *(path for file in files for path in _belongings(file, source))})
    targets = {project.parts / path.relative_to(source): path for path in wanted}
    for target, path in targets.items():
        checked_file(path, root=source, most_bytes=MESH_BYTES, error=ProjectFileError)
        checked_place(target, root=project.root, error=ProjectFileError)
    project.parts.mkdir(parents=True, exist_ok=True)
    for old in part_files(project.parts):
        if old not in targets:
            _set_aside(old, project)
    for target, path in targets.items():
        if not target.exists() or not _is_same_file(path, target):
            _set_aside(target, project)
            target.parent.mkdir(parents=True, exist_ok=True)
            copy_whole(path, target)


def _belongings(file: Path, source: Path) -> Iterator[Path]:
    """Files that a glTF reads its numbers from; those that are no plain names inside the folder are the reader's."""
    if file.suffix.lower() != ".gltf":
        return
    record = read_json(file, root=source, error=ProjectFileError)
    buffers = record.get("buffers", []) if isinstance(record, dict) else []
    for buffer in buffers if isinstance(buffers, list) else []:
        uri = buffer.get("uri") if isinstance(buffer, dict) else None
        if isinstance(uri, str) and not uri.startswith("data:"):
            yield checked_place(source / unquote(uri), root=source, error=ProjectFileError)


def _set_aside(old: Path, project: ProjectFolder) -> None:
    """Move a file out of the way, under a name that no earlier one has."""
    if not old.exists() and not old.is_symlink():
        return
    project.set_aside.mkdir(exist_ok=True)
    place, number = project.set_aside / old.name, 1
    while place.exists() or place.is_symlink():
        number += 1
        place = project.set_aside / f"{old.stem} ({number}){old.suffix}"
    old.rename(place)


def _is_same_file(first: Path, second: Path) -> bool:
    return first.stat().st_size == second.stat().st_size and first.read_bytes() == second.read_bytes()
