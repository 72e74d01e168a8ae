"""What setting a book costs against WeasyPrint's own time for the same HTML, and how many bytes a step takes on paper.

Run by name (`pytest tests/bench/book_layout.py -s`); a tower of some sixty parts is surveyed, planned, drawn and set.
Both sides of the ratio are measured in the same run, in processor time, so that a busy machine does not move it.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

import pypdf
import pytest
import weasyprint

import assembler.publishing.book as book
from assembler.pipeline import survey_project, write_project_book
from assembler.publishing.pdf import Typesetter
from assembler.publishing.source import Source
from tests import specimens

pytestmark = pytest.mark.bench

RINGS = 30
STEPS = 60
MOST_MB = 25.0
MOST_RATIO = 1.5


def say(text: str) -> None:
    """A line for who runs this by hand."""
    sys.stderr.write(f"\n{text}")


def export(folder: Path) -> None:
    """The parts of the tower as files."""
    import trimesh

    folder.mkdir()
    for name, mesh in specimens.tower(RINGS).given["meshes"].items():
        trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(folder / f"{name}.stl")


def test_a_book_of_sixty_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    export(tmp_path / "parts")
    spent: dict[str, Any] = {}
    real_write, real_pages = book.write_book, Typesetter.pages
    bodies: list[str] = []

    def timed_write(source: Source, out_dir: Path, **given: Any) -> Any:
        begin = time.process_time()
        result = real_write(source, out_dir, **given)
        spent["ours"] = time.process_time() - begin
        begin = time.process_time()
        html = f"<html lang='en'><head><title>t</title><style>{spent['style']}</style></head><body>{''.join(bodies)}"
        weasyprint.HTML(string=html, base_url=f"{out_dir}/").write_pdf(pdf_variant="pdf/ua-1")
        spent["own"] = time.process_time() - begin
        spent["steps"] = len(source.plan.steps)
        spent["misfits"] = result.misfits
        return result

    def seen_pages(setter: Typesetter, html: str) -> Any:
        # One document of all pieces: each begins on a page of its own, as it does in the book.
        body = html.split("<body>")[1].split("</body>")[0]
        bodies.append(f'<div style="break-before: page">{body}</div>')
        spent["style"] = setter.style
        return real_pages(setter, html)

    monkeypatch.setattr("assembler.publication.write_book", timed_write)
    monkeypatch.setattr(Typesetter, "pages", seen_pages)
    survey_project(tmp_path / "parts", tmp_path / "project", unit="mm", progress=say)
    report = write_project_book(tmp_path / "project", out=None, is_issue=False, progress=lambda _: None)
    reader = pypdf.PdfReader(report.pdf)
    megabytes = report.pdf.stat().st_size / 1e6
    scaled = megabytes * STEPS / spent["steps"]
    ratio = spent["ours"] / spent["own"]
    say(f"{spent['steps']} steps, {len(reader.pages)} pages: {megabytes:.1f} MB, for {STEPS} steps {scaled:.1f} MB")
    say(f"template, measuring and PDF {spent['ours']:.1f} s, WeasyPrint alone {spent['own']:.1f} s: ratio {ratio:.2f}")
    assert not spent["misfits"]
    assert scaled <= MOST_MB
    assert ratio <= MOST_RATIO
