"""The process may die at any moment: the issued book and the project files stay whole, and the next run succeeds.

Drawing and typesetting are left out: they write into a scratch folder only, which tests/projectfiles/ kills too.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

from assembler import pipeline, project, publication
from assembler.drawing.pictures import Drawn
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Part
from assembler.projectfiles.bookfolder import is_complete_book, issued_books
from assembler.projectfiles.figurefile import read_settings
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.idledger import read_ledger
from assembler.projectfiles.jointstext import read_surveyed
from assembler.projectfiles.toml import read_plain
from assembler.publishing import book as bookmodule
from assembler.publishing.book import BookFiles, Document
from assembler.publishing.source import Earlier, Source
from tests.pipeline.test_recut_trip import _export, _half_rings
from tests.pipeline.tower import tower_parts, write_tower

KILLS = 50
EVENTS = ("open", "os.rename", "os.mkdir", "os.chmod", "os.remove", "os.rmdir", "os.listdir", "os.scandir", "os.utime")


def _quiet(_: str) -> None:
    return


def _remembering(work: Callable[..., Any]) -> Callable[..., Any]:
    """Work on solids that touches no file: done once for each figure, by the parent, and inherited by its children."""
    known: dict[str, Any] = {}

    def remembered(*given: Any, **named: Any) -> Any:
        key = json.dumps([_told(value) for value in (*given, *named.values())], sort_keys=True)
        if key not in known:
            known[key] = work(*given, **named)
        return known[key]

    return remembered


def _told(value: Any) -> Any:
    """What tells one figure from another in an argument: its meshes, or its parts."""
    if isinstance(value, Mapping) and all(isinstance(one, Mesh) for one in value.values()):
        return {str(name): mesh_digest(one) for name, one in value.items()}
    if isinstance(value, Sequence) and all(isinstance(one, Part) for one in value):
        return [(part.id, part.file) for part in value]
    return None


@pytest.fixture(autouse=True)
def _nothing_is_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    def undrawn(plan: Any, *_: object, **__: object) -> Drawn:
        return Drawn(plan=plan, cover=None, overview=None, steps={}, thumbnails={}, sections={}, keys={})

    def unset(source: Source, out_dir: Path, *, earlier: Earlier, **_: object) -> BookFiles:
        pdf = out_dir / "crew-book.pdf"
        pdf.write_bytes(b"book")
        bookmodule.write_besides(source, out_dir, earlier)
        return BookFiles(documents={"crew": Document(pdf=pdf, pages=1)})

    for module, name in (
        (pipeline, "plan_build"),
        (pipeline, "final_exposure"),
        (project, "survey_joints"),
        (project, "check_parts"),
        (project, "self_crossings"),
    ):
        monkeypatch.setattr(module, name, _remembering(getattr(module, name)))
    monkeypatch.setattr(pipeline, "draw_book", undrawn)
    monkeypatch.setattr(publication, "write_book", unset)
    monkeypatch.setattr(bookmodule, "write_change_sheet", lambda *_, **__: None)
    monkeypatch.setattr(publication, "write_contact_sheet", lambda **_: None)


def _in_child(work: Callable[[], object]) -> int:
    """Exit code of a piece of work in a process of its own: 0 when it came to its end."""
    child = os.fork()
    if child == 0:
        try:
            work()
        except BaseException:  # noqa: BLE001  whatever it was, the child must not go on with the tests
            os._exit(70)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def _die_at(count: int) -> None:
    """Have this process die, without any tidying up, at its n-th dealing with the file system."""
    left = count

    def hook(event: str, _: tuple[object, ...]) -> None:
        nonlocal left
        if event in EVENTS:
            left -= 1
            if left < 0:
                os._exit(99)

    sys.addaudithook(hook)


def _counted(work: Callable[[], object], to: Path) -> None:
    """Write down how often a piece of work deals with the file system."""
    seen = 0

    def hook(event: str, _: tuple[object, ...]) -> None:
        nonlocal seen
        seen += event in EVENTS

    sys.addaudithook(hook)
    work()
    to.write_text(str(seen))


def _exports(folder: Path) -> tuple[Path, Path]:
    """The tower as it was, and with a ring cut in two."""
    write_tower(folder / "whole")
    (folder / "cut").mkdir()
    for name, solid in {**tower_parts(), **_half_rings()}.items():
        if name != "ring lower.stl":
            _export(folder / "cut" / name, solid)
    return folder / "whole", folder / "cut"


def _work(parts: Path, root: Path) -> None:
    pipeline.survey_project(parts, root, unit=None, progress=_quiet)
    pipeline.write_project_book(root, out=None, is_issue=False, progress=_quiet)


def test_killed_at_fifty_random_points_the_project_stays_whole_and_the_next_run_succeeds(tmp_path: Path) -> None:
    exports = _exports(tmp_path)
    root = tmp_path / "project"
    pipeline.survey_project(exports[0], root, unit=None, progress=_quiet)
    pipeline.write_project_book(root, out=None, is_issue=True, progress=_quiet)
    folder = ProjectFolder(root)
    issued = {path.name: path.read_bytes() for path in (folder.books / "A").iterdir()}
    # Planned here once, so that the children, who inherit it, need not.
    probe = Path(shutil.copytree(root, tmp_path / "probe"))
    _work(exports[1], probe)

    def draft(place: Path = root) -> None:
        pipeline.write_project_book(place, out=None, is_issue=False, progress=_quiet)

    def whole(turn: int, place: Path = root) -> None:
        _work(exports[(turn // 5 + 1) % 2], place)

    most = {}
    for name, trial in (("book", lambda: draft(probe)), ("whole", lambda: whole(0, probe))):
        assert _in_child(lambda trial=trial: _counted(trial, tmp_path / "count")) == 0
        most[name] = int((tmp_path / "count").read_text())
    rng = random.Random(20310504)
    killed = 0
    for turn in range(KILLS):

        def work(turn: int = turn) -> None:
            _die_at(rng.randrange(most["book" if turn % 5 else "whole"]))
            if turn % 5:
                draft()
            else:
                whole(turn)

        # A child draws from its own copy: drawn here as well, or all would die at the same place.
        code = _in_child(work)
        rng.randrange(2)
        assert code in (0, 99)
        killed += code == 99
        assert {path.name: path.read_bytes() for path in (folder.books / "A").iterdir()} == issued
        assert [book.revision for book in issued_books(folder)] == ["A"]
        assert not (folder.books / "draft").exists() or is_complete_book(folder.books / "draft")
        read_settings(folder.figure)
        read_ledger(folder.ids)
        read_plain(folder.joints)
        read_surveyed(folder.surveyed)
    assert killed > KILLS / 2
    _work(exports[1], root)
    assert is_complete_book(folder.books / "draft")
    # What the killed runs left behind is gone.
    assert sorted(path.name for path in folder.books.iterdir()) == ["A", "draft"]
