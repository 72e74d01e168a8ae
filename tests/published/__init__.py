"""Checks against sources outside the project; each names its source beside it, and how it was read."""
