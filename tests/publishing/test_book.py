"""The whole book: composed, set and read back."""

from __future__ import annotations

from pathlib import Path

import pypdf

from assembler.publishing.book import write_book
from tests.publishing import sample


def test_whole_book_is_written(tmp_path: Path) -> None:
    files = write_book(
        plan=sample.PLAN,
        settings=sample.SETTINGS,
        pictures=sample.draw_pictures(tmp_path),
        stacks=sample.STACKS,
        bondings=sample.BONDINGS,
        buy=sample.BUY,
        hardware=sample.HARDWARE,
        worksheets=sample.WORKSHEETS,
        five_temperatures=sample.TEMPERATURES,
        is_draft=True,
        out_dir=tmp_path,
    )
    reader = pypdf.PdfReader(files.pdf)
    assert len(reader.pages) == files.pages
    assert files.complaints == ()
    for page in reader.pages[1:]:
        assert "DRAFT" in page.extract_text()
