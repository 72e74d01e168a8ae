"""Files of a project and of a parts folder: what is damaged, hostile or out of reach is one line; nothing is lost."""

from __future__ import annotations

import ast
import contextlib
import errno
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from assembler import cli, pipeline
from assembler import project as project_module
from assembler.cache import Answers, Cache
from assembler.errors import Fault, InputError, ProjectFileError
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.geometry.fingerprints import fingerprint
from assembler.projectfiles.builtlog import read_built
from assembler.projectfiles.figurefile import read_settings
from assembler.projectfiles.folder import ProjectFolder, take_in_parts
from assembler.projectfiles.idledger import read_ledger
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.jointedit import write_joints
from assembler.projectfiles.jointsfile import read_joints
from assembler.projectfiles.jointstext import read_surveyed
from assembler.projectfiles.keptmeshes import keep_meshes, kept_meshes
from assembler.projectfiles.planfile import read_plan
from assembler.projectfiles.writing import copy_whole, own_mark, write_whole
from tests.hostile import smallfigure
from tests.hostile.projects import PLAN, project
from tests.pipeline.tower import write_tower

ROOT = Path(__file__).resolve().parents[2]
PARTS = tuple(part.id for part in PLAN.parts)


def _joints(path: Path) -> object:
    return read_joints(path, PARTS)


READERS: dict[str, Callable[[Path], object]] = {
    "figure.toml": read_settings,
    "joints.toml": _joints,
    "ids.toml": read_ledger,
    "built.toml": read_built,
    "surveyed.json": read_surveyed,
    "plan.json": read_plan,
}
LIES: dict[str, Callable[[Path], object]] = {
    "pipe": os.mkfifo,
    "folder": lambda path: path.mkdir(),
    "endless": lambda path: path.symlink_to("/dev/zero"),
    "outside": lambda path: path.symlink_to("/etc/passwd"),
    "circle": lambda path: path.symlink_to(path),
    "leads nowhere": lambda path: path.symlink_to("nowhere"),
    "deep": lambda path: path.write_text("x = " + "[" * 100_000 if path.suffix == ".toml" else "[" * 100_000),
    "deep tables": lambda path: path.write_text("[" + ".".join("a" * 50_000) + "]"),
    "long number": lambda path: path.write_text("x = " + "9" * 5000),
    "latin-1": lambda path: path.write_bytes("name = 'M\xfcller'".encode("latin-1")),
    "junk": lambda path: path.write_bytes(bytes(range(256))),
    "NUL": lambda path: path.write_bytes(b"a\0b"),
}


@pytest.mark.parametrize("name", list(READERS))
@pytest.mark.parametrize("lie", list(LIES))
def test_what_is_no_file_of_this_program_is_one_line(tmp_path: Path, name: str, lie: str) -> None:
    (tmp_path / "tower").mkdir()
    LIES[lie](tmp_path / "tower" / name)
    with pytest.raises(InputError) as caught:
        READERS[name](tmp_path / "tower" / name)
    assert name in str(caught.value)
    assert len(str(caught.value).splitlines()) == len(caught.value.faults)
    assert all(len(str(fault)) < 2500 for fault in caught.value.faults)


