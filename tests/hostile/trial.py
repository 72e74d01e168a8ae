"""One hostile case: what is laid before the program, how it is called, and what it must never do in answer.

A case runs through the public command in a forked child of a process that has everything loaded. Nothing of the
package is used here but `assembler.cli.run`; two things that only cost time can be left out (`leave_out`).
"""

from __future__ import annotations

import contextlib
import faulthandler
import hashlib
import io
import json
import os
import re
import resource
import shutil
import signal
import struct
import sys
import tempfile
import time
import traceback
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any, NoReturn

MARK = "SENTINEL7f3aOutsideSecret"
"""Lies in every file outside the case; must be found in no product."""
COMMAND = str(Path(sys.executable).parent / "assembler")
CPU_S, ADDRESS_BYTES, MEMORY_BYTES = 60, 6 * 2**30, 2 * 2**30
IDLE_S, WALL_S = 12.0, 400.0
"""Without a moment of processor time for so long a call waits for ever; nothing may take longer than the second."""
SMALL_INPUT_BYTES = 100_000_000
LINE = 300
_OWN_LINE = re.compile(r"assembler[ a-z]*: \S")
_PROGRESS = re.compile(r"\[ *\d+\.\d s\] ")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\x80-\x9f\u202a-\u202e\u2066-\u2069]")
_CODES = frozenset((0, 1, 2, 130))
# What looking for a library or a font starts; everything else that is started is none of the program's business.
_LOADERS = frozenset(("ldconfig", "gcc", "cc", "ld", "ld.so", "objdump", "uname", "fc-list"))

COLUMNS = (
    "internal error",
    "crash",
    "traceback",
    "foreign line",
    "hang",
    "memory",
    "touched outside",
    "read outside",
    "half-written",
    "left behind",
    "wrong answer",
)


@dataclass(frozen=True, slots=True)
class Place:
    """Where one case lies: everything the program may touch is in `case` and `tmp`."""

    root: Path

    @property
    def case(self) -> Path:
        return self.root / "case"

    @property
    def parts(self) -> Path:
        return self.case / "parts"

    @property
    def project(self) -> Path:
        return self.case / "project"

    @property
    def outside(self) -> Path:
        return self.root / "outside"

    @property
    def cwd(self) -> Path:
        return self.root / "cwd"

    @property
    def tmp(self) -> Path:
        return self.root / "tmp"


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What is laid out, what is called, and what is right.

    Parameters
    ----------
    kind, name
        Together they name the case for good, given the seed.
    build
        Lays it out.
    calls
        Words of each call; `{parts}`, `{project}`, `{case}` and `{outside}` are filled in.
    codes
        Exit codes that are right for the last call; an earlier one may have any but 3.
    keeps
        Files in the case's folder whose content no call may change.
    check
        What else must be true afterwards, or why not.
    is_full
        Whether nothing is left out to save time.
    is_real
        Whether the installed command is started as a user starts it, with its other processes, and not watched.
    bytes_most
        Bound on the address space.
    """

    kind: str
    name: str
    build: Callable[[Place], None]
    calls: tuple[tuple[str, ...], ...] = (("survey", "{parts}", "{project}", "--quick"),)
    codes: frozenset[int] = frozenset((0, 1, 2))
    keeps: tuple[str, ...] = ()
    check: Callable[[Place], str] | None = None
    is_full: bool = False
    is_real: bool = False
    bytes_most: int = ADDRESS_BYTES


@dataclass(slots=True)
class Verdict:
    """What came of a case: how the calls ended and what was wrong, by column."""

    codes: list[int] = field(default_factory=list)
    wrong: dict[str, str] = field(default_factory=dict)
    said: str = ""
    peak_bytes: int = 0
    cpu_s: float = 0.0

    def add(self, column: str, what: str) -> None:
        self.wrong.setdefault(column, what)


@dataclass(slots=True)
class _Run:
    code: int
    out: str
    err: str
    touched: list[list[Any]]
    peak_bytes: int
    cpu_s: float
    end: str


def lay_out_sentinels(folder: Path) -> None:
    """Files outside of the case, as a stranger's project might try to reach them."""
    (folder / "pf").mkdir(parents=True)
    (folder / "secret.txt").write_text(f"{MARK}\n")
    (folder / "secret.toml").write_text(f'name = "{MARK}"\n')
    (folder / "secret.json").write_text(json.dumps({"name": MARK}))
    (folder / "secret.html").write_text(f"<p>{MARK}</p>")
    (folder / "secret.mtl").write_text(f"newmtl {MARK}\nmap_Kd secret.png\n")
    (folder / "secret.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><title>{MARK}</title><text y="8">{MARK}</text>'
        "</svg>"
    )
    (folder / "secret.png").write_bytes(marked_png())
    (folder / "secret.bin").write_bytes(MARK.encode() * 40)
    (folder / "pf" / "kept.txt").write_text(f"{MARK} kept\n")
    solid = (
        f"solid {MARK}\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 9 0 0\nvertex 0 9 0\nendloop\nendfacet\n"
    )
    (folder / "outside.stl").write_text(f"{solid}endsolid {MARK}\n")


