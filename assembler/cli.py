"""The command line: calls, progress, exit codes. It knows no geometry, and it loads the program only when needed."""

from __future__ import annotations

import argparse
import datetime
import errno
import json
import math
import os
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, suppress
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any, NoReturn

from assembler import __version__

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from assembler.engineering.questions import Decision
    from assembler.figure.findings import Finding

DONE, DONE_WITH_STOPS, BAD_INPUT, INTERNAL = 0, 1, 2, 3
STOPPED = 128
"""Exit code of a run that a signal has ended, as shells count: 130 for Ctrl-C, 143 for a request to end."""
_REMEDIES = {
    errno.ENOSPC: "free space on the disk, then call again",
    errno.EDQUOT: "free space, or ask for more, then call again",
    errno.EROFS: "copy the project to a disk that can be written",
    errno.EACCES: "give yourself the right to read and write it",
    errno.EPERM: "give yourself the right to read and write it",
    errno.ENAMETOOLONG: "use a shorter name",
    errno.ENOTDIR: "put a folder in the place of the file",
    errno.EISDIR: "put a file in the place of the folder",
    errno.ELOOP: "put what it leads to in the place of the link",
    errno.EEXIST: "take away what lies there, or name another place",
}
_stopped_by = 0


def _path(text: str) -> Path:
    if not text.strip():
        raise argparse.ArgumentTypeError("the path is empty: is a variable of the shell not set?")
    return Path(text)


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        from assembler.errors import on_one_line

        self.exit(BAD_INPUT, f"{self.prog}: {on_one_line(message, 200)}; see '{self.prog} --help'\n")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="assembler",
        description="Makes an illustrated build book from the part meshes of a figure.",
        epilog="Exit codes: 0 done; 1 done, with at least one 'stop' finding; 2 the input or the call cannot be used; "
        "3 internal error; 130 stopped by Ctrl-C (143: by the system). Nothing is half-written then.",
    )
    parser.add_argument("--version", action="version", version=f"assembler {__version__}")
    calls = parser.add_subparsers(dest="call", required=True, metavar="COMMAND", parser_class=_Parser)

    survey = calls.add_parser("survey", help="find joints, bolts and flanges in a folder of parts")
    survey.add_argument("parts", type=_path, metavar="PARTS_DIR", help="folder of STL, OBJ, PLY, 3MF or GLB files")
    survey.add_argument("project", type=_path, metavar="PROJECT_DIR", help="folder for the project files")
    survey.add_argument(
        "--unit", choices=("mm", "cm", "m", "in"), help="unit of mesh files that state none (first survey only)"
    )
    survey.add_argument(
        "--quick", action="store_true", help="do not look for parts whose surface passes through itself"
    )
    _memory_option(survey)
    _json_option(survey)

    check = calls.add_parser("check", help="list findings, and why each step stands where it stands")
    check.add_argument("project", type=_path, metavar="PROJECT_DIR")
    check.add_argument("--step", metavar="NUMBER", help="explain this step only")
    _memory_option(check)
    _json_option(check)

    book = calls.add_parser("book", help="write the build book")
    book.add_argument("project", type=_path, metavar="PROJECT_DIR")
    book.add_argument("-o", "--out", type=_path, metavar="OUT", help="folder for the book (default: books/draft)")
    book.add_argument("--issue", action="store_true", help="freeze the book as the revision named in figure.toml")
    by = book.add_mutually_exclusive_group()
    by.add_argument(
        "--workers", type=_count, metavar="N", help="processes that draw and set pages (default: one for each core)"
    )
    by.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="draw and set pages on the workers of this scheduler, such as tcp://HOST:8786",
    )
    _memory_option(book)
    _json_option(book)

    recut = calls.add_parser("recut", help="say what differs from an earlier book")
    recut.add_argument("project", type=_path, metavar="PROJECT_DIR")
    recut.add_argument("--since", type=_path, required=True, metavar="BOOK", help="folder of an earlier complete book")
    _memory_option(recut)
    _json_option(recut)

    record = calls.add_parser("record", help="log that a step was carried out; says when its hold ends")
    record.add_argument("project", type=_path, metavar="PROJECT_DIR")
    record.add_argument("step", metavar="STEP", help="number of the step")
    record.add_argument(
        "--at", required=True, metavar="TIME", help="local time, such as 2025-05-05T14:30; not in the future"
    )
    record.add_argument("--temp", required=True, type=float, metavar="C", help="temperature of the parts, Celsius")
    record.add_argument("--by", metavar="NAME", default="", help="who did it")
    record.add_argument(
        "--although", metavar="REASON", default="", help="record it as a deviation where something speaks against it"
    )
    record.add_argument("--book", metavar="REVISION", help="book that was followed (default: latest issued, or draft)")
    _json_option(record)

    status = calls.add_parser("status", help="say how the project stands: decisions, findings, built, holds, next")
    status.add_argument("project", type=_path, metavar="PROJECT_DIR")
    _json_option(status)

    worksheet = calls.add_parser("worksheet", help="print the whole calculation of one joint")
    worksheet.add_argument("project", type=_path, metavar="PROJECT_DIR")
    worksheet.add_argument("joint", metavar="JOINT", help="id of the joint, such as J03")
    _json_option(worksheet)
    return parser


