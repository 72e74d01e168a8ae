"""`python -m assembler` is the same as the command `assembler`."""

from assembler.isolation import leave_working_folder

leave_working_folder()

from assembler.cli import run  # noqa: E402  nothing else may be looked for in the working folder first

run()