def marked_png() -> bytes:
    """A picture whose pixels are the mark."""
    pixels = (MARK.encode() + b"~~~")[:27]
    rows = b"".join(b"\0" + pixels for _ in range(9))
    head = struct.pack(">IIBBBBB", 9, 9, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", head), (b"IDAT", zlib.compress(rows)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data)) for name, data in chunks
    )


def tree(folder: Path, without: Iterable[str] = (".cache",)) -> dict[str, str]:
    """Every file and link below a folder, with a digest; what may be deleted at any time does not count.

    Nor does the file that runs lock: it holds nothing and stays.
    """
    found = {}
    skipped = frozenset(without)
    for base, folders, files in os.walk(folder):
        folders[:] = sorted(set(folders) - skipped)
        for name in sorted([*files, *(one for one in folders if Path(base, one).is_symlink())]):
            path = Path(base, name)
            if name == ".lock" and path.is_file() and not path.is_symlink():
                continue
            found[os.path.relpath(path, folder)] = _content(path)
    return found


def _content(path: Path) -> str:
    if path.is_symlink():
        return f"-> {path.readlink()}"
    if not path.is_file():
        return "special"
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as exc:
        return f"unreadable: {exc.strerror}"


def leave_out() -> None:
    """Leave out what costs seconds and decides nothing here: the contact sheet, and drawing in other processes."""
    from assembler import pipeline

    if not hasattr(pipeline, "contact_sheet"):
        raise AssertionError("the parts of the program that the harness leaves out have moved: look at leave_out")
    pipeline.contact_sheet = lambda project: project.folder.root / "contact-sheet.pdf"  # type: ignore[assignment]
    draw_alone()


def draw_alone() -> None:
    """Have everything done in the one process that is watched."""
    from assembler import parallel

    if not hasattr(parallel, "workers"):
        raise AssertionError("the parts of the program that the harness leaves out have moved: look at draw_alone")
    parallel.workers = lambda count=None: contextlib.nullcontext()  # type: ignore[assignment]


def load() -> None:
    """Load what any command needs, so that children need not."""
    import assembler.cache
    import assembler.cli
    import assembler.pipeline

    for module in (assembler.cli, assembler.pipeline):
        assert module.__file__
    # The key of this user is made here: what is confined could not keep it, and every cache would be cold.
    assembler.cache._user_key()
    # The first survey loads what is loaded late; a warning about it would be no fault of a case.
    sys.stdout.flush()
    sys.stderr.flush()