def _refused_figure(tmp_path: Path, old: str, new: str) -> str:
    folder = project(tmp_path)
    text = folder.figure.read_text(encoding="utf-8")
    assert old in text
    folder.figure.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ProjectFileError) as caught:
        read_settings(folder.figure)
    return str(caught.value)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("up", "[1e300, 1e300, 1e300]"),
        ("moved_mm", "[1e300, 0, 0]"),
        ("up", "[inf, 0, 0]"),
        ("logo", '"a\\u0000b"'),
        ("logo", '"../outside.svg"'),
        ("logo", '"/etc/passwd"'),
        ("logo", '"pipe"'),
        ("logo", '"parts"'),
        ("logo", '"short.png"'),
        ("logo", '"odd.svg"'),
        ("reach_mm", "1e300"),
        ("hand_opening_mm", "1e300"),
        ("full_cure_min", "1e9"),
        ("first_day", '"9999-12-28"'),
        ("first_day", '"0001-01-01"'),
    ],
)
def test_values_out_of_all_proportion_are_named(tmp_path: Path, key: str, value: str) -> None:
    root = tmp_path / "tower"
    folder = project(root)
    (tmp_path / "outside.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"/>')
    (root / "short.png").write_bytes(b"\x89PNG\r\n\x1a\nIEND")
    (root / "odd.svg").write_text('<?xml version="1.0" encoding="nobody-knows"?><svg/>')
    (root / "parts").mkdir()
    os.mkfifo(root / "pipe")
    lines = folder.figure.read_text(encoding="utf-8").splitlines()
    tables = {
        "logo": "[shop]",
        "reach_mm": "[crew]",
        "hand_opening_mm": "[crew]",
        "full_cure_min": "[adhesive]",
        "first_day": "[calendar]",
    }
    kept = [line for line in lines if not line.startswith(f"{key} ")]
    kept.insert(kept.index(tables.get(key, "[figure]")) + 1, f"{key} = {value}")
    folder.figure.write_text("\n".join(kept), encoding="utf-8")
    with pytest.raises(ProjectFileError, match=key):
        read_settings(folder.figure)


def test_a_byte_order_mark_and_windows_lines_are_read(tmp_path: Path) -> None:
    folder = project(tmp_path)
    text = folder.figure.read_text(encoding="utf-8")
    folder.figure.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert read_settings(folder.figure).name == "tower"
    write_joints(folder.joints, PLAN.joints)
    plain = folder.joints.read_text(encoding="utf-8").replace("\n", "\r\n") + "# mine\r\n"
    folder.joints.write_bytes(b"\xef\xbb\xbf" + plain.encode())
    assert [joint.id for joint in read_joints(folder.joints, PARTS)] == [joint.id for joint in PLAN.joints]
    write_joints(folder.joints, PLAN.joints[:-1])
    assert folder.joints.read_bytes().count(b"\r\n") == folder.joints.read_bytes().count(b"\n")


BAD_IDS = ("../../../WRITTEN", "a b/c", "A\0", "x" * 5000, "=1+1", "<script>", "", "J01/x", "J01\n")


@pytest.mark.parametrize("bad", BAD_IDS)
def test_ids_that_could_be_paths_or_formulas_are_refused(tmp_path: Path, bad: str) -> None:
    folder = project(tmp_path)
    write_joints(folder.joints, PLAN.joints)
    text = folder.joints.read_text(encoding="utf-8")
    quoted = json.dumps(bad)
    built = f'[[built]]\nstep = {quoted}\nbook = "A"\nat = 2025-05-05T08:00:00\ntemperature_c = 1\n'
    for path, content, read in (
        (folder.joints, text.replace('"J01"', quoted), _joints),
        (folder.joints, text.replace('"J01.1"', quoted), _joints),
        (folder.ids, f'[[joint]]\nid = {quoted}\nparts = ["P01", "P02"]\nbolts_issued = 0\n', read_ledger),
        (folder.built, built, read_built),
    ):
        path.write_text(content, encoding="utf-8")
        with pytest.raises(ProjectFileError, match="id|step"):
            read(path)


def test_a_plan_with_a_step_number_that_could_be_a_path_is_refused(tmp_path: Path) -> None:
    folder = project(tmp_path, "A")
    record = json.loads((folder.books / "A" / "plan.json").read_text())
    for change in ("steps", "parts", "joints"):
        forged = json.loads(json.dumps(record))
        forged[change][0]["number" if change == "steps" else "id"] = "../../x"
        (tmp_path / "plan.json").write_text(json.dumps(forged))
        with pytest.raises(InputError, match=change):
            read_plan(tmp_path / "plan.json")


def test_logo_and_templates_outside_are_no_input_of_a_book(tmp_path: Path) -> None:
    folder = project(tmp_path / "tower")
    (tmp_path / "secret").write_text("x")
    folder.templates.mkdir()
    (folder.root / "templates" / "step.html").symlink_to(tmp_path / "secret")
    with pytest.raises(ProjectFileError, match="leads out of"):
        input_digest(folder)


# Parts


def _stl(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def test_a_link_in_the_parts_folder_of_a_project_leads_nothing_out(tmp_path: Path) -> None:
    folder = ProjectFolder(tmp_path / "tower")
    _stl(tmp_path / "new" / "c.stl", b"new")
    folder.parts.mkdir(parents=True)
    (folder.parts / "c.stl").symlink_to(tmp_path / "WRITTEN")
    with pytest.raises(ProjectFileError, match="leads out of"):
        take_in_parts(tmp_path / "new", folder)
    (folder.parts / "c.stl").unlink()
    # A name that an earlier version would have used as scratch.
    (folder.parts / ".c.stl.new").symlink_to(tmp_path / "WRITTEN")
    take_in_parts(tmp_path / "new", folder)
    assert (folder.parts / "c.stl").read_bytes() == b"new"
    assert not (tmp_path / "WRITTEN").exists()


def test_a_replaced_part_is_set_aside_and_never_over_an_older_one(tmp_path: Path) -> None:
    folder = ProjectFolder(tmp_path / "tower")
    for number in range(4):
        _stl(tmp_path / str(number) / "c.stl", b"cut %d" % number)
        take_in_parts(tmp_path / str(number), folder)
    take_in_parts(tmp_path / "3", folder)
    assert (folder.parts / "c.stl").read_bytes() == b"cut 3"
    _stl(tmp_path / "other" / "d.stl", b"d")
    take_in_parts(tmp_path / "other", folder)
    assert sorted(path.read_bytes() for path in folder.set_aside.iterdir()) == [b"cut %d" % n for n in range(4)]


def test_a_gltf_comes_with_the_files_it_reads(tmp_path: Path) -> None:
    folder = ProjectFolder(tmp_path / "tower")
    source = tmp_path / "new"
    _stl(source / "buffers" / "c 1.bin", b"numbers")
    (source / "c.gltf").write_text(json.dumps({"buffers": [{"uri": "buffers/c%201.bin"}, {"uri": "data:,"}, {}, 3]}))
    take_in_parts(source, folder)
    assert (folder.parts / "buffers" / "c 1.bin").read_bytes() == b"numbers"


@pytest.mark.parametrize("uri", ["../secret.bin", "/etc/passwd", "link.bin", "a\0b"])
def test_a_gltf_takes_nothing_from_elsewhere(tmp_path: Path, uri: str) -> None:
    folder, source = ProjectFolder(tmp_path / "tower"), tmp_path / "new"
    (tmp_path / "secret.bin").write_bytes(b"secret")
    source.mkdir()
    (source / "link.bin").symlink_to(tmp_path / "secret.bin")
    (source / "c.gltf").write_text(json.dumps({"buffers": [{"uri": uri}]}))
    with pytest.raises(ProjectFileError):
        take_in_parts(source, folder)
    assert not folder.root.exists()


def test_a_name_of_255_bytes_is_a_name(tmp_path: Path) -> None:
    folder = ProjectFolder(tmp_path / "tower")
    name = "n" * 251 + ".stl"
    _stl(tmp_path / "new" / name, b"x")
    take_in_parts(tmp_path / "new", folder)
    write_whole(tmp_path / ("n" * 255), "x")
    assert (folder.parts / name).exists()


def test_nothing_is_written_before_all_is_read_and_judged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object, **__: object) -> None:
        raise InputError(Fault(file="", place="", wrong="too large", right=""))

    monkeypatch.setattr(project_module, "survey_joints", fails)
    with pytest.raises(InputError, match="too large"):
        pipeline.open_project(tmp_path / "tower", lambda _: None, parts_from=write_tower(tmp_path / "parts"), unit="m")
    assert not (tmp_path / "tower").exists()


def test_another_unit_than_the_one_in_figure_toml_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = project(tmp_path / "tower")
    before = folder.figure.read_bytes()
    assert cli.main(["survey", str(write_tower(tmp_path / "parts")), str(folder.root), "--unit", "m"]) == 2
    assert 'got --unit m, but the project has figure.unit = "mm"' in capsys.readouterr().err
    assert folder.figure.read_bytes() == before
    assert not folder.parts.exists()


# What the program keeps for itself


def test_a_damaged_cache_counts_as_none(tmp_path: Path) -> None:
    for lie in LIES.values():
        place = tmp_path / "kept.sqlite"
        lie(place)
        kept = Cache(place)
        assert kept.value("x") is None
        assert kept.arrays("x") is None
        kept.keep("x", 1)
        kept.save()
        if place.is_dir() and not place.is_symlink():
            place.rmdir()
        else:
            place.unlink()


@pytest.mark.parametrize("value", ["[" * 100_000, "{", "1", '{"pages": "x"}', "\x00"])
def test_a_forged_entry_of_the_cache_is_none_or_its_value(tmp_path: Path, value: str) -> None:
    place = tmp_path / "kept.sqlite"
    kept = Cache(place)
    kept.keep("x", 1)
    kept.save()
    with contextlib.closing(sqlite3.connect(place)) as forged, forged:
        forged.execute("update entries set value = ?, arrays = ?", (value, b"junk"))
    assert Cache(place).value("x") is None
    assert Cache(place).files("x", tmp_path) is None
    assert not Answers(Cache(place)).has("x")


def test_a_forged_entry_of_the_cache_writes_nowhere_else(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    kept = Cache(tmp_path / "kept.sqlite")
    kept.keep_arrays("x", {"../evil": np.frombuffer(b"evil", np.uint8)}, 1)
    assert kept.files("x", tmp_path / "out") == 1
    assert [path.name for path in tmp_path.rglob("evil")] == ["evil"]
    assert (tmp_path / "out" / "evil").exists()


def test_a_cache_that_leads_elsewhere_writes_nothing_there(tmp_path: Path) -> None:
    (tmp_path / "theirs").write_bytes(b"theirs")
    (tmp_path / "kept.sqlite").symlink_to(tmp_path / "theirs")
    kept = Cache(tmp_path / "kept.sqlite")
    kept.keep("x", 1)
    kept.save()
    assert (tmp_path / "theirs").read_bytes() == b"theirs"
    assert (tmp_path / "kept.sqlite").is_symlink()


def _cube() -> Mesh:
    corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=np.float64)
    return Mesh(vertices=corners, faces=np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]))


