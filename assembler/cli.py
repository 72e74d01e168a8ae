"""The command line: calls, progress, exit codes. It knows no geometry, and it loads the program only when needed."""

from __future__ import annotations

import argparse
import datetime
import errno
import json
import math
import os
import re
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

    from tqdm import tqdm

    from assembler.cache import Cache
    from assembler.engineering.questions import Decision
    from assembler.figure.findings import Finding
    from assembler.figure.plan import Plan
    from assembler.progress import Counted
    from assembler.project import Project

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
        from difflib import get_close_matches

        from assembler.errors import on_one_line

        chosen, *known = re.findall(r"'([^']+)'", message) if "invalid choice: '" in message else [""]
        near = get_close_matches(chosen, known, n=1)
        if known:
            message = f"there is no {chosen!r}; " + (
                f"did you mean {near[0]}?" if near else f"one of {', '.join(known)}"
            )
        self.exit(BAD_INPUT, f"{self.prog}: {on_one_line(message, 200)}; see '{self.prog} --help'\n")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="assembler",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description="Makes an illustrated build book from the part meshes of a figure.",
        epilog="""\
A figure goes this way:
  assembler survey exports heron                  read the parts, find joints and bolts, write the project 'heron'
  assembler explain heron/figure.toml open_min    what a key of figure.toml means; edit the file, answer the questions
  assembler check heron                           findings, and why each step stands where it stands
  assembler book heron                            a draft of all documents, in heron/books/draft
  assembler book heron --issue                    the book for the crew, frozen as the revision of figure.toml
  assembler record heron 1 --at 2031-04-07T14:30 --temp 18    step 1 is done: says when its hold ends

Lengths are mm, masses kg, times minutes, temperatures Celsius, in every file and on every call.
Exit codes: 0 done; 1 done, with at least one 'stop' finding; 2 the input or the call cannot be used;
3 internal error; 130 stopped by Ctrl-C (143: by the system). Nothing is half-written then.
'assembler COMMAND --help' tells more of each command.""",
    )
    parser.add_argument("--version", action="version", version=f"assembler {__version__}")
    calls = parser.add_subparsers(dest="call", required=True, metavar="COMMAND", parser_class=_Parser)

    def command(name: str, what: str, example: str) -> argparse.ArgumentParser:
        return calls.add_parser(
            name, help=what, description=f"{what[0].upper()}{what[1:]}.", epilog=f"Example: {example}"
        )

    def of_project(name: str, what: str, example: str) -> argparse.ArgumentParser:
        parser = command(name, what, example)
        parser.add_argument("project", type=_path, metavar="PROJECT_DIR", help="project folder, made by survey")
        return parser

    survey = command("survey", "find joints, bolts and flanges in a folder of parts", "assembler survey exports heron")
    survey.add_argument(
        "parts",
        type=_path,
        metavar="PARTS_DIR",
        help="folder of STL, OBJ, PLY, 3MF, GLB or OFF files, each in its place",
    )
    survey.add_argument(
        "project", type=_path, metavar="PROJECT_DIR", help="folder for the project files; made if missing"
    )
    survey.add_argument(
        "--unit",
        choices=("mm", "cm", "m", "in"),
        help="unit of mesh files that state none (first survey only; default: mm)",
    )
    survey.add_argument(
        "--quick", action="store_true", help="do not look for parts whose surface passes through itself (default: look)"
    )
    _memory_option(survey)
    _json_option(survey)

    check = of_project(
        "check", "list findings, and why each step stands where it stands", "assembler check heron --step 12"
    )
    check.add_argument("--step", metavar="NUMBER", help="explain this step only (default: all)")
    _memory_option(check)
    _json_option(check)

    book = of_project("book", "write crew book, engineer's file, shop file and pocket cards", "assembler book heron")
    book.add_argument("-o", "--out", type=_path, metavar="OUT", help="folder for the book (default: books/draft)")
    book.add_argument(
        "--issue", action="store_true", help="freeze the book as the revision named in figure.toml (default: a draft)"
    )
    book.add_argument(
        "--only",
        choices=("crew", "engineer", "shop", "cards", "install"),
        help="write one document, as a draft (default: all)",
    )
    by = book.add_mutually_exclusive_group()
    by.add_argument(
        "--workers", type=_count, metavar="N", help="processes that draw and set pages (default: one for each core)"
    )
    by.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="draw and set pages on the workers of this scheduler, such as tcp://HOST:8786 (default: this machine)",
    )
    _memory_option(book)
    _json_option(book)

    recut = of_project("recut", "say what differs from an earlier book", "assembler recut heron")
    recut.add_argument(
        "--since", type=_path, metavar="BOOK", help="folder of an earlier complete book (default: the last issued one)"
    )
    _memory_option(recut)
    _json_option(recut)

    record = of_project(
        "record",
        "log that a step was carried out; says when its hold ends",
        "assembler record heron 9 --at 2031-04-07T14:30 --temp 18 --by Mara",
    )
    record.add_argument("step", metavar="STEP", help="number of the step, as printed")
    record.add_argument(
        "--at", required=True, metavar="TIME", help="local time, such as 2031-04-07T14:30; not in the future"
    )
    record.add_argument("--temp", required=True, type=_celsius, metavar="C", help="temperature of the parts, Celsius")
    record.add_argument("--by", metavar="NAME", default="", help="who did it (default: not said)")
    record.add_argument(
        "--although", metavar="REASON", default="", help="record it as a deviation where something speaks against it"
    )
    record.add_argument("--book", metavar="REVISION", help="book that was followed (default: latest issued, or draft)")
    _json_option(record)

    status = of_project(
        "status", "say how the project stands: decisions, findings, built, holds, next", "assembler status heron"
    )
    _json_option(status)

    show = of_project("show", "draw one joint, part, section or step, in seconds", "assembler show heron J03 --open")
    show.add_argument(
        "name", metavar="NAME", help="J03: a joint; P07: a part; S1: a section; 12: a step; into PROJECT_DIR/shown"
    )
    show.add_argument("--open", action="store_true", help="open the picture in the system's viewer")
    _memory_option(show)

    worksheet = of_project("worksheet", "print the whole calculation of one joint", "assembler worksheet heron J03")
    worksheet.add_argument("joint", metavar="JOINT", help="id of the joint, such as J03")
    _json_option(worksheet)

    explain = command(
        "explain",
        "say what a key of figure.toml means: default, source, effect",
        "assembler explain heron/figure.toml open_min",
    )
    explain.add_argument("file", type=_path, metavar="FIGURE_TOML", help="figure.toml of a project")
    explain.add_argument(
        "key",
        nargs="?",
        metavar="KEY",
        help="such as adhesive.open_min, open_min, or adhesive (default: a list of all)",
    )
    return parser