def judge(case: Case, root: Path, cpu_s: int = CPU_S) -> Verdict:
    """Lay out a case in an empty folder, run its calls, and say everything that is wrong.

    Parameters
    ----------
    case
        What to do.
    root
        Folder for it, emptied before.
    cpu_s
        What takes more processor time hangs.
    """
    shutil.rmtree(root, ignore_errors=True)
    place = Place(root)
    for folder in (place.case, place.parts, place.cwd, place.tmp):
        folder.mkdir(parents=True)
    lay_out_sentinels(place.outside)
    case.build(place)
    verdict = Verdict()
    size = sum(path.lstat().st_size for path in place.case.rglob("*") if not path.is_symlink() and path.is_file())
    outside, beside, first = tree(place.outside), tree(place.cwd), tree(place.case, without=())
    for number, call in enumerate(case.calls):
        words = [_filled(word, place) for word in call]
        before = tree(place.case)
        run = _run(words, place, case, cpu_s)
        is_last = number == len(case.calls) - 1
        verdict.codes.append(run.code)
        verdict.said += f"$ assembler {' '.join(words)}\n{run.out[-2000:]}{run.err[-4000:]}"
        verdict.peak_bytes, verdict.cpu_s = max(verdict.peak_bytes, run.peak_bytes), verdict.cpu_s + run.cpu_s
        _judge_end(verdict, run, case.codes if is_last else _CODES)
        _judge_lines(verdict, run)
        if run.peak_bytes > MEMORY_BYTES and size < SMALL_INPUT_BYTES:
            verdict.add("memory", f"{run.peak_bytes / 1e9:.1f} GB for {size / 1e6:.1f} MB of input")
        _judge_trees(verdict, run, case, place, before)
        _judge_touched(verdict, run, place)
    if tree(place.outside) != outside or tree(place.cwd) != beside:
        verdict.add("touched outside", "the files outside are not what they were")
    for found in _marked(place.case, verdict.said, first):
        verdict.add("read outside", f"the mark of an outside file is in {found}")
    if case.check is not None and (wrong := case.check(place)):
        verdict.add("wrong answer", wrong)
    return verdict


def _filled(word: str, place: Place) -> str:
    for name in ("parts", "project", "case", "outside"):
        word = word.replace(f"{{{name}}}", str(getattr(place, name)))
    return word


def _judge_end(verdict: Verdict, run: _Run, codes: frozenset[int]) -> None:
    if run.end == "hang":
        verdict.add("hang", f"stopped after {run.cpu_s:.0f} s of processor time")
    elif run.code < 0:
        verdict.add("crash", signal.Signals(-run.code).name)
    elif run.code not in _CODES:
        verdict.add("internal error", _last(run.err))
    elif run.code not in codes:
        verdict.add("wrong answer", f"exit {run.code}, not {' or '.join(map(str, sorted(codes)))}")
    if run.code == 2 and not any(_OWN_LINE.match(line) for line in run.err.splitlines()):
        verdict.add("wrong answer", "exit 2 without a word")
    if run.end == "left":
        verdict.add("left behind", "a process")


def _last(text: str) -> str:
    return text.strip().splitlines()[-1][:LINE] if text.strip() else ""


def _judge_lines(verdict: Verdict, run: _Run) -> None:
    if "Traceback (most recent call last)" in run.err + run.out:
        verdict.add("traceback", _last(run.err))
    # Only the ends of lines that a terminal knows: a name may hold others.
    for line in run.err.rstrip("\n").split("\n") if run.err else ():
        is_own = _OWN_LINE.match(line) or _PROGRESS.match(line)
        if not is_own or len(line) > LINE or _CONTROL.search(line):
            verdict.add("foreign line", f"{len(line)} characters: {line[:160]!r}")


def _judge_trees(verdict: Verdict, run: _Run, case: Case, place: Place, before: dict[str, str]) -> None:
    after = tree(place.case)
    if run.code in (2, 3) or run.code < 0:
        changed = sorted(name for name in before.keys() | after.keys() if before.get(name) != after.get(name))
        # Who is killed from outside may leave scratch files; who refuses may leave nothing.
        if run.code >= 0 and changed:
            verdict.add("half-written", f"after exit {run.code}: {', '.join(changed[:4])}")
    for name in sorted(before):
        kept = name.startswith("parts/") or any(name == keep or name.startswith(f"{keep}/") for keep in case.keeps)
        if kept and before[name] != after.get(name):
            verdict.add("half-written", f"{name} is not what it was")
    left = [path.name for path in place.tmp.iterdir()]
    if run.code in _CODES and left:
        verdict.add("left behind", f"in the temporary folder: {', '.join(sorted(left)[:3])}")
    for path in place.tmp.iterdir():
        shutil.rmtree(path) if path.is_dir() and not path.is_symlink() else path.unlink()


