"""What can go wrong: one base class, one child for each kind of error, and the warnings.

Every error names the place: which input, which row, which value, what was expected.
"""

from __future__ import annotations

from collections import namedtuple

# As in `typing`, which is not imported: it would take half of the time of `import relamp`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "DomainError",
    "FileMissingError",
    "InputError",
    "InternalError",
    "IoError",
    "LimitError",
    "NotConvergedWarning",
    "Problem",
    "RefusedError",
    "RelampError",
    "RelampWarning",
    "StoppedError",
    "StudyError",
    "WeakDataWarning",
]


_Problem = namedtuple("_Problem", ("slug", "what", "input", "row", "line", "column", "got", "expected"))


class Problem(_Problem):
    """One thing that is wrong, with a stable slug.

    Rows are counted from 1 without the header, lines are physical lines of a file.
    """

    __slots__ = ()

    slug: str
    what: str
    input: str
    row: int | None
    line: int | None
    column: str | None
    got: str
    expected: str


class RelampError(Exception):
    """Base of every error this package raises.

    Attributes
    ----------
    problems : list of Problem
        Every problem at once, in the order met.
    slug : str
        Stable name of the first problem, such as ``lives.entry_not_below``.
    hint : str or None
        What the caller can do, or the best bound that still holds.
    """

    def __init__(
        self, message: str = "", problems: Iterable[Problem | tuple[object, ...]] = (), hint: str | None = None
    ) -> None:
        super().__init__(message)
        self.problems: list[Problem] = [p if isinstance(p, Problem) else Problem._make(p) for p in problems]
        self.slug: str = self.problems[0].slug if self.problems else ""
        self.hint: str | None = hint


class InputError(RelampError, ValueError):
    """A value handed in, or a row of data, is not acceptable."""


class StudyError(RelampError, ValueError):
    """A study file or another declaration is not acceptable."""


class RefusedError(RelampError):
    """The question has no defensible answer from these data; the hint holds the best bound there is."""


class DomainError(RelampError, ValueError):
    """An argument lies outside the domain of a function."""


class LimitError(RelampError):
    """A size or hour limit was exceeded."""


class StoppedError(RelampError):
    """The caller stopped the work."""


class IoError(RelampError, OSError):
    """The operating system refused a read or write."""


class FileMissingError(IoError, FileNotFoundError):
    """A file that was named does not exist."""


class InternalError(RelampError, RuntimeError):
    """A defect of this library; please report it."""


class RelampWarning(UserWarning):
    """Base of every warning this package gives."""


class NotConvergedWarning(RelampWarning):
    """A search stopped before it settled; the result says why, and lives made from it need an acceptance."""


class WeakDataWarning(RelampWarning):
    """The data support the answer only weakly; the message says how far it can be trusted."""


for _class in (
    Problem, RelampError, InputError, StudyError, RefusedError, DomainError, LimitError, StoppedError, IoError,
    FileMissingError, InternalError, RelampWarning, NotConvergedWarning, WeakDataWarning,
):  # fmt: skip
    _class.__module__ = "relamp"
del _class