def test_a_part_that_lies_there_twice_is_a_finding_and_no_project_that_cannot_be_read(tmp_path: Path) -> None:
    parts = smallfigure.write_parts(tmp_path / "parts")
    (parts / "Copy of A.stl").write_bytes((parts / "A.stl").read_bytes())
    made = project_module.open_project(tmp_path / "tower", lambda _: None, parts_from=parts, is_quick=True)
    assert "duplicate-part" in {finding.code for finding in made.findings}
    assert len(project_module.open_project(tmp_path / "tower", lambda _: None).joints) == 2


@pytest.mark.parametrize("kind", ["complex128", "bool", "S4"])
@pytest.mark.parametrize("name", ["vertices", "faces"])
def test_a_kept_mesh_of_other_numbers_is_none(tmp_path: Path, name: str, kind: str) -> None:
    mesh = _cube()
    arrays = {"vertices": mesh.vertices, "faces": mesh.faces}
    np.savez(tmp_path / "P01.npz", **{**arrays, name: arrays[name].astype(kind)})  # type: ignore[arg-type]
    assert kept_meshes(tmp_path, {PartId("P01"): mesh}, {PartId("P01"): fingerprint(mesh)}, lambda *_: False) == {
        PartId("P01"): mesh
    }


def test_kept_meshes_that_are_none_are_read_as_none_and_stay(tmp_path: Path) -> None:
    part, mesh = PartId("P01"), _cube()
    for lie in LIES.values():
        lie(tmp_path / "P01.npz")
        assert kept_meshes(tmp_path, {part: mesh}, {part: fingerprint(mesh)}, lambda *_: True)[part] is mesh
        place = tmp_path / "P01.npz"
        place.rmdir() if place.is_dir() and not place.is_symlink() else place.unlink()
    (tmp_path / "mine.npz").write_bytes(b"mine")
    (tmp_path / "P07.npz").write_bytes(b"mine as well")
    keep_meshes(tmp_path, {PartId("P02"): mesh})
    keep_meshes(tmp_path, {part: mesh})
    assert sorted(path.name for path in tmp_path.iterdir()) == ["P01.npz", "P07.npz", "mine.npz"]


