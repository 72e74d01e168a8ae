"""The one owner of Jinja2: finds a template beside the project, in the source tree or in the wheel, and fills it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import jinja2
import jinja2.sandbox
import markupsafe

from assembler.errors import Fault, TemplateError
from assembler.filegate import read_text
from assembler.publishing.bounds import TooMuch, bounded
from assembler.words import template_folder

MOST_SECONDS = 10.0
"""Processor time to fill one template; the longest seen takes 0.1 s."""
MOST_BYTES = 512_000_000
"""Memory to fill one template."""
MOST_CHARACTERS = 20_000_000
"""Longest page: its logo of 2 MB takes 3 million, the words of a step some 100,000."""
_MOST_BITS = 1024
_NOT_IN_CSS = re.compile(r"[\"\\<>&\x00-\x1f]")


class _Compiled(jinja2.BytecodeCache):
    """Compiled templates of this run: book, labels and change sheet fill the same ones, each with names of its own."""

    def __init__(self) -> None:
        self._code: dict[str, bytes] = {}

    def load_bytecode(self, bucket: jinja2.bccache.Bucket) -> None:
        """A bucket keeps code only if it was compiled from the same source."""
        if bucket.key in self._code:
            bucket.bytecode_from_string(self._code[bucket.key])

    def dump_bytecode(self, bucket: jinja2.bccache.Bucket) -> None:
        self._code[bucket.key] = bucket.bytecode_to_string()


_COMPILED = _Compiled()


class _Sandbox(jinja2.sandbox.ImmutableSandboxedEnvironment):
    """Reaches nothing but the values it is given, and changes none of them."""

    # Signals come in between two steps of Python: what takes hours in a single one is refused before.
    intercepted_binops = frozenset(("*", "**"))

    def call_binop(self, context: jinja2.runtime.Context, operator: str, left: Any, right: Any) -> Any:
        """Products of numbers of ordinary size only, and no powers."""
        whole = [value for value in (left, right) if isinstance(value, int)]
        if operator == "**" or sum(value.bit_length() for value in whole) > _MOST_BITS:
            raise jinja2.exceptions.SecurityError(f"numbers as large as those of '{operator}' are not for templates")
        return super().call_binop(context, operator, left, right)


class Templates:
    """Page templates; a file of the same name in `overrides` wins over the built-in one.

    Templates may come from strangers: they run in a sandbox, with bounds on time, memory and length.

    Parameters
    ----------
    overrides
        Folder beside the project, or None.
    names
        What every template may use (the word catalogue, ...).
    """

    def __init__(self, overrides: Path | None, names: Mapping[str, object]) -> None:
        self._overrides = overrides
        self._environment = _Sandbox(
            loader=jinja2.FunctionLoader(self._source),
            undefined=jinja2.StrictUndefined,
            autoescape=jinja2.select_autoescape(enabled_extensions=("html", "svg")),
            trim_blocks=True,
            lstrip_blocks=True,
            keep_trailing_newline=True,
            bytecode_cache=_COMPILED,
        )
        self._environment.filters["css_string"] = css_string
        self._environment.globals.update(names)

    def filled(self, name: str, **values: object) -> str:
        """A template filled with values.

        Raises
        ------
        TemplateError
            If the template is missing, may not be read, does not parse, uses something that is not there or goes
            beyond its bounds; names file and line.
        """
        text = self._rendered(name, values)
        if len(text) > MOST_CHARACTERS:
            raise self._fault(name, 0, f"gives {len(text)} characters, at most {MOST_CHARACTERS} are allowed")
        return text

    def _rendered(self, name: str, values: Mapping[str, object]) -> str:
        try:
            with bounded(processor_s=MOST_SECONDS, more_bytes=MOST_BYTES):
                return self._environment.get_template(name).render(**values)
        except jinja2.TemplateSyntaxError as exc:
            raise self._fault(exc.filename or exc.name or name, exc.lineno, exc.message or "") from exc
        except jinja2.TemplateNotFound as exc:
            raise self._fault(str(exc.name or name), 0, "there is no such template") from exc
        except _WHILE_FILLING as exc:
            file, line = _innermost_template(exc)
            raise self._fault(file or name, line, _said(exc)) from exc

    def _source(self, name: str) -> tuple[str, str, None] | None:
        """Text and file of a template; None where there is none."""
        parts = jinja2.loaders.split_template_path(name)
        if self._overrides is not None:
            # A project's templates lie in the project, whatever links there are.
            own = self._overrides.joinpath(*parts)
            with suppress(FileNotFoundError):
                return read_text(own, root=self._overrides.parent, error=TemplateError), str(own), None
        built_in = template_folder().joinpath(*parts)
        with suppress(FileNotFoundError):
            return read_text(built_in, root=None, error=TemplateError), str(built_in), None
        return None

    def _fault(self, file: str, line: int, wrong: str) -> TemplateError:
        is_own = self._overrides is not None and Path(file).is_relative_to(self._overrides)
        right = "mend the line, or remove the file to get the built-in template" if is_own else "mend the line"
        return TemplateError(Fault(file=str(file), place=f"line {line}" if line else "", wrong=wrong, right=right))


_WHILE_FILLING = (
    jinja2.TemplateRuntimeError,
    TypeError,
    ValueError,
    LookupError,
    ArithmeticError,
    AttributeError,
    RuntimeError,
    MemoryError,
    SyntaxError,
    TooMuch,
)
"""What comes of a template that cannot be filled: all that its expressions can raise, and Python's compiler."""


def _said(exc: Exception) -> str:
    if isinstance(exc, RecursionError):
        return "calls or includes itself without end, or is nested too deep"
    if isinstance(exc, MemoryError):
        return f"takes more than {MOST_BYTES // 1_000_000} MB of memory"
    return " ".join(str(exc).split())[:200] or type(exc).__name__


def css_string(text: str) -> markupsafe.Markup:
    """A text as a string of CSS, safe inside a `<style>` element."""
    return markupsafe.Markup('"' + _NOT_IN_CSS.sub(lambda found: f"\\{ord(found[0]):x} ", text) + '"')


def _innermost_template(exc: BaseException) -> tuple[str, int]:
    """File and line of the deepest template frame: Jinja2 rewrites the traceback to template lines."""
    found = ("", 0)
    frame = exc.__traceback__
    while frame is not None:
        file = frame.tb_frame.f_code.co_filename
        if file.endswith((".html", ".css", ".svg")):
            found = (file, frame.tb_lineno)
        frame = frame.tb_next
    return found
