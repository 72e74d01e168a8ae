"""Reading of the case files."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

CASES = Path(__file__).parent / "cases"


def json_cases(name: str) -> Any:
    return json.loads((CASES / name).read_text(encoding="utf-8"))


def csv_cases(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((CASES / name).read_text(encoding="utf-8").splitlines()))


def source(*keys: str) -> pytest.MarkDecorator:
    """Names the rows of sources.csv that a check rests on; test_sources.py holds that they exist and are named."""
    return pytest.mark.source(*keys)