def _count(text: str) -> int:
    """A whole number above 0."""
    number = int(text) if text.isdecimal() else 0
    if number < 1:
        raise argparse.ArgumentTypeError(f"got {text!r}, give a whole number from 1 on")
    return number


def _gib(text: str) -> float:
    """Memory that is worth allowing."""
    try:
        gib = float(text)
    except ValueError:
        gib = math.nan
    if not 0.5 <= gib <= 1024.0:
        raise argparse.ArgumentTypeError(f"got {text!r}, give GiB from 0.5 to 1024")
    return gib


def _memory_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--memory", type=_gib, metavar="GIB", help="memory that one part or grid may take (default: 4); more is refused"
    )


def _json_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print the result as JSON on stdout")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments
        Words of the call without the program's name; None: those of this process.

    Returns
    -------
    int
        Exit code.
    """
    call = _parser().parse_args(arguments)
    from assembler.errors import DrawingError, InputError, on_one_line
    from assembler.roombound import MEMORY_GIB, allow_memory

    # A second call in one process, as tests make it, starts anew.
    allow_memory(getattr(call, "memory", None) or MEMORY_GIB)
    try:
        return _CALLS[call.call](call)
    except InputError as exc:
        for fault in exc.faults:
            print(f"assembler: {fault}", file=sys.stderr)
        return BAD_INPUT
    except DrawingError as exc:
        print(f"assembler: {on_one_line(str(exc))}", file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        return _stopped()
    except OSError as exc:
        return _stopped() if _stopped_by else _report_system(exc)
    except Exception as exc:  # noqa: BLE001  the one place where an unexpected fault becomes a report
        # A library that was interrupted may say so in its own words.
        return _stopped() if _stopped_by else _report_internal(exc)


def run() -> NoReturn:
    """The command: `main`, and the end of the process."""
    for wanted in (signal.SIGINT, signal.SIGTERM):
        signal.signal(wanted, _stop)
    code = main()
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except BrokenPipeError:
            # Who read along has gone; what is left must not be written when the process ends either.
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        except OSError as exc:
            code = _report_system(exc)
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    sys.exit(code)


def _stop(number: int, frame: FrameType | None) -> None:
    """End the run in order; while a library is being loaded, at once: few of them can be interrupted there."""
    global _stopped_by  # noqa: PLW0603  a signal handler has nowhere else to say it
    _stopped_by = number
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            _stopped()
            os._exit(STOPPED + number)
        frame = frame.f_back
    raise KeyboardInterrupt


def _stopped() -> int:
    with suppress(OSError):
        print("assembler: stopped; nothing was half-written", file=sys.stderr, flush=True)
    return STOPPED + (_stopped_by or signal.SIGINT)


def _report_system(exc: OSError) -> int:
    """What the system refused, with the file: nothing that the program could mend."""
    from assembler.errors import Fault

    names = [str(name) for name in (exc.filename, exc.filename2) if name is not None]
    remedy = _REMEDIES.get(exc.errno or 0, "mend that, then call again")
    fault = Fault(file=" -> ".join(names) or "the system", place="", wrong=exc.strerror or str(exc), right=remedy)
    with suppress(OSError):
        print(f"assembler: {fault}", file=sys.stderr)
    return BAD_INPUT


def _report_internal(exc: Exception) -> int:
    from assembler.errors import on_one_line

    where = "no log could be written"
    with (
        suppress(OSError),
        tempfile.NamedTemporaryFile(
            "w", prefix="assembler-", suffix=".log", delete=False, encoding="utf-8", errors="backslashreplace"
        ) as log,
    ):
        log.write(f"assembler {__version__}, Python {sys.version}\n{' '.join(sys.argv)}\n\n")
        traceback.print_exception(exc, file=log)
        where = f"the log is {log.name}"
    with suppress(OSError):
        print(
            f"assembler: internal error ({type(exc).__name__}: {on_one_line(str(exc), 80)}); {where}: "
            "please report it with the project's figure.toml and joints.toml",
            file=sys.stderr,
        )
    return INTERNAL


class _Progress:
    """Lines on stderr with the time since the start."""

    def __init__(self) -> None:
        self._start = time.monotonic()

    def __call__(self, message: str) -> None:
        from assembler.errors import on_one_line

        print(f"[{time.monotonic() - self._start:6.1f} s] {on_one_line(message)}", file=sys.stderr, flush=True)


def _exit_code(findings: Sequence[Finding]) -> int:
    return DONE_WITH_STOPS if any(finding.level == "stop" for finding in findings) else DONE


def _print_json(record: Any) -> None:
    text = json.dumps(record, indent=1, ensure_ascii=False)
    # Control signs and signs that turn the direction of writing: what speaks to a terminal is written as JSON escapes.
    print("".join(_escaped(sign) for sign in text))


def _escaped(sign: str) -> str:
    if sign.isprintable() or sign == "\n":
        return sign
    return json.dumps(sign)[1:-1]


def _say(line: str) -> None:
    """A line of a result: whatever names it holds, it stays one line, and text."""
    from assembler.errors import on_one_line

    print(on_one_line(line, None))


def _print_findings(findings: Sequence[Finding]) -> None:
    for finding in findings:
        # Most messages name what they are about; the rest get it put before them.
        unnamed = any(name not in finding.message for name in finding.about)
        about = f"{', '.join(finding.about)}: " if unnamed else ""
        _say(f"{finding.level.value:<5} {about}{finding.message}")
        if finding.remedy:
            _say(f"      -> {finding.remedy}")


def _print_decisions(decisions: Sequence[Decision]) -> None:
    print("\nNeeds a decision:")
    for number, decision in enumerate(decisions, 1):
        _say(f" {number}. {decision.question}")
        _say(f"    assumed: {decision.assumed}")
        _say(f"    to type: {decision.line}")
    words = [decision.about.value for decision in decisions if decision.about.value != "unbolted"]
    if words:
        _say(f"Then take its word ({', '.join(words)}) out of 'assumed' under [figure] in figure.toml.")


def _survey(call: argparse.Namespace) -> int:
    from assembler import pipeline

    report = pipeline.survey_project(
        call.parts, call.project, unit=call.unit, progress=_Progress(), is_quick=call.quick
    )
    if call.json:
        _print_json(report.as_record())
    else:
        for line in report.table():
            _say(line)
        _print_findings(report.findings)
        if report.questions:
            _print_decisions(report.questions)
        print()
        _say(f"Check the joints on {report.contact_sheet}")
        _say(f"Next: {_after_survey(call, report.findings)}")
    return _exit_code(report.findings)


def _after_survey(call: argparse.Namespace, findings: Sequence[Finding]) -> str:
    """What to do when a survey has ended."""
    if any(finding.level == "stop" for finding in findings):
        again = f"assembler survey {_quoted(call.parts)} {_quoted(call.project)}"
        return f"mend what 'stop' and 'warn' say, then again: {again}"
    return f"assembler check {_quoted(call.project)}"


def _check(call: argparse.Namespace) -> int:
    from assembler import pipeline

    report = pipeline.check_project(call.project, step=call.step, progress=_Progress())
    if call.json:
        _print_json(report.as_record())
    else:
        _print_findings(report.plan.findings)
        for line in report.lines():
            _say(line)
        print()
        _say(f"Next: assembler book {_quoted(call.project)}")
    return _exit_code(report.plan.findings)


def _book(call: argparse.Namespace) -> int:
    from assembler import pipeline

    with _workers(call) as executor:
        report = pipeline.write_project_book(
            call.project, out=call.out, is_issue=call.issue, progress=_Progress(), executor=executor
        )
    if call.json:
        _print_json(report.as_record())
    else:
        _print_findings(report.findings)
        if report.is_unchanged:
            _say(f"Nothing has changed since this book was issued: {report.pdf}")
        else:
            _say(f"Book: {report.pdf}")
    return _exit_code(report.findings)


def _workers(call: argparse.Namespace) -> AbstractContextManager[Executor | None]:
    """Who draws and sets pages."""
    if call.cluster is None:
        from assembler.parallel import workers

        return workers(call.workers)
    try:
        from assembler.cluster import cluster_workers
    except ModuleNotFoundError as exc:
        from assembler.errors import Fault, InputError

        right = "install it: pip install 'assembler[cluster]'"
        raise InputError(Fault(file="", place="--cluster", wrong=f"{exc.name} is not installed", right=right)) from exc
    # Workers stand elsewhere.
    call.project, call.out = call.project.absolute(), call.out and call.out.absolute()
    return cluster_workers(call.cluster, call.project)


def _recut(call: argparse.Namespace) -> int:
    from assembler import pipeline

    report = pipeline.compare_project(call.project, since=call.since, progress=_Progress())
    if call.json:
        _print_json(report.as_record())
    else:
        for line in report.lines():
            _say(line)
    return _exit_code(report.findings)


def _record(call: argparse.Namespace) -> int:
    from assembler import pipeline
    from assembler.errors import Fault, InputError
    from assembler.projectfiles.builtlog import FIRST_YEAR, LAST_YEAR

    try:
        at = datetime.datetime.fromisoformat(call.at)
        # A day alone would be its midnight, and the hold would end too early.
        if not FIRST_YEAR <= at.year <= LAST_YEAR or ":" not in call.at:
            raise ValueError("no time, or not of our time")
    except ValueError as exc:
        raise InputError(
            Fault(file="", place="--at", wrong=f"got {call.at!r}", right="give a time such as 2025-05-05T14:30")
        ) from exc
    report = pipeline.record_step(
        call.project,
        step=call.step,
        at=at,
        temperature_c=call.temp,
        book=call.book,
        by=call.by.strip(),
        although=call.although.strip(),
        progress=_Progress(),
    )
    if call.json:
        _print_json(report.as_record())
    else:
        for line in report.lines():
            _say(line)
    return DONE


def _worksheet(call: argparse.Namespace) -> int:
    from assembler import pipeline

    sheet = pipeline.joint_worksheet(call.project, joint=call.joint, progress=_Progress())
    if call.json:
        _print_json(sheet.as_record())
    else:
        for line in sheet.lines():
            _say(line)
    return DONE


def _status(call: argparse.Namespace) -> int:
    from assembler.status import project_status

    status = project_status(call.project, now=datetime.datetime.now().astimezone())
    if call.json:
        _print_json(status.as_record())
    else:
        for line in status.lines():
            _say(line)
        if status.decisions:
            _print_decisions(status.decisions)
    return DONE_WITH_STOPS if status.findings and status.findings["stop"] else DONE


def _quoted(path: Path) -> str:
    text = str(path)
    return f"'{text}'" if " " in text else text


_CALLS: dict[str, Callable[[argparse.Namespace], int]] = {
    "survey": _survey,
    "check": _check,
    "book": _book,
    "recut": _recut,
    "record": _record,
    "worksheet": _worksheet,
    "status": _status,
}
