"""What all tests share: property tests that are the same on every run and do not time out on a busy machine."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