@pytest.mark.parametrize("code", [errno.EROFS, errno.EACCES, errno.EPERM])
def test_a_project_that_may_only_be_read_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    kept = Cache(tmp_path / "cache" / "kept.sqlite")
    kept.keep("x", 1)
    kept.save()
    kept.keep("y", 2)
    part, mesh = PartId("P01"), _cube()

    def refuse(*given: object, **_: object) -> None:
        raise OSError(code, os.strerror(code), str(tmp_path))

    for name in ("mkdtemp", "mkstemp"):
        monkeypatch.setattr(f"tempfile.{name}", refuse)
    monkeypatch.setattr(Path, "mkdir", refuse)
    kept.save()
    keep_meshes(tmp_path, {part: mesh})
    assert Cache(tmp_path / "cache" / "kept.sqlite").value("x") == 1
    with pytest.raises(OSError, match=os.strerror(code)):
        write_whole(tmp_path / "figure.toml", "")


# Writers


def test_what_is_written_follows_no_link_and_sweeps_what_killed_runs_left(tmp_path: Path) -> None:
    machine = own_mark().partition("-")[0]
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    (tmp_path / f".{machine}-{dead.pid}.abcdefgh.new").write_text("half")
    (tmp_path / f".{own_mark()}.abcdefgh.new").write_text("at work")
    (tmp_path / ".notes.new").write_text("mine")
    (tmp_path / "source").write_text("x")
    for write in (lambda path: write_whole(path, "x"), lambda path: copy_whole(tmp_path / "source", path)):
        place = tmp_path / "place"
        place.unlink(missing_ok=True)
        place.symlink_to(tmp_path / "outside")
        write(place)
        assert not place.is_symlink()
        assert not (tmp_path / "outside").exists()
    hidden = {path.name for path in tmp_path.iterdir() if path.name.startswith(".")}
    assert hidden == {".notes.new", f".{own_mark()}.abcdefgh.new"}


