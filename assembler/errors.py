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

LONGEST = 600
"""Signs of a piece of a message: a list of some hundred ids still shows how it begins and ends."""


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
    """

    file: str
    place: str
    wrong: str
    right: str

    def __str__(self) -> str:
        where = ": ".join(_on_one_line(word) for word in (self.file, self.place) if word)
        head = f"{where}: {_on_one_line(self.wrong)}" if where else _on_one_line(self.wrong)
        return f"{head}; {_on_one_line(self.right)}" if self.right else head


def _on_one_line(text: str) -> str:
    """Text without line breaks and the like, and cut where a name or value from a file is endless."""
    plain = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)
    return plain if len(plain) <= LONGEST else f"{plain[: LONGEST // 2]} ... {plain[-LONGEST // 2 :]}"


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