def _celsius(text: str) -> float:
    """A temperature as a number."""
    try:
        return float(text.replace("\u2212", "-"))
    except ValueError:
        raise argparse.ArgumentTypeError(f"got {text!r}, give degrees Celsius as a number, such as 18.5") from None


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
    # The work is done. While Python clears up it gives signals back to the system, and one would end it there.
    for wanted in (signal.SIGINT, signal.SIGTERM):
        signal.signal(wanted, signal.SIG_IGN)
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
    """Progress on stderr: a bar with the time that is left on a terminal, elsewhere a line for each stage."""

    def __init__(self) -> None:
        self._start = time.monotonic()
        self._bar: tqdm[NoReturn] | None = None

    def __call__(self, message: str) -> None:
        from assembler.errors import on_one_line
        from assembler.progress import Counted

        if isinstance(message, Counted):
            if sys.stderr.isatty():
                self._count(message)
            return
        self._close()
        print(f"[{time.monotonic() - self._start:6.1f} s] {on_one_line(message)}", file=sys.stderr, flush=True)

    def _count(self, message: Counted) -> None:
        from tqdm import tqdm

        if self._bar is None or self._bar.desc.removesuffix(": ") != message.stage:
            self._close()
            form = "{desc}: {n_fmt} of {total_fmt} {bar} {remaining} left"
            # No thread beside the worker processes.
            tqdm.monitor_interval = 0
            self._bar = tqdm(total=message.total, desc=message.stage, bar_format=form, leave=False, file=sys.stderr)
        self._bar.update(message.done - self._bar.n)
        if message.done >= message.total:
            self._close()

    def _close(self) -> None:
        if self._bar is not None:
            self._bar.close()
            self._bar = None


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
        unnamed = any(name not in str(finding.message) for name in finding.about)
        about = f"{', '.join(finding.about)}: " if unnamed else ""
        _say(f"{finding.level.value:<5} {about}{finding.message!s}")
        if finding.remedy:
            _say(f"      -> {finding.remedy!s}")


def _print_decisions(decisions: Sequence[Decision]) -> None:
    print("\nNeeds a decision:")
    for number, decision in enumerate(decisions, 1):
        _say(f" {number}. {decision.question!s}")
        _say(f"    assumed: {decision.assumed!s}")
        _say(f"    to type: {decision.line!s}")
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
    from assembler.errors import Fault, InputError

    if call.only and call.issue:
        raise InputError(
            Fault(file="", place="--only", wrong="an issue has all documents", right="leave out --only or --issue")
        )
    with _workers(call) as executor:
        report = pipeline.write_project_book(
            call.project,
            out=call.out,
            is_issue=call.issue,
            progress=_Progress(),
            executor=executor,
            only=(call.only,) if call.only else (),
        )
    if call.json:
        _print_json(report.as_record())
    else:
        _print_findings(report.findings)
        if report.is_unchanged:
            _say(f"Nothing has changed since this book was issued: {report.pdf}")
        else:
            for one in report.documents:
                _say(f"{one.pages} pages, {one.size_bytes / 1e6:.1f} MB: {one.pdf}")
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


def _show(call: argparse.Namespace) -> int:
    from assembler.showing import show_one

    progress = _Progress()

    def planned(project: Project, kept: Cache) -> Plan:
        # Most pictures need no plan, and are there sooner without what plans it.
        from assembler import pipeline

        return pipeline.plan_project(project, progress, kept).plan

    picture = show_one(call.project, call.name, planner=planned, progress=progress)
    _say(str(picture))
    if call.open:
        _open(picture)
    return DONE


def _explain(call: argparse.Namespace) -> int:
    from assembler.projectfiles.figurekeys import explain_key

    for line in explain_key(call.file, call.key):
        _say(line)
    return DONE


def _open(picture: Path) -> None:
    """Have the system show a file."""
    import shutil
    import subprocess

    from assembler.errors import Fault, InputError

    opener = shutil.which("xdg-open") or shutil.which("open")
    if opener is None:
        right = f"open it by hand: {picture}"
        raise InputError(Fault(file="", place="--open", wrong="this machine has no xdg-open and no open", right=right))
    subprocess.Popen([opener, str(picture)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


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
    "show": _show,
    "explain": _explain,
}
