"""Book folders: nothing that the program did not write is replaced, and a touched issue is never no issue."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from assembler.earlier import continued
from assembler.errors import BookFolderError, InputError
from assembler.figure.findings import Level
from assembler.projectfiles.bookfolder import checked_draft, checked_out, issued_books, issued_place, touched_findings
from assembler.projectfiles.folder import ProjectFolder
from tests.hostile.projects import PLAN, book, project


def _tree(folder: Path) -> dict[str, bytes | str]:
    return {
        str(path.relative_to(folder)): str(path.readlink()) if path.is_symlink() else path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_symlink() or path.is_file()
    }


def _thesis(place: Path) -> None:
    place.mkdir()
    (place / "thesis.txt").write_text("my thesis")


def _file(place: Path) -> None:
    place.write_text("a file")


def _link(place: Path) -> None:
    _thesis(place.with_name("elsewhere"))
    place.symlink_to(place.with_name("elsewhere"))


def _link_to_draft(place: Path) -> None:
    book(place.with_name("elsewhere"), "draft")
    place.symlink_to(place.with_name("elsewhere"))


def _dangling(place: Path) -> None:
    place.symlink_to(place.with_name("nowhere"))


def _issue(place: Path) -> None:
    book(place, "A")


def _draft_and_more(place: Path) -> None:
    book(place, "draft")
    (place / "notes.txt").write_text("what the client said")


def _draft_and_folder(place: Path) -> None:
    book(place, "draft")
    (place / "photos").mkdir()


def _draft_and_link(place: Path) -> None:
    book(place, "draft")
    (place / "photos").symlink_to("/")


def _marked_draft(place: Path) -> None:
    book(place, "draft")
    (place / "hardware.xlsx").write_text("with the prices that we got")


def _no_record(place: Path) -> None:
    book(place, "draft")
    (place / "book.json").write_text("[[[[" * 10_000)


KEPT = [
    _thesis, _file, _link, _link_to_draft, _dangling, _issue, _draft_and_more, _draft_and_folder, _draft_and_link,
    _marked_draft, _no_record,
]  # fmt: skip


@pytest.mark.parametrize("lie", KEPT)
def test_what_would_be_lost_stays_untouched(tmp_path: Path, lie: Callable[[Path], None]) -> None:
    lie(tmp_path / "out")
    before = _tree(tmp_path)
    with pytest.raises(BookFolderError, match="nothing was deleted") as caught:
        book(tmp_path / "out", "draft")
    assert len(caught.value.faults) == 1
    assert _tree(tmp_path) == before
    with pytest.raises(BookFolderError):
        book(tmp_path / "out", "A")
    assert _tree(tmp_path) == before


def _nothing(_: Path) -> None:
    return


def _empty(place: Path) -> None:
    place.mkdir()


def _draft(place: Path) -> None:
    book(place, "draft")


def _draft_that_lacks_a_file(place: Path) -> None:
    book(place, "draft")
    (place / "step-1.png").unlink()


@pytest.mark.parametrize("lie", [_nothing, _empty, _draft, _draft_that_lacks_a_file])
def test_a_place_where_nothing_is_lost_is_taken(tmp_path: Path, lie: Callable[[Path], None]) -> None:
    lie(tmp_path / "out")
    book(tmp_path / "out", "draft", PLAN.figure_name)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out"]


def test_a_draft_of_another_figure_is_not_replaced(tmp_path: Path) -> None:
    book(tmp_path / "out", "draft")
    with pytest.raises(BookFolderError, match="holds a draft of"):
        checked_draft(tmp_path / "out", figure_name="another")


def test_what_appears_while_the_book_is_written_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked again once the older folder has stepped aside: whatever came into it in those minutes comes back."""
    book(tmp_path / "out", "draft")
    asked = []

    def late(folder: Path, **_: object) -> None:
        if not asked:
            (tmp_path / "out" / "thesis.txt").write_text("my thesis")
        asked.append(folder)
        if len(asked) > 1:
            checked_draft(folder)

    monkeypatch.setattr("assembler.projectfiles.bookfolder.checked_draft", late)
    with pytest.raises(BookFolderError, match=r"thesis\.txt"):
        book(tmp_path / "out", "draft")
    assert (tmp_path / "out" / "thesis.txt").read_text() == "my thesis"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize(
    "out",
    [
        "tower", "tower/parts", "tower/parts/new", "tower/books", "tower/books/A", "tower/books/B", "tower/books/A/x",
        "tower/.cache", "tower/.cache/x", "tower/kept-meshes", "tower/templates/x", "tower/parts-set-aside", ".", "/",
        "/proc", "tower/../tower", "link",
    ],
)  # fmt: skip
@pytest.mark.parametrize("is_issue", [True, False])
def test_no_book_lies_where_others_have_their_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, out: str, is_issue: bool
) -> None:
    folder = project(tmp_path / "tower", "A")
    (tmp_path / "link").symlink_to(folder.root)
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BookFolderError, match="name a folder of its own"):
        checked_out(Path(out), folder, is_issue=is_issue)


