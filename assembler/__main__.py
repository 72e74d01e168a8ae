"""`python -m assembler` is the same as the command `assembler`."""

from __future__ import annotations

import sys

from assembler.cli import main

sys.exit(main())
