"""What all tests share: property tests that are the same on every run and do not time out, one process for each run."""

from __future__ import annotations

import pytest
from hypothesis import settings

from assembler import parallel

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")


@pytest.fixture(autouse=True, scope="session")
def _one_process_each() -> None:
    """Tests run in one process a core already; those about workers say how many they want."""
    parallel.cores = lambda: 1
