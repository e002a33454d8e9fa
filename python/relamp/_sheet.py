"""The figure that plots are drawn on. Imported only when something is drawn."""

from __future__ import annotations

import io

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

__all__ = ["Sheet"]


class Sheet(Figure):
    """A figure that a notebook shows by itself, without pyplot: no window and no global state are involved."""

    def __init__(self, width: float, height: float) -> None:
        super().__init__(figsize=(width, height), layout="constrained")
        FigureCanvasAgg(self)

    def _repr_png_(self) -> bytes:
        # The page of a notebook may be dark, and the figure has no ground of its own.
        buffer = io.BytesIO()
        self.savefig(buffer, format="png", dpi=110, facecolor="white")
        return buffer.getvalue()
