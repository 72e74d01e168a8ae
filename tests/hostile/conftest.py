"""What the hostile tests share."""

from __future__ import annotations

import os

import pytest


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    # Waiting for the disk guards against power cuts, of which there is none here.
    monkeypatch.setattr(os, "fsync", lambda handle: None)
