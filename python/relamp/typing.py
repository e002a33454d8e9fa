"""What functions of this package accept, for type checkers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias

if TYPE_CHECKING:
    import numpy

__all__ = ["ArrowArray", "ArrowStream", "Column", "Progress", "TableLike"]


class ArrowStream(Protocol):
    """A column or table that hands itself over as an Arrow stream: of polars, pandas 3, pyarrow and others."""

    def __arrow_c_stream__(self, requested_schema: Any = None) -> Any:
        """The stream as a PyCapsule."""
        ...


class ArrowArray(Protocol):
    """A column or record batch that hands itself over as one Arrow array."""

    def __arrow_c_array__(self, requested_schema: Any = None) -> Any:
        """Schema and array as PyCapsules."""
        ...


class Progress(Protocol):
    """Told how far long work is; an exception in it stops the work."""

    def __call__(self, done: int, total: int, /) -> object:
        """Steps finished and steps announced so far."""
        ...


Column: TypeAlias = "Sequence[Any] | numpy.ndarray[Any, Any] | ArrowStream | ArrowArray"
"""One-dimensional numbers or texts; a missing value (None, null, NA) is not NaN."""

TableLike: TypeAlias = "Mapping[str, Column] | ArrowStream | ArrowArray"
"""A data frame, an Arrow table, or a dict of columns."""
