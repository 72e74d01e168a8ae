"""`python -m assembler` is the same as the command `assembler`."""

from __future__ import annotations

from assembler.cli import run

run()
