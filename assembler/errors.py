"""The exceptions of the program, one tree.

::

    AssemblerError              anything this program raises on purpose
    ├── InputError              the call or its files cannot be used (exit code 2)
    │   ├── ProjectFileError    figure.toml, joints.toml, ids.toml or built.toml
    │   ├── MeshFileError       a part file that is missing, unreadable or no mesh
    │   ├── TemplateError       a page template that cannot be filled
    │   └── BookFolderError     a book folder that may not or cannot be written or read
    └── DrawingError            no picture can be made on this machine (no off-screen renderer)

An `InputError` carries every fault of the input at once, one `Fault` a line.
"""

from __future__ import annotations

from dataclasses import dataclass

LONGEST = 300
"""Signs of a line on a terminal; whoever prints takes no more of it for the program's name or the time."""
_BEFORE = 15
_CUT = " ... "


def on_one_line(text: str, longest: int | None = LONGEST - _BEFORE) -> str:
    """Text as it may be shown: without line breaks, control signs and signs that turn the direction of writing.

    Parameters
    ----------
    text
        May hold names and values of files that came by mail.
    longest
        What is longer is cut in the middle: a list of some hundred ids still shows how it begins and ends. None: it
        stays as long as it is.
    """
    plain = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)
    if longest is None or len(plain) <= longest:
        return plain
    left = max(longest - len(_CUT), 2)
    return f"{plain[: left - left // 2]}{_CUT}{plain[-(left // 2) :]}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong with the input, in the words of the person who has to mend it.

    Parameters
    ----------
    file
        The file, as the user wrote it; empty for a fault of the call itself.
    place
        Where in the file: a key, an id, a line. May be empty.
    wrong
        What was found, with its unit.
    right
        What would be right, or what to do.
    line
        Of the file; 0: not known.
    """

    file: str
    place: str
    wrong: str
    right: str
    line: int = 0

    def __str__(self) -> str:
        line = f" (line {self.line})" if self.line else ""
        words = [on_one_line(word, None) for word in (self.file, self.place, self.wrong, self.right)]
        room = LONGEST - _BEFORE - len(": : ; ") - len(line)
        # The longest pieces give way, the short ones stay whole.
        most = next(most for most in range(room, 0, -1) if sum(min(len(word), most) for word in words) <= room)
        file, place, wrong, right = (on_one_line(word, most) for word in words)
        said = ": ".join(word for word in (file, place, wrong) if word) + line
        return f"{said}; {right}" if right else said


class AssemblerError(Exception):
    """Anything this program raises on purpose."""


class InputError(AssemblerError):
    """The call or its files cannot be used.

    Parameters
    ----------
    *faults
        Every fault of the input; at least one.
    """

    def __init__(self, *faults: Fault) -> None:
        if not faults:
            raise ValueError("an InputError needs at least one Fault")
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))

    def __reduce__(self) -> tuple[type[InputError], tuple[Fault, ...]]:
        # Raised in another process it comes back with its faults.
        return type(self), self.faults


class ProjectFileError(InputError):
    """A project file holds something that cannot be used."""


class MeshFileError(InputError):
    """A part file is missing, unreadable or no mesh."""


class TemplateError(InputError):
    """A page template cannot be read or filled."""


class BookFolderError(InputError):
    """A book folder may not be written, or is not a complete book."""


class DrawingError(AssemblerError):
    """No picture can be made on this machine."""
