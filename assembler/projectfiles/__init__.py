"""The files of a project folder: read with readable faults, written in place without losing hand edits."""
