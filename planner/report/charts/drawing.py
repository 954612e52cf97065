"""Drawing surface of every chart, and its files that are the same for the same figures."""

from __future__ import annotations

import io
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from planner.report import style

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties

    from planner.report.wording import Wording

TITLE_WIDTH = 78
CAPTION_WIDTH = 122
CAPTION_INCHES_PER_LINE = 0.16
TITLE_INCHES_PER_LINE = 0.21
EDGE_INCHES = 0.12
TITLE_POINTS, CAPTION_POINTS = 11.5, 8
FEWEST_CHARACTERS = 30
POINTS_PER_INCH = 72

SETTINGS: dict[Any, Any] = {
    "font.family": style.CHART_FONT,
    "font.size": 9,
    "text.color": style.INK,
    "text.parse_math": False,
    "axes.labelcolor": style.INK,
    "axes.edgecolor": style.MUTED,
    "axes.linewidth": 0.8,
    "xtick.color": style.MUTED,
    "ytick.color": style.MUTED,
    "xtick.labelcolor": style.INK,
    "ytick.labelcolor": style.INK,
    "svg.hashsalt": "planner",
}
"""Set while a chart is drawn; text is never read as a formula, whatever an area is called."""


@dataclass(frozen=True)
class Drawing:
    """A chart before it is drawn.

    Parameters
    ----------
    name
        Stem of its files.
    title
        The finding.
    caption
        How to read it, and what it does not show.
    alt_text
        The chart in words.
    plot
        Draws on axes.
    height_inches
        Height without title and caption.
    section
        Key of the section of the year-end report in which it stands.
    """

    name: str
    title: str
    caption: str
    alt_text: str
    plot: Callable[[Axes], None]
    height_inches: float = style.CHART_HEIGHT_INCHES
    section: str = ""


def png_bytes(drawing: Drawing) -> bytes:
    """Draw as PNG."""
    with _settings():
        return _saved(_drawn(drawing), "png", {"Software": None, "Title": drawing.title})


def svg_bytes(drawing: Drawing) -> bytes:
    """Draw as SVG, with title and description for those who hear it read."""
    with _settings():
        return _as_svg(drawing, _drawn(drawing))


def png_and_svg_bytes(drawing: Drawing) -> tuple[bytes, bytes]:
    """Draw once, as PNG and as SVG."""
    with _settings():
        canvas = _drawn(drawing)
        png = _saved(canvas, "png", {"Software": None, "Title": drawing.title})
        # the places of the first drawing serve the second
        canvas.set_layout_engine("none")
        return png, _as_svg(drawing, canvas)


def _settings() -> AbstractContextManager[None]:
    # matplotlib takes half a second to import: a command that draws nothing does without
    import matplotlib as mpl

    return mpl.rc_context(SETTINGS)


def _as_svg(drawing: Drawing, canvas: Figure) -> bytes:
    text = _saved(canvas, "svg", {"Date": None, "Creator": None, "Title": drawing.title})
    described = f"<title>{escape(drawing.title)}</title>\n <desc>{escape(drawing.alt_text)}</desc>"
    return text.decode().replace(f"<title>{escape(drawing.title)}</title>", described, 1).encode()


def cased(width: float) -> list[Any]:
    """Give a line a white edge, so that it stands out from what it crosses."""
    from matplotlib.patheffects import Normal, Stroke

    return [Stroke(linewidth=width + 2.4, foreground="white"), Normal()]


def tick_words(tick: float, wording: Wording) -> str:
    """Write a number on an axis with the decimals it needs."""
    return wording.number(tick, len(f"{tick:.4f}".rstrip("0").partition(".")[2]))


def _saved(canvas: Figure, form: str, metadata: dict[str, str | None]) -> bytes:
    out = io.BytesIO()
    canvas.savefig(out, format=form, dpi=style.CHART_DOTS_PER_INCH, metadata=metadata)
    return out.getvalue()


def _drawn(drawing: Drawing) -> Figure:
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    title = _lines(drawing.title, TITLE_WIDTH, FontProperties(weight="bold", size=TITLE_POINTS))
    caption = _lines(drawing.caption, CAPTION_WIDTH, FontProperties(size=CAPTION_POINTS))
    head = TITLE_INCHES_PER_LINE * len(title) + 2 * EDGE_INCHES
    foot = CAPTION_INCHES_PER_LINE * len(caption) + EDGE_INCHES * (1 + bool(caption))
    height = drawing.height_inches + head + foot
    engine = ConstrainedLayoutEngine(
        rect=(0.005, foot / height, 0.985, drawing.height_inches / height)
    )
    canvas = Figure(figsize=(style.CHART_WIDTH_INCHES, height), layout=engine)
    axes = canvas.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    drawing.plot(axes)
    left = EDGE_INCHES / style.CHART_WIDTH_INCHES
    canvas.text(
        left,
        1 - EDGE_INCHES / height,
        "\n".join(title),
        va="top",
        size=TITLE_POINTS,
        weight="bold",
        linespacing=1.25,
    )
    canvas.text(
        left,
        EDGE_INCHES / height,
        "\n".join(caption),
        va="bottom",
        size=CAPTION_POINTS,
        color=style.MUTED,
        linespacing=1.25,
    )
    return canvas


def _lines(text: str, most: int, font: FontProperties) -> list[str]:
    """Break text into lines that fit the chart: wide letters and digits leave room for fewer."""
    room_points = (style.CHART_WIDTH_INCHES - 2 * EDGE_INCHES) * POINTS_PER_INCH
    for characters in range(most, FEWEST_CHARACTERS, -1):
        lines = textwrap.wrap(text, characters)
        if all(_width_points(line, font) <= room_points for line in lines):
            return lines
    return textwrap.wrap(text, FEWEST_CHARACTERS)


def _width_points(line: str, font: FontProperties) -> float:
    from matplotlib.textpath import text_to_path

    width, _, _ = text_to_path.get_text_width_height_descent(line, font, ismath=False)
    return float(width)
