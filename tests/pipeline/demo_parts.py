"""The demo figure at full density, made once a checkout: what `sh demo/run` made is used, if it is up to date."""

from __future__ import annotations

from pathlib import Path

from demo.build import OUT, alone, make_figure


def demo_folder() -> Path:
    """Folder with parts/ and truth.json of the demo figure."""
    with alone():
        make_figure()
    return OUT
