from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from assembler.errors import BookFolderError
from assembler.projectfiles.bookfolder import (
    Book,
    book_written_whole,
    is_complete_book,
    issued_books,
    issued_place,
    next_free_revision,
    next_revision,
    read_book,
    revision_key,
)
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.writing import own_mark, write_whole

ONE, TWO = "1" * 64, "2" * 64


def _fill(folder: Path, size: int = 3) -> None:
    (folder / "pictures").mkdir()
    for index in range(size):
        (folder / "pictures" / f"step-{index}.png").write_bytes(bytes([index]) * 2000)
    (folder / "plan.json").write_text("{}", encoding="utf-8")


def write_book(target: Path, fill: Callable[[Path], None], **about: Any) -> Book:
    """A book that is filled by a function."""
    with book_written_whole(target, **about) as folder:
        fill(folder)
    return read_book(target)


def _issue(project: ProjectFolder, revision: str, digest: str = ONE) -> None:
    write_book(project.books / revision, _fill, revision=revision, version="0.1", digest=digest, is_issue=True)


def _tree(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.mark.parametrize(
    ("revision", "after"),
    [("A", "B"), ("Y", "Z"), ("Z", "AA"), ("AZ", "BA"), ("ZZ", "AAA"), ("AYZ", "AZA"), ("1", "2"), ("A9", "A10"),
     ("R09", "R10"), ("rev B", "rev C")],
)  # fmt: skip
def test_the_next_revision(revision: str, after: str) -> None:
    assert next_revision(revision) == after


@pytest.mark.parametrize("revision", ["", "a", "A-", "Ä"])
def test_a_revision_that_cannot_be_counted_on_is_refused(revision: str) -> None:
    with pytest.raises(BookFolderError, match="use capital letters"):
        next_revision(revision)


def test_a_thousand_revisions_differ_and_ascend() -> None:
    letters = ["A"]
    for _ in range(1000):
        letters.append(next_revision(letters[-1]))
    assert len(set(letters)) == 1001
    assert sorted(random.Random(1).sample(letters, 1001), key=revision_key) == letters


def test_a_book_lists_its_files_and_is_complete(tmp_path: Path) -> None:
    project = ProjectFolder(tmp_path)
    _issue(project, "A")
    book = read_book(project.books / "A")
    assert (book.revision, book.program_version, book.input_digest) == ("A", "0.1", ONE)
    assert set(book.files) == {"plan.json", *(f"pictures/step-{n}.png" for n in range(3))}
    assert is_complete_book(project.books / "A")
    assert [path.name for path in project.books.iterdir()] == ["A"]


@pytest.mark.parametrize("damage", ["missing", "changed", "no record", "bad record", "no folder"])
def test_a_damaged_book_is_not_complete_and_the_file_is_named(tmp_path: Path, damage: str) -> None:
    project = ProjectFolder(tmp_path)
    _issue(project, "A")
    folder = project.books / "A"
    broken = {
        "missing": lambda: (folder / "plan.json").unlink(),
        "changed": lambda: (folder / "plan.json").write_text("{ }", encoding="utf-8"),
        "no record": lambda: (folder / "book.json").unlink(),
        "bad record": lambda: (folder / "book.json").write_text('{"schema": "x"}', encoding="utf-8"),
        "no folder": lambda: folder.rename(tmp_path / "elsewhere"),
    }
    broken[damage]()
    assert not is_complete_book(folder)
    named = "plan.json" if damage in ("missing", "changed") else "book.json"
    with pytest.raises(BookFolderError, match=named) as caught:
        read_book(folder)
    assert all(fault.file == str(folder) for fault in caught.value.faults)
    if damage == "no folder":
        assert issued_books(project) == ()
    else:
        # Never in silence: the next book would give out its numbers again.
        with pytest.raises(BookFolderError, match=named):
            issued_books(project)


def test_all_faults_of_a_damaged_book_come_at_once(tmp_path: Path) -> None:
    project = ProjectFolder(tmp_path)
    _issue(project, "A")
    (project.books / "A" / "plan.json").unlink()
    (project.books / "A" / "pictures" / "step-1.png").write_bytes(b"")
    with pytest.raises(BookFolderError) as caught:
        read_book(project.books / "A")
    assert [fault.place for fault in caught.value.faults] == ["pictures/step-1.png", "plan.json"]


def test_issued_books_come_in_the_order_of_their_letters_without_drafts(tmp_path: Path) -> None:
    project = ProjectFolder(tmp_path)
    assert issued_books(project) == ()
    for revision in ("AA", "B", "Z", "A"):
        _issue(project, revision)
    write_book(project.books / "draft", _fill, revision="draft", version="0.1", digest=ONE, is_issue=False)
    (project.books / "notes").mkdir()
    assert [book.revision for book in issued_books(project)] == ["A", "B", "Z", "AA"]


def test_a_free_letter_an_unchanged_book_and_a_changed_one(tmp_path: Path) -> None:
    project = ProjectFolder(tmp_path)
    assert issued_place(project, "A", ONE) is None
    _issue(project, "A")
    _issue(project, "B")
    before = _tree(project.books)
    found = issued_place(project, "A", ONE)
    assert found is not None
    assert found.path == project.books / "A"
    with pytest.raises(BookFolderError) as caught:
        issued_place(project, "A", TWO)
    (fault,) = caught.value.faults
    assert "revision A was issued from other input" in fault.wrong
    assert fault.right == 'the next free letter is C: set revision = "C"'
    assert _tree(project.books) == before


def test_the_next_free_letter_steps_over_any_folder(tmp_path: Path) -> None:
    project = ProjectFolder(tmp_path)
    _issue(project, "A")
    (project.books / "B").mkdir()
    assert next_free_revision(project, "A") == "C"


@pytest.mark.parametrize("revision", ["draft", "../A", "A/B", ".hidden"])
def test_a_revision_that_is_no_folder_name_is_refused(tmp_path: Path, revision: str) -> None:
    with pytest.raises(BookFolderError, match="use a capital letter"):
        issued_place(ProjectFolder(tmp_path), revision, ONE)


def test_an_issued_book_is_never_overwritten(tmp_path: Path) -> None:
    project = ProjectFolder(tmp_path)
    _issue(project, "A")
    before = _tree(project.books)
    with pytest.raises(BookFolderError, match="never overwritten"):
        _issue(project, "A", TWO)
    assert _tree(project.books) == before


def test_a_draft_is_replaced_freely(tmp_path: Path) -> None:
    draft = tmp_path / "books" / "draft"
    for size in (5, 2):
        write_book(
            draft, lambda folder, size=size: _fill(folder, size), revision="draft", version="0.1", digest=ONE,
            is_issue=False,
        )  # fmt: skip
    assert len(list((draft / "pictures").iterdir())) == 2
    assert is_complete_book(draft)


@pytest.mark.parametrize("is_issue", [True, False])
def test_a_failure_in_the_middle_leaves_nothing(tmp_path: Path, is_issue: bool) -> None:
    def fail(folder: Path) -> None:
        _fill(folder)
        raise RuntimeError("out of paper")

    with pytest.raises(RuntimeError, match="out of paper"):
        write_book(tmp_path / "books" / "A", fail, revision="A", version="0.1", digest=ONE, is_issue=is_issue)
    assert list((tmp_path / "books").iterdir()) == []


def _project(tmp_path: Path) -> ProjectFolder:
    project = ProjectFolder(tmp_path)
    project.parts.mkdir()
    (project.parts / "P01.stl").write_bytes(b"solid")
    project.figure.write_text('name = "x"\nrevision = "A"\n', encoding="utf-8")
    project.joints.write_text('[[joint]]\nid = "J01"\n', encoding="utf-8")
    return project


def test_the_digest_sees_values_and_meshes_but_not_comments_or_layout(tmp_path: Path) -> None:
    project = _project(tmp_path)
    first = input_digest(project)
    project.figure.write_text('# a comment\nrevision   = "A"\nname = "x"\n', encoding="utf-8")
    (project.parts / "notes.txt").write_text("not a part", encoding="utf-8")
    assert input_digest(project) == first
    seen = {first}
    for path, content in (
        (project.figure, 'name = "y"\nrevision = "A"\n'),
        (project.joints, '[[joint]]\nid = "J02"\n'),
        (project.built, '[[built]]\nstep = "1"\nat = 2031-05-04T08:00:00\n'),
        (project.parts / "P01.stl", "solid!"),
        (project.parts / "P02.stl", "solid"),
        (project.root / "templates" / "step.html", "<p>"),
    ):
        path.parent.mkdir(exist_ok=True)
        path.write_text(content, encoding="utf-8")
        seen.add(input_digest(project))
    seen.add(input_digest(project, {"P01": b"mesh kept"}))
    assert len(seen) == 8


@pytest.fixture
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    # A killed process loses nothing that the system has taken over; waiting for the disk guards against power cuts.
    monkeypatch.setattr(os, "fsync", lambda handle: None)


def _work(root: Path, seed: int) -> None:
    """What a run does to a project: rewrite its files, replace the draft, issue B."""
    project = ProjectFolder(root)
    for path in (project.figure, project.joints, project.ids):
        write_whole(path, f"new {seed} " + "x" * 5000)
    write_book(project.books / "draft", _fill, revision="draft", version="0.1", digest=TWO, is_issue=False)
    write_book(project.books / "B", _fill, revision="B", version="0.1", digest=TWO, is_issue=True)


def _prepared(root: Path) -> ProjectFolder:
    project = ProjectFolder(root)
    for path in (project.figure, project.joints, project.ids):
        write_whole(path, "old " + "y" * 5000)
    _issue(project, "A")
    write_book(project.books / "draft", _fill, revision="draft", version="0.1", digest=ONE, is_issue=False)
    return project


def _in_child(work: Callable[[], None]) -> int:
    """Run in a child process; its pid."""
    pid = os.fork()
    if pid == 0:
        try:
            work()
            os._exit(0)
        except BaseException:  # noqa: BLE001  a child must never come back into the test run
            os._exit(70)
    return pid


def _assert_whole(project: ProjectFolder, issued: dict[str, str]) -> None:
    assert _tree(project.books / "A") == issued
    for path in (project.figure, project.joints, project.ids):
        text = path.read_text(encoding="utf-8")
        assert text.endswith(("y" * 5000, "x" * 5000)), path.name
        assert len(text) in (5004, *range(5006, 5010)), path.name
    if (project.books / "B").exists():
        assert is_complete_book(project.books / "B")
    if (project.books / "draft").exists():
        assert is_complete_book(project.books / "draft")


def _assert_next_run_succeeds(project: ProjectFolder, issued: dict[str, str]) -> None:
    if issued_place(project, "B", TWO) is None:
        _work(project.root, 1)
    assert is_complete_book(project.books / "B")
    write_book(project.books / "draft", _fill, revision="draft", version="0.1", digest=TWO, is_issue=False)
    assert is_complete_book(project.books / "draft")
    assert _tree(project.books / "A") == issued
    assert [path.name for path in project.books.iterdir() if path.name.endswith((".new", ".old"))] == []


@pytest.mark.usefixtures("_quick")
def test_killed_at_fifty_random_moments_everything_issued_stays_whole(tmp_path: Path) -> None:
    start = time.monotonic()
    _work(_prepared(tmp_path / "timed").root, 0)
    usual_s = time.monotonic() - start
    rng = random.Random(20310504)
    killed = 0
    for turn in range(50):
        project = _prepared(tmp_path / str(turn))
        issued = _tree(project.books / "A")
        pid = _in_child(lambda project=project, turn=turn: _work(project.root, turn))
        time.sleep(rng.random() * usual_s)
        os.kill(pid, signal.SIGKILL)
        killed += os.WIFSIGNALED(os.waitpid(pid, 0)[1])
        _assert_whole(project, issued)
        _assert_next_run_succeeds(project, issued)
    assert killed > 10


def _dies_at(count: int) -> None:
    """Have this process die, without any tidying up, at its n-th dealing with the file system."""
    left = count

    def hook(event: str, _: tuple[object, ...]) -> None:
        nonlocal left
        if event in ("open", "os.rename", "os.mkdir", "os.chmod", "os.remove", "os.rmdir", "os.listdir", "os.scandir"):
            left -= 1
            if left < 0:
                os._exit(99)

    sys.addaudithook(hook)


@pytest.mark.usefixtures("_quick")
def test_killed_at_every_single_file_operation_everything_issued_stays_whole(tmp_path: Path) -> None:
    for count in range(400):
        project = _prepared(tmp_path / str(count))
        issued = _tree(project.books / "A")

        def work(project: ProjectFolder = project, count: int = count) -> None:
            _dies_at(count)
            _work(project.root, count)

        status = os.waitstatus_to_exitcode(os.waitpid(_in_child(work), 0)[1])
        _assert_whole(project, issued)
        if status == 0:
            break
        assert status == 99
        _assert_next_run_succeeds(project, issued)
    # Fewer would mean that the hook does not see the work.
    assert 40 < count < 399


def test_scratch_of_a_killed_issue_is_swept_by_the_next_of_any_letter(tmp_path: Path) -> None:
    project = ProjectFolder(tmp_path)
    pid = _in_child(lambda: None)
    os.waitpid(pid, 0)
    machine, _, own = own_mark().partition("-")
    # The last two are no scratch of this program.
    names = {f".A.{machine}-{pid}.abcdefgh.issue", f".C.{machine}-{own}.abcdefgh.issue", ".A.mine.issue", ".notes"}
    for name in names:
        (project.books / name).mkdir(parents=True)
    _issue(project, "B")
    left = {path.name for path in project.books.iterdir()}
    assert left == names - {f".A.{machine}-{pid}.abcdefgh.issue"} | {"B"}


def test_two_runs_that_issue_at_once_leave_one_whole_book(tmp_path: Path) -> None:
    target = tmp_path / "books" / "A"

    def issue(digest: str) -> None:
        write_book(target, _fill, revision="A", version="0.1", digest=digest, is_issue=True)

    pids = [_in_child(lambda digest=digest: issue(digest)) for digest in (ONE, TWO)]
    codes = sorted(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in pids)
    assert codes == [0, 70]
    assert is_complete_book(target)
    assert [path.name for path in target.parent.iterdir()] == ["A"]
    assert json.loads((target / "book.json").read_text(encoding="utf-8"))["input_digest"] in (ONE, TWO)


def test_two_drafts_at_once_leave_each_others_scratch_alone_and_both_end_well(tmp_path: Path) -> None:
    target = tmp_path / "books" / "draft"

    def slow(folder: Path) -> None:
        _fill(folder)
        time.sleep(0.3)
        assert (folder / "plan.json").exists() or list(folder.iterdir())

    def draft(digest: str, wait_s: float) -> None:
        time.sleep(wait_s)
        write_book(target, slow, revision="draft", version="0.1", digest=digest, is_issue=False)

    waits = ((ONE, 0.0), (TWO, 0.1), (ONE, 0.2))
    pids = [_in_child(lambda digest=digest, wait_s=wait_s: draft(digest, wait_s)) for digest, wait_s in waits]
    assert [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in pids] == [0, 0, 0]
    assert is_complete_book(target)
    assert [path.name for path in target.parent.iterdir()] == ["draft"]
