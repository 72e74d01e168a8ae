"""Shut this process and its children out of everything but the folders that a run may spoil.

A program that is attacked may be a program with a hole: whatever a case talks it into must not be able to reach the
files of whoever runs the harness. On Linux, with the right to do it, the whole file system becomes read-only in a mount
name space of this process, but for the named folders.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path

_NEW_MOUNTS = 0x00020000
_READ_ONLY, _REMOUNT, _BIND, _RECURSIVE, _PRIVATE = 1, 32, 4096, 16384, 1 << 18
# Not folders of files: what is done to them goes to the kernel, or to the locks of other processes.
_KERNEL = ("/proc", "/sys", "/dev/shm")


class NotConfinedError(Exception):
    """This system, or this user, cannot be shut out."""


def confine(writable: Sequence[Path]) -> None:
    """Make everything read-only for this process and its children but these folders.

    Raises
    ------
    NotConfinedError
        If that is not possible here.
    """
    folders = [folder.resolve(strict=True) for folder in writable]
    if not Path("/proc/self/mountinfo").exists():
        raise NotConfinedError("only Linux can do that")
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.unshare(_NEW_MOUNTS) != 0:
        raise NotConfinedError(f"a mount name space of its own: {os.strerror(ctypes.get_errno())}")
    _mount(libc, "/", "/", _RECURSIVE | _PRIVATE)
    mounted = {line.split()[4] for line in Path("/proc/self/mountinfo").read_text().splitlines()}
    for folder in folders:
        _mount(libc, str(folder), str(folder), _BIND)
    for place in sorted(mounted, key=lambda one: (-len(one), one)):
        if not place.startswith(_KERNEL):
            _mount(libc, place, place, _REMOUNT | _BIND | _READ_ONLY)
    _try_out(folders)


def _mount(libc: ctypes.CDLL, source: str, target: str, flags: int) -> None:
    if libc.mount(source.encode(), target.encode(), None, ctypes.c_ulong(flags), None) != 0:
        raise NotConfinedError(f"{target}: {os.strerror(ctypes.get_errno())}")


def _try_out(folders: Sequence[Path]) -> None:
    for folder in folders:
        if not os.access(folder, os.W_OK):
            raise NotConfinedError(f"{folder} cannot be written to")
    probe = Path("/") / f".hostile-probe-{os.getpid()}"
    try:
        probe.touch()
    except OSError:
        return
    probe.unlink()
    raise NotConfinedError("the root folder can still be written to")


def apart(work: Callable[[], int]) -> int:
    """Exit code of work done in a child, so that what is shut out is the child's alone."""
    child = os.fork()
    if child == 0:
        code = 70
        try:
            code = work()
        except SystemExit as exc:
            sys.stderr.write(f"{exc.code}\n")
        except BaseException:  # noqa: BLE001  the child must not go on with its parent's work
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    # Who stops the parent means the child.
    before = {
        sign: signal.signal(sign, lambda number, _: os.kill(child, number)) for sign in (signal.SIGINT, signal.SIGTERM)
    }
    status = os.waitpid(child, 0)[1]
    for sign, handler in before.items():
        signal.signal(sign, handler)
    return os.waitstatus_to_exitcode(status)
