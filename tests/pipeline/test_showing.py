"""One joint, part, section or step as a picture, asked for by its name."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from assembler import showing
from assembler.cli import main
from assembler.drawing.pictures import draw_one_step
from assembler.figure.pictures import Picture
from tests.pipeline.tower import BOLTS, write_tower


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tower, surveyed; no book."""
    folder = tmp_path_factory.mktemp("shown")
    assert main(["survey", str(write_tower(folder / "exports")), str(folder / "tower")]) == 0
    return folder / "tower"


@pytest.mark.parametrize("name", ["J01", "P02"])
def test_a_picture_comes_without_a_plan_and_without_reading_the_parts_again(
    project: Path, name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    drawn: list[Picture] = []

    def told(*arguments: object, **named: object) -> tuple[Picture, ...]:
        drawn.extend(draw_one_step(*arguments, **named))  # type: ignore[arg-type]
        return tuple(drawn)

    monkeypatch.setattr(showing, "draw_one_step", told)
    monkeypatch.setattr(showing, "open_project", None)
    assert main(["show", str(project), name]) == 0
    path = project / "shown" / f"{name}.png"
    assert capsys.readouterr().out.strip() == str(path)
    with Image.open(path) as image:
        assert image.width > 1900
        assert len(image.convert("RGB").getcolors(1 << 24) or ()) > 1000
    main_picture, *faces = drawn
    assert [str(one.alt).split(":")[0] for one in faces] == (
        ["Joint J01"] if name == "J01" else ["Joint J01", "Joint J02"]
    )
    for face in faces:
        assert all(f">{number}<" in face.overlay_svg for number in range(1, BOLTS + 1))
    if name == "P02":
        # The faces are those of the part that was asked for, and nothing but it is named in the picture.
        assert all("of P02 seen" in str(face.alt) for face in faces)
        assert "P01" not in main_picture.overlay_svg
    else:
        # What stands on the other side of the part that is drawn back would be run through by it.
        assert "P03" not in main_picture.overlay_svg


def test_a_step_and_a_section_are_planned_if_no_draft_has_them(project: Path) -> None:
    assert main(["show", str(project), "2"]) == 0
    assert (project / "shown" / "step-2.png").is_file()
    assert main(["show", str(project), "S1"]) == 0
    assert (project / "shown" / "section-S1.png").is_file()


def test_a_name_that_is_not_there_gives_one_line_with_near_ones(
    project: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(showing, "open_project", None)
    assert main(["show", str(project), "J1"]) == 2
    error = capsys.readouterr().err.strip()
    assert error == "assembler: NAME: there is no joint, part, section or step 'J1'; near it: J01"
    assert main(["show", str(project), "head"]) == 2
    assert "an id such as J03, P07, S1, or 12" in capsys.readouterr().err