# The command line


@pytest.mark.parametrize(
    "call", [["survey", "", "proj"], ["survey", "parts", " "], ["check", ""], ["book", "p", "-o", ""]]
)
def test_an_empty_path_is_refused(call: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        cli.main(call)
    assert caught.value.code == 2
    assert "the path is empty" in capsys.readouterr().err


CODES = ("ENOSPC", "EACCES", "EPERM", "EROFS", "EDQUOT", "ENAMETOOLONG", "EIO", "EISDIR", "ENOTDIR", "EMFILE", "ESTALE")


@pytest.mark.parametrize("code", CODES)
def test_what_the_system_refuses_is_the_users(
    code: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    number = getattr(errno, code)

    def refuse(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number), "tower/built.toml")

    monkeypatch.setattr(pipeline, "check_project", refuse)
    assert cli.main(["check", "tower"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"assembler: tower/built.toml: {os.strerror(number)}; ")


def test_the_handler_of_last_resort_cannot_fail(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def breaks(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a bug")

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(pipeline, "check_project", breaks)
    monkeypatch.setattr("tempfile.NamedTemporaryFile", full)
    assert cli.main(["check", "tower"]) == 3
    assert "no log could be written" in capsys.readouterr().err


def test_a_full_disk_behind_stdout_is_said() -> None:
    work = "import sys; from assembler import cli; cli._CALLS['check'] = lambda _: print('x') or 0; cli.run()"
    call = [sys.executable, "-c", work, "check", "x"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(call, stdout=full, stderr=subprocess.PIPE, cwd=ROOT, check=False)
    assert done.returncode == 2
    assert b"No space left on device" in done.stderr


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
@pytest.mark.parametrize("wait_s", [0.0, 0.05, 0.15, 0.3, 0.6])
def test_a_signal_while_it_loads_ends_it_without_a_word_too_many(
    tmp_path: Path, number: signal.Signals, code: int, wait_s: float
) -> None:
    """Loading goes on for ever here, so that the signal always comes while it does."""
    start = """
import sys, time
from assembler import __main__
class Slow:
    find_spec = staticmethod(lambda *_: time.sleep(30))
sys.meta_path.insert(0, Slow)
print(flush=True)
__main__.run()
"""
    with subprocess.Popen(
        [sys.executable, "-c", start], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(0.1 + wait_s)
        process.send_signal(number)
        _, said = process.communicate(timeout=20)
    assert process.returncode == code
    assert said == b"assembler: stopped; nothing was half-written\n"


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
@pytest.mark.parametrize("disguise", ["", "raise ImportError('odd')", "raise OSError('odd')", "raise SystemError"])
def test_a_signal_at_work_ends_it_in_order(number: signal.Signals, code: int, disguise: str) -> None:
    """Whatever a library makes of it."""
    work = f"""
import os, sys, time
from assembler import cli
from assembler.cache import Answers, Cache
def work(call):
    try:
        os.kill(os.getpid(), {int(number)})
        time.sleep(5)
    except KeyboardInterrupt:
        {disguise or "raise"}
    finally:
        print("tidied up")
cli._CALLS["check"] = work
sys.argv = ["assembler", "check", "x"]
cli.run()
"""
    done = subprocess.run([sys.executable, "-c", work], capture_output=True, text=True, cwd=ROOT, check=False)
    assert (done.returncode, done.stdout) == (code, "tidied up\n")
    assert done.stderr == "assembler: stopped; nothing was half-written\n"


# Every call that removes or renames

GUARDS = {
    "cache.Cache._begin_anew.unlink": "the cache's own file, no link, of which the database says that it is damaged",
    "cache._user_key.mkstemp": "a new file under a name nobody could guess",
    "cache._user_key.replace": "the key of this user, where there was none",
    "drawing.pictures._Room.figure.mkstemp": "a new file under a name nobody could guess",
    "drawing.pictures._Room.__exit__.unlink": "the file that it made itself",
    "publication._old_pictures.copyfile": "into the scratch folder of a book, or one made for a sheet",
    "publication.change_sheet.TemporaryDirectory": "made by this run, under a name nobody could guess",
    "cli._report_internal.NamedTemporaryFile": "a new file under a name nobody could guess, which stays",
    "earlier._copy.copyfile": "into the scratch folder of a book, which this run made",
    "showing.show_one.TemporaryDirectory": "made by this run, under a name nobody could guess",
    "projectfiles.bookfolder.book_written_whole.rename": "a folder does not rename over one that holds something",
    "projectfiles.bookfolder.book_written_whole.rmtree": "the scratch folder that it made itself",
    "projectfiles.folder._set_aside.rename": "to a name that is free, while the project is held",
    "projectfiles.keptmeshes.keep_meshes.unlink": "named as a part and readable as what this program keeps",
    "projectfiles.writing._discard.rename": "a folder that stepped aside and passed `may_replace`",
    "projectfiles.writing._discard.rmtree": "a folder that stepped aside and passed `may_replace`",
    "projectfiles.writing._file_written_whole.mkstemp": "a new file under a name nobody could guess",
    "projectfiles.writing._file_written_whole.replace": "one file, whole, in the place of the one of that name",
    "projectfiles.writing._file_written_whole.unlink": "the file that it made itself",
    "projectfiles.writing._put_back.rename": "only where nothing lies in the place",
    "projectfiles.writing._take_place.rename": "steps aside, is asked again (`may_replace`), and comes back if refused",
    "projectfiles.writing.folder_written_whole.rmtree": "the scratch folder that it made itself",
    "projectfiles.writing.make_scratch.mkdtemp": "a new folder under a name nobody could guess",
    "projectfiles.writing.sweep_leftovers.rmtree": "a name that only this module makes, of a run that is gone",
    "projectfiles.writing.sweep_leftovers.unlink": "a name that only this module makes, of a run that is gone",
}
"""Place of each call that removes, renames, or makes what is removed later: why nothing of anybody else's is lost."""
REMOVES = {
    "unlink", "rmtree", "rename", "renames", "rmdir", "removedirs", "copyfile", "copytree", "cleanup", "symlink_to",
    "hardlink_to", "TemporaryDirectory", "NamedTemporaryFile", "TemporaryFile", "mkdtemp", "mkstemp",
}  # fmt: skip
REMOVES_OF_A_MODULE = {"remove", "move", "copy", "copy2", "truncate", "link", "symlink", "replace"}
"""Of `os` and `shutil` only: lists and texts have methods of these names."""


class _Calls(ast.NodeVisitor):
    """Calls by name, each with the classes and functions round it."""

    def __init__(self, module: str) -> None:
        self.where = [module]
        self.found: set[str] = set()

    def _inside(self, node: ast.FunctionDef | ast.ClassDef) -> None:
        self.where.append(node.name)
        self.generic_visit(node)
        self.where.pop()

    visit_FunctionDef = visit_ClassDef = _inside  # noqa: N815  the names that ast calls

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        # `replace` of a text takes two values or more; that of a path takes one.
        is_replace = name == "replace" and len(node.args) == 1 and not node.keywords
        of = node.func.value if isinstance(node.func, ast.Attribute) else None
        is_of_a_module = name in REMOVES_OF_A_MODULE and isinstance(of, ast.Name) and of.id in ("os", "shutil")
        if name in REMOVES or is_replace or is_of_a_module:
            self.found.add(".".join([*self.where, name]))
        self.generic_visit(node)


def test_every_call_that_removes_or_renames_has_its_guard() -> None:
    found: set[str] = set()
    for module in sorted((ROOT / "assembler").rglob("*.py")):
        name = ".".join(module.relative_to(ROOT / "assembler").with_suffix("").parts)
        calls = _Calls(name)
        calls.visit(ast.parse(module.read_text(encoding="utf-8")))
        found |= calls.found
    assert found - GUARDS.keys() == set(), "say in GUARDS what keeps it from removing what is not the program's"
    assert GUARDS.keys() - found == set(), "no such call any more"
