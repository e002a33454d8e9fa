"""Reliability analytics for lamp fleets: life models from censored hour logs, replacement ages and spare stock."""

from __future__ import annotations

from relamp._core import Table, __build__, __version__
from relamp.errors import (
    DomainError,
    FileMissingError,
    InputError,
    InternalError,
    IoError,
    LimitError,
    NotConvergedWarning,
    Problem,
    RefusedError,
    RelampError,
    RelampWarning,
    StoppedError,
    StudyError,
    WeakDataWarning,
)

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
    "Table",
    "WeakDataWarning",
    "__build__",
    "__version__",
]
