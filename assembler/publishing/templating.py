"""The one owner of Jinja2: finds a template beside the project, in the source tree or in the wheel, and fills it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import jinja2
import markupsafe

import assembler
from assembler.errors import Fault, TemplateError

_NOT_IN_CSS = re.compile(r"[\"\\<>&\x00-\x1f]")


def template_folder() -> Path:
    """Folder of the built-in templates: `assembler/_templates` in the wheel, `templates/` in the source tree.

    Raises
    ------
    TemplateError
        If neither folder is there: the installation is damaged.
    """
    package = Path(assembler.__file__).resolve().parent
    for folder in (package / "_templates", package.parent / "templates"):
        if (folder / "piece.html").is_file():
            return folder
    raise TemplateError(
        Fault(
            file="piece.html", place="", wrong="the built-in templates are missing", right="install the package again"
        )
    )


def template_text(name: str) -> str:
    """Text of a built-in file of the template folder."""
    return (template_folder() / name).read_text(encoding="utf-8")


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


class Templates:
    """Page templates; a file of the same name in `overrides` wins over the built-in one.

    Parameters
    ----------
    overrides
        Folder beside the project, or None.
    names
        What every template may use (the word catalogue, ...).
    """

    def __init__(self, overrides: Path | None, names: Mapping[str, object]) -> None:
        folders = [folder for folder in (overrides, template_folder()) if folder is not None]
        self._overrides = overrides
        self._environment = jinja2.Environment(
            loader=jinja2.FileSystemLoader(folders),
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
            If the template is missing, does not parse, or uses something that is not there; names file and line.
        """
        try:
            return self._environment.get_template(name).render(**values)
        except jinja2.TemplateSyntaxError as exc:
            raise self._fault(exc.filename or exc.name or name, exc.lineno, exc.message or "") from exc
        except jinja2.TemplateNotFound as exc:
            raise self._fault(str(exc.name or name), 0, "there is no such template") from exc
        except (jinja2.TemplateRuntimeError, TypeError, ValueError, LookupError, ArithmeticError) as exc:
            file, line = _innermost_template(exc)
            raise self._fault(file or name, line, str(exc)) from exc

    def _fault(self, file: str, line: int, wrong: str) -> TemplateError:
        is_own = self._overrides is not None and Path(file).is_relative_to(self._overrides)
        right = "mend the line, or remove the file to get the built-in template" if is_own else "mend the line"
        return TemplateError(Fault(file=str(file), place=f"line {line}" if line else "", wrong=wrong, right=right))


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