def _judge_touched(verdict: Verdict, run: _Run, place: Place) -> None:
    case, tmp, outside = (os.path.realpath(one) for one in (place.case, place.tmp, place.outside))
    for event, path, is_write in run.touched:
        inside = path.startswith((f"{case}/", f"{tmp}/", "/dev/null")) or path in (case, tmp)
        if event in ("subprocess.Popen", "os.system", "os.posix_spawn", "os.exec"):
            verdict.add("touched outside", f"started {path[:120]}")
        elif event.startswith("socket."):
            verdict.add("touched outside", f"{event} {path[:120]}")
        elif is_write and not inside and not path.startswith(("pipe:", "/dev/", "/proc/")):
            verdict.add("touched outside", f"{event} {path.replace(str(place.root), '')}")
        elif event == "open" and path.startswith(f"{outside}/"):
            verdict.add("read outside", f"opened {path.replace(str(place.root), '')}")


def _marked(folder: Path, said: str, before: dict[str, str]) -> Iterator[str]:
    """What was made and holds the mark of a file outside, in the open or packed into a PDF."""
    if MARK in said:
        yield "what was said"
    mark = MARK.encode()
    for name, content in sorted(tree(folder, without=()).items()):
        path = folder / name
        if content == before.get(name) or path.is_symlink() or not path.is_file():
            continue
        if path.lstat().st_size < SMALL_INPUT_BYTES:
            data = path.read_bytes()
            if mark in data or (name.endswith(".pdf") and mark in _unpacked(data)):
                yield name


def _unpacked(data: bytes) -> bytes:
    import pikepdf

    streams = []
    with suppress(pikepdf.PdfError), pikepdf.open(io.BytesIO(data)) as pdf:
        for one in pdf.objects:
            if isinstance(one, pikepdf.Stream):
                with suppress(pikepdf.PdfError, NotImplementedError, RuntimeError):
                    streams.append(one.read_bytes())
    return b"\n".join(streams)


def _run(words: list[str], place: Place, case: Case, cpu_s: int) -> _Run:
    names = [place.root / name for name in ("out", "err", "touched")]
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child == 0:
        _child(words, place, case, names, cpu_s)
    status, usage, is_hung = _waited(child)
    code = os.waitstatus_to_exitcode(status)
    is_hung = is_hung or code == -signal.SIGXCPU
    is_left = _leave_nobody(child)
    out, err = (path.read_text(encoding="utf-8", errors="replace") for path in names[:2])
    touched = [json.loads(line) for line in names[2].read_text(errors="replace").splitlines() if line.endswith("]")]
    end = "hang" if is_hung else "left" if is_left and not is_hung else ""
    return _Run(code, out, err, touched, usage.ru_maxrss * 1024, usage.ru_utime + usage.ru_stime, end)


def _waited(child: int) -> tuple[int, resource.struct_rusage, bool]:
    start, spent, since, pause = time.monotonic(), 0.0, time.monotonic(), 0.002
    is_hung = False
    while True:
        pid, status, usage = os.wait4(child, os.WNOHANG)
        if pid:
            return status, usage, is_hung
        time.sleep(pause)
        pause = min(pause * 1.5, 0.1)
        now = time.monotonic()
        if now - start > 2.0 and not is_hung:
            new = _spent_s(child)
            if new > spent:
                spent, since = new, now
            if now - since > IDLE_S or now - start > WALL_S:
                is_hung = True
                with suppress(ProcessLookupError):
                    os.killpg(child, signal.SIGKILL)


