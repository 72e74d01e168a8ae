"""Keeps Python from running what merely lies in the working folder.

Part folders come by mail, and who works in one stands in it: a `pickle.py` there must stay a file like any other.
Nothing may be imported here, or in `__main__.py` before this was called, that is not loaded when Python starts:
`from __future__` included.
"""

import os
import sys

_REMARK = "ignore:resource_tracker"
_PROGRAM = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))  # noqa: PTH100, PTH120  pathlib is not loaded yet


def leave_working_folder() -> None:
    """Takes the working folder, which `python -m` puts first, off the import path, unless the program lies there."""
    try:
        here = os.getcwd()  # noqa: PTH109  pathlib is not loaded yet
    except FileNotFoundError:
        here = ""
    if here != _PROGRAM:
        sys.path[:] = [entry for entry in sys.path if entry not in ("", here)]


def isolated_children() -> None:
    """Has Python processes that are started from now on do without the working folder, and without remarks.

    References
    ----------
    Python documentation, 1.2 Environment variables, PYTHONSAFEPATH (since 3.11).
    """
    os.environ["PYTHONSAFEPATH"] = "1"
    # Python's own helper process clears away what a killed run left open, and would remark on it in its own words.
    if _REMARK not in sys.warnoptions:
        sys.warnoptions.append(_REMARK)