def test_no_book_takes_the_place_of_the_folder_one_works_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "out" / "in").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "out" / "in")
    for out in (".", "..", str(tmp_path / "out")):
        with pytest.raises(BookFolderError, match="name a folder of its own"):
            checked_out(Path(out), project(tmp_path / "tower"), is_issue=False)


def test_no_book_takes_the_place_of_a_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "home" / "me").mkdir(parents=True)
    monkeypatch.setenv("HOME", str(tmp_path / "home" / "me"))
    for out in (tmp_path / "home" / "me", tmp_path / "home"):
        with pytest.raises(BookFolderError, match="holds"):
            checked_out(out, project(tmp_path / "tower"), is_issue=False)
    assert checked_out(tmp_path / "home" / "me" / "out", project(tmp_path / "tower"), is_issue=False)


def test_a_draft_may_lie_in_its_own_place_or_anywhere_else(tmp_path: Path) -> None:
    folder = project(tmp_path / "tower")
    for out in (folder.books / "draft", tmp_path / "out", folder.root / "out"):
        assert checked_out(out, folder, is_issue=False) == out
    with pytest.raises(BookFolderError):
        checked_out(folder.books / "draft", folder, is_issue=True)


TOUCHED = {
    "changed": lambda file: file.write_bytes(file.read_bytes() + b" "),
    "gone": lambda file: file.unlink(),
    "a folder": lambda file: (file.unlink(), file.mkdir()),
    "a link": lambda file: (file.rename(file.parents[3] / "moved"), file.symlink_to(file.parents[3] / "moved")),
}


@pytest.mark.parametrize("touch", list(TOUCHED))
@pytest.mark.parametrize("name", ["hardware.xlsx", "step-1.png"])
def test_a_touched_table_or_picture_is_said_and_the_book_counts(tmp_path: Path, name: str, touch: str) -> None:
    folder = project(tmp_path / "tower", "A")
    TOUCHED[touch](folder.books / "A" / name)
    (only,) = issued_books(folder)
    # Nothing is taken over from a picture that is not the issued one.
    assert name not in only.files
    (finding,) = touched_findings((only,))
    assert finding.level is Level.WARN
    assert name in str(finding.message)
    found = issued_place(folder, "A", "0" * 64)
    assert found is not None
    _, findings = continued(PLAN, folder)
    assert finding in findings


@pytest.mark.parametrize("touch", list(TOUCHED))
@pytest.mark.parametrize("name", ["plan.json", "book.json"])
def test_a_touched_plan_stops_everything_that_would_go_on_from_it(tmp_path: Path, name: str, touch: str) -> None:
    folder = project(tmp_path / "tower", "A", "B")
    file = folder.books / "A" / name
    if (name, touch) == ("book.json", "changed"):
        record = json.loads(file.read_text()) | {"files": {"../../../etc/passwd": "0" * 64, "x" * 5000: "0" * 64}}
        file.write_text(json.dumps(record))
    else:
        TOUCHED[touch](file)
    for ask in (issued_books, lambda one: continued(PLAN, one), lambda one: issued_place(one, "C", "1" * 64)):
        with pytest.raises(InputError, match=str(folder.books / "A")):
            ask(folder)


def test_a_book_under_another_name_is_no_second_book(tmp_path: Path) -> None:
    folder = project(tmp_path / "tower", "A")
    (folder.books / "A").rename(folder.books / "A copy")
    with pytest.raises(BookFolderError, match="name it A again"):
        issued_books(folder)


def test_folders_that_never_were_books_are_nobodys_business(tmp_path: Path) -> None:
    folder = project(tmp_path / "tower", "A")
    _thesis(folder.books / "quotes")
    (folder.books / "B").mkdir()
    assert [one.revision for one in issued_books(folder)] == ["A"]


def test_an_issue_survives_every_draft(tmp_path: Path) -> None:
    folder = project(tmp_path / "tower", "A")
    before = hashlib.sha256(repr(_tree(folder.books / "A")).encode()).hexdigest()
    for _ in range(2):
        book(folder.books / "draft", "draft")
    assert hashlib.sha256(repr(_tree(folder.books / "A")).encode()).hexdigest() == before


def test_a_log_that_cannot_be_used_is_said_before_a_book_is_issued(tmp_path: Path) -> None:
    folder = project(tmp_path / "tower")
    folder.built.write_bytes(b"\xff\xfe junk")
    with pytest.raises(InputError, match=r"built\.toml"):
        continued(PLAN, folder)


def test_a_folder_that_leads_out_of_the_project_is_refused_everywhere(tmp_path: Path) -> None:
    (tmp_path / "outside").mkdir()
    folder = ProjectFolder(tmp_path / "tower")
    for name in ("parts", "kept-meshes", "books", ".cache", "templates", "parts-set-aside"):
        project(folder.root)
        (folder.root / name).symlink_to(tmp_path / "outside")
        place = {".cache": "cache", "parts-set-aside": "set_aside"}.get(name, name.replace("-", "_"))
        with pytest.raises(InputError, match="leads out of"):
            getattr(folder, place)
        (folder.root / name).unlink()
    assert list((tmp_path / "outside").iterdir()) == []