def _session(leader: int) -> list[tuple[int, str, float]]:
    """Processes of a session: id, state, processor time."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with suppress(OSError):
                fields = (entry / "stat").read_text(errors="replace").rpartition(")")[2].split()
                if int(fields[3]) == leader:
                    ticks = int(fields[11]) + int(fields[12]) + int(fields[13]) + int(fields[14])
                    found.append((int(entry.name), fields[0], ticks / os.sysconf("SC_CLK_TCK")))
    return found


def _spent_s(leader: int) -> float:
    return sum(spent for _, _, spent in _session(leader))


def _leave_nobody(leader: int) -> bool:
    """End what a case has left running; whether there was anything after two seconds."""
    try:
        os.killpg(leader, 0)
    except ProcessLookupError:
        return False
    until = time.monotonic() + 2.0
    while time.monotonic() < until:
        if not any(state != "Z" for _, state, _ in _session(leader)):
            return False
        time.sleep(0.05)
    for pid, _, _ in _session(leader):
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
    return True


def _child(words: list[str], place: Place, case: Case, names: list[Path], cpu_s: int) -> NoReturn:
    """The command, as the shell would start it, in a process of its own."""
    code = 70
    try:
        faulthandler.disable()
        os.setsid()
        os.chdir(place.cwd)
        for number, path in enumerate((Path("/dev/null"), *names[:2])):
            handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | (os.O_TRUNC if number else 0), 0o600)
            os.dup2(handle, number)
            os.close(handle)
        sys.stdout = open(1, "w", encoding="utf-8", errors="strict", closefd=False)  # noqa: PTH123, SIM115
        sys.stderr = open(2, "w", encoding="utf-8", errors="backslashreplace", closefd=False)  # noqa: PTH123, SIM115
        os.environ.update(TMPDIR=str(place.tmp), PWD=str(place.cwd), PYTHONDONTWRITEBYTECODE="1")
        tempfile.tempdir = None
        sys.dont_write_bytecode = True
        resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 5))
        resource.setrlimit(resource.RLIMIT_AS, (case.bytes_most, case.bytes_most))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        signal.signal(signal.SIGINT, signal.default_int_handler)
        if case.is_real:
            names[2].write_bytes(b"")
            os.execv(COMMAND, [COMMAND, *words])
        if case.is_full:
            draw_alone()
        else:
            leave_out()
        _watch(os.open(names[2], os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_TRUNC, 0o600))
        sys.argv = ["assembler", *words]
        from assembler import cli

        cli.run()
    except SystemExit as exc:
        code = exc.code if isinstance(exc.code, int) else 1
    except BaseException:  # noqa: BLE001  as the interpreter itself would do it
        traceback.print_exc()
        code = 1
    finally:
        with suppress(BaseException):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(code)


_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_PATHS = {
    "os.rename": (0, 1),
    "os.link": (0, 1),
    "os.symlink": (1,),
    "os.remove": (0,),
    "os.rmdir": (0,),
    "os.mkdir": (0,),
    "os.chmod": (0,),
    "os.truncate": (0,),
    "os.utime": (0,),
}
_STARTS = ("subprocess.Popen", "os.system", "os.posix_spawn", "os.exec")


def _watch(log: int) -> None:
    """Write down from now on which files are touched, what is started and who is called."""
    is_busy = False

    def hook(event: str, given: tuple[Any, ...]) -> None:
        nonlocal is_busy
        if is_busy or not (event in _PATHS or event in _STARTS or event in ("open", "socket.connect")):
            return
        is_busy = True
        try:
            for path, is_write in _told(event, given):
                os.write(log, (json.dumps([event, path, is_write]) + "\n").encode())
        finally:
            is_busy = False

    sys.addaudithook(hook)


def _told(event: str, given: tuple[Any, ...]) -> Iterator[tuple[str, bool]]:
    if event in _STARTS:
        program = os.fspath(given[0]) if isinstance(given[0], (str, bytes, os.PathLike)) else given[0]
        name = Path(os.fsdecode(program)).name if isinstance(program, (str, bytes)) else str(program)
        if name.split()[0] not in _LOADERS and "/sbin/ldconfig" not in str(given[1]):
            yield f"{name} {given[1]}"[:400], True
        return
    if event == "socket.connect":
        yield str(given[1]), True
        return
    # Relative to a folder that is already open: whoever opened that was seen.
    if event != "open" and isinstance(given[-1], int) and given[-1] >= 0 and event != "os.truncate":
        return
    for index in _PATHS.get(event, (0,)):
        one = given[index]
        if isinstance(one, (str, bytes, os.PathLike)):
            text = os.fsdecode(one)
            real = os.path.realpath(text) if event == "open" else _beside(text)
            is_write = event != "open" or (isinstance(given[2], int) and bool(given[2] & _WRITES))
            # Reading is of interest only where a case has put something to be found.
            if is_write or "/outside/" in real:
                yield real, is_write


def _beside(text: str) -> str:
    """The place of a name itself, whatever it may lead to."""
    return os.path.join(os.path.realpath(os.path.dirname(text) or "."), os.path.basename(text))  # noqa: PTH118, PTH119, PTH120


def interrupted(_: int, __: FrameType | None) -> NoReturn:
    """Have the harness end with what it has found so far."""
    raise KeyboardInterrupt
