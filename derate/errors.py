"""The errors a user can meet.

DerateError
├── InputError         (ValueError)    the lamp file, the profile or the command is wrong
├── SurroundingsError  (RuntimeError)  the machine lacks something: a compiler, a writable folder
│   └── BoardGoneError                 a real board no longer answers
└── FirmwareError      (RuntimeError)  a controller in C did on its core what no firmware may do

Each message is one sentence that names the file and key, what was found and what is due; where a
file holds several mistakes, a sentence each, a line each.
"""


class DerateError(Exception):
    """Anything the command line reports in a sentence a mistake, with exit status 2."""

    @property
    def sentences(self) -> tuple[str, ...]:
        """One sentence a mistake, as they were given."""
        return tuple(map(str, self.args))

    def __str__(self) -> str:
        return "\n".join(self.sentences)


class InputError(DerateError, ValueError):
    """What the user wrote cannot be used as it stands."""


class FirmwareError(DerateError, RuntimeError):
    """A controller in C left its memory, crashed its core or never returned."""


class SurroundingsError(DerateError, RuntimeError):
    """The input is fine, the machine is not ready for it."""


class BoardGoneError(SurroundingsError):
    """A real board answered for a while, and then no more."""


def printable(text: str) -> str:
    """A text in one line: signs that cannot be printed become escapes."""
    return "".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in text)
