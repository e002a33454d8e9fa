"""The figures that plots are drawn on. Imported only when something is drawn."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from relamp.plots import _style

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes

__all__ = ["Sheet", "svg"]


class Sheet(Figure):
    """A figure that a notebook shows by itself, without pyplot: no window and no global state are involved."""

    def __init__(self, width: float, height: float) -> None:
        super().__init__(figsize=(width, height), layout="constrained")
        FigureCanvasAgg(self)

    def _repr_png_(self) -> bytes:
        buffer = io.BytesIO()
        self.savefig(buffer, format="png", dpi=110)
        return buffer.getvalue()


def svg(draw: Callable[[Axes], Axes], width: float, height: float, name: str) -> str:
    """One drawing as SVG text for a page: no prolog, ids of its own, the same bytes every time."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    out = io.StringIO()
    # A page has a ground of its own, which shows through.
    with _style(**{"figure.facecolor": "none"}):
        figure: Figure = Figure(figsize=(width, height), layout="constrained")
        FigureCanvasSVG(figure)
        figure.add_subplot().set_facecolor("none")
        draw(figure.axes[0])
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = out.getvalue()
    text = text[text.index("<svg") :].rstrip()
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", text)
    return re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', text)
