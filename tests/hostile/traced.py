"""Watch a whole book from below: which files the kernel is asked for, what is started, who is called.

    python -m tests.hostile.traced

Needs strace. The small figure, in a working folder that holds modules named like those of the language; nothing may be
opened but the project, the program, Python, fonts, libraries and temporary files, and nobody called over a network.
"""

from __future__ import annotations

import os
import re
import shutil
import site
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import assembler
from tests.hostile import smallfigure
from tests.hostile.trial import COMMAND, Place, lay_out_sentinels

_CALL = re.compile(r'^\d+ +(\w+)\((?:(?:AT_FDCWD|\d+(?:<[^>]*>)?), )?"((?:[^"\\]|\\.)*)"([^)]*).*\) = (-?\d+)')
_FAMILY = re.compile(r"^\d+ +(connect|sendto|bind)\(.*sa_family=(AF_\w+)")
_HOME = (
    ".cache/fontconfig",
    ".local/state/assembler/cache-key",
    ".cache/mesa_shader_cache",
    ".cache/mesa_shader_cache_db",
    ".config/fontconfig",
    ".drirc",
    ".fontconfig",
    ".fonts",
    ".local/share/fonts",
)
_SYSTEM = (
    "/usr",
    "/lib",
    "/lib64",
    "/etc",
    "/proc",
    "/sys",
    "/dev",
    "/run/udev",
    "/opt",
    "/var/cache/fontconfig",
    "/bin",
    "/sbin",
)
_PROGRAMS = (
    "python",
    "assembler",
    "ldconfig",
    "gcc",
    "cc",
    "ld",
    "sh",
    "uname",
    "collect2",
    "objdump",
    "env",
    "fc-list",
)
_MODULES = ("pickle", "struct", "selectors", "multiprocessing", "numpy", "encodings", "assembler")

_MODULE = """open({!r}, "w").write("x")
import sys
here, sys.path[:] = sys.path[:], [one for one in sys.path[1:] if one]
del sys.modules[__name__]
__import__(__name__)
sys.path[:] = here
"""
"""Does its mischief and then stands for the real module, so that nobody notices."""


def lines_of(words: list[str], place: Place, log: Path) -> list[str]:
    """What strace writes down about one call of the installed command."""
    strace = shutil.which("strace")
    if strace is None:
        raise FileNotFoundError("strace")
    wanted = "open,openat,openat2,creat,rename,renameat,renameat2,unlink,unlinkat,rmdir,mkdir,symlink,link"
    done = subprocess.run(
        [
            strace,
            "-f",
            "-qq",
            "-s",
            "4000",
            "-e",
            f"trace={wanted},connect,sendto,bind,execve",
            "-o",
            str(log),
            COMMAND,
            *words,
        ],
        cwd=place.cwd,
        env={**os.environ, "TMPDIR": str(place.tmp)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode not in (0, 1):
        raise AssertionError(f"exit {done.returncode}: {done.stderr[-2000:]}")
    return joined(log.read_text(errors="replace").splitlines())


def joined(lines: list[str]) -> list[str]:
    """Lines of calls, those that were interrupted by another process put together again."""
    begun: dict[str, str] = {}
    whole = []
    for line in lines:
        process, _, rest = line.partition(" ")
        if rest.endswith("<unfinished ...>"):
            begun[process] = line.removesuffix("<unfinished ...>")
        elif "resumed>" in rest and process in begun:
            whole.append(begun.pop(process) + rest.partition("resumed>")[2])
        else:
            whole.append(line)
    return whole


def faults(lines: list[str], place: Place) -> Iterator[str]:
    """Everything that was opened, started or called and should not have been."""
    home = Path.home()
    allowed = [str(place.project), str(place.tmp), *_SYSTEM]
    package = Path(assembler.__file__).resolve().parent
    allowed += [str(package), str(package.parent / "templates"), str(package.parent / "pyproject.toml")]
    allowed += [sys.prefix, os.path.realpath(sys.prefix), sys.base_prefix, *site.getsitepackages(), *_other_packages()]
    allowed += [str(home / name) for name in _HOME]
    for line in lines:
        if (family := _FAMILY.match(line)) and family.group(2) not in ("AF_UNIX", "AF_NETLINK", "AF_UNSPEC"):
            yield f"{family.group(1)} to {family.group(2)}: {line[:200]}"
        found = _CALL.match(line)
        if not found or int(found.group(4)) < 0:
            continue
        call, path = found.group(1), found.group(2)
        if call == "execve":
            if not Path(path).name.startswith(_PROGRAMS):
                yield f"started {path}"
        elif path.startswith("/") and not _is_below(os.path.normpath(path), allowed):
            # Folders on the way to a file are looked at; a file elsewhere is not.
            if not (Path(path).is_dir() and "O_DIRECTORY" in found.group(3)):
                yield f"{call} {path}"
        elif not path.startswith("/") and "AT_FDCWD" in line[:60]:
            yield f"{call} {path} in the working folder"


def _is_below(path: str, folders: list[str]) -> bool:
    return any(path == folder or path.startswith(f"{folder.rstrip('/')}/") for folder in folders)


def _other_packages() -> list[str]:
    """Folders that a path file of the installation leads to, such as that of packages which several share."""
    return [folder for folder in sys.path if folder and "site-packages" in folder]


def lay_out(root: Path) -> Place:
    """The small figure's parts, secrets beside it, and a working folder of a stranger."""
    place = Place(root)
    for folder in (place.case, place.parts, place.cwd, place.tmp):
        folder.mkdir(parents=True)
    lay_out_sentinels(place.outside)
    smallfigure.write_parts(place.parts)
    for name in _MODULES:
        (place.cwd / f"{name}.py").write_text(_MODULE.format(str(place.outside / "PWNED")))
    return place


def watched(root: Path, calls: tuple[str, ...] = ("survey", "book")) -> list[str]:
    """Faults of a survey and a whole book."""
    place = lay_out(root)
    wrong: list[str] = []
    for call in calls:
        words = ["survey", str(place.parts), str(place.project)] if call == "survey" else [call, str(place.project)]
        lines = lines_of(words, place, root / f"{call}.strace")
        if not any(".stl" in line for line in lines):
            wrong.append(f"{call}: the parts were not seen to be read: strace says too little to judge by")
        beside = str(place.parts) if call == "survey" else ""
        wrong += [f"{call}: {one}" for one in faults(lines, place) if not (beside and beside in one)]
    if (place.outside / "PWNED").exists():
        wrong.append("a module in the working folder was run")
    return sorted(set(wrong))


def main() -> int:
    """Run; the exit code says whether anything failed."""
    with tempfile.TemporaryDirectory(prefix="hostile-traced-") as scratch:
        wrong = watched(Path(scratch))
    sys.stdout.write("".join(f"FAILED {one}\n" for one in wrong) + f"{int(not wrong)} passed, {len(wrong)} failed\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
