"""Where everything lies in a project folder."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from assembler.errors import Fault, ProjectFileError

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
        return self.root / "parts"

    @property
    def kept_meshes(self) -> Path:
        """Meshes as of the last run; the program's own, may be deleted."""
        return self.root / "kept-meshes"

    @property
    def books(self) -> Path:
        """Drafts and issued books."""
        return self.root / "books"

    @property
    def cache(self) -> Path:
        """What can be made again; the program's own, may be deleted at any time."""
        return self.root / ".cache"

    @property
    def templates(self) -> Path:
        """Where the shop's own page templates may lie."""
        return self.root / "templates"

    @property
    def overrides(self) -> Path | None:
        """The shop's own page templates; None where there are none."""
        return self.templates if self.templates.is_dir() else None


def part_files(folder: Path) -> tuple[Path, ...]:
    """Files in a folder that can hold parts, by name."""
    return tuple(sorted(path for path in folder.iterdir() if path.is_file() and path.suffix.lower() in PART_SUFFIXES))


def take_in_parts(source: Path, project: ProjectFolder) -> None:
    """Copy the part files into the project; files that are no longer there step aside, none is deleted.

    Parameters
    ----------
    source
        Folder with the shop's exports; may be the project's own parts folder.
    project
        Where they go.

    Raises
    ------
    ProjectFileError
        If the source is no folder, or holds no part files.
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
    project.parts.mkdir(parents=True, exist_ok=True)
    wanted = {path.name for path in files}
    for old in part_files(project.parts):
        if old.name not in wanted:
            aside = project.root / "parts-set-aside"
            aside.mkdir(exist_ok=True)
            old.replace(aside / old.name)
    for path in files:
        target = project.parts / path.name
        if not target.exists() or not _is_same_file(path, target):
            scratch = target.with_name(f".{path.name}.new")
            shutil.copyfile(path, scratch)
            scratch.replace(target)


def _is_same_file(first: Path, second: Path) -> bool:
    return first.stat().st_size == second.stat().st_size and first.read_bytes() == second.read_bytes()
