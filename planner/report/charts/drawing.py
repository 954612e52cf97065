"""Drawing surface of every chart, and its files that are the same for the same figures."""

from __future__ import annotations

import io
import textwrap
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from planner.report import style

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from contextlib import AbstractContextManager

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties

    from planner.figures import Figure as Estimate
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


NARROW_INCHES, TALLER = 4.0, 1.3
"""Width of a chart for a telephone, and how much taller its words make it."""

MOST_ROUNDS, LEAST_SHARE = 4, 0.3
"""Times that bars are shortened to make room for words, and how far at most in one of them."""


@dataclass(frozen=True)
class Spot:
    """A part of a chart that a reader may point at, and what is said of it.

    Parameters
    ----------
    figure_id
        The figure that is drawn there.
    words
        Its name and value, as printed.
    x, y
        From where to where it is drawn, in the chart's own numbers; None for its whole width
        or height.
    is_inset
        Whether they are those of the axes inside the chart's axes, as on a map.
    """

    figure_id: str
    words: str
    x: tuple[float, float] | None = None
    y: tuple[float, float] | None = None
    is_inset: bool = False


@dataclass(frozen=True)
class Placed:
    """A spot on the drawn picture: left, top, width and height as shares of the picture."""

    figure_id: str
    words: str
    left: float
    top: float
    width: float
    height: float


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
    spots
        Parts that a reader may point at.
    """

    name: str
    title: str
    caption: str
    alt_text: str
    plot: Callable[[Axes], None]
    height_inches: float = style.CHART_HEIGHT_INCHES
    section: str = ""
    spots: tuple[Spot, ...] = ()


def row_spots(figures: Mapping[str, Estimate], wording: Wording) -> tuple[Spot, ...]:
    """Name the rows of a chart whose first figure is uppermost."""
    top = len(figures) - 1
    return tuple(
        Spot(figure.id, f"{name}: {wording.figure(figure)}", y=(top - at - 0.5, top - at + 0.5))
        for at, (name, figure) in enumerate(figures.items())
    )


def column_spots(figures: Mapping[str, Estimate], wording: Wording) -> tuple[Spot, ...]:
    """Name the columns of a chart that are shown, the first at the left."""
    return tuple(
        Spot(figure.id, f"{name}: {wording.figure(figure)}", x=(place - 0.5, place + 0.5))
        for place, (name, figure) in enumerate(figures.items())
        if figure.value is not None
    )


def is_narrow(axes: Axes) -> bool:
    """Whether the chart is drawn for a telephone."""
    return bool(axes.get_figure(root=True).get_figwidth() <= NARROW_INCHES)  # type: ignore[union-attr]


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
    png, svg, _ = whole_chart(drawing)
    return png, svg


def whole_chart(drawing: Drawing) -> tuple[bytes, bytes, tuple[Placed, ...]]:
    """Draw once, as PNG and as SVG, and tell where its spots are."""
    with _settings():
        canvas = _drawn(drawing)
        png = _saved(canvas, "png", {"Software": None, "Title": drawing.title})
        return png, _as_svg(drawing, canvas), _placed(drawing, canvas)


def narrow_chart(drawing: Drawing) -> tuple[bytes, tuple[Placed, ...]]:
    """Draw for a telephone, as SVG, and tell where its spots are."""
    tall = replace(drawing, height_inches=drawing.height_inches * TALLER)
    with _settings():
        canvas = _drawn(tall, NARROW_INCHES)
        return _as_svg(drawing, canvas), _placed(drawing, canvas)


def _placed(drawing: Drawing, canvas: Figure) -> tuple[Placed, ...]:
    """Turn the spots from the chart's numbers into shares of the picture."""
    (axes,) = canvas.axes
    found = []
    for spot in drawing.spots:
        own = axes.child_axes[0] if spot.is_inset else axes
        x, y = spot.x or own.get_xlim(), spot.y or own.get_ylim()
        corners = own.transData.transform([(x[0], y[0]), (x[1], y[1])])
        (left, low), (right, high) = canvas.transFigure.inverted().transform(corners)
        sizes = (left, 1.0 - high, right - left, high - low)
        found.append(Placed(spot.figure_id, spot.words, *(round(float(one), 4) for one in sizes)))
    return tuple(found)


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


def _drawn(drawing: Drawing, width: float = style.CHART_WIDTH_INCHES) -> Figure:
    """Draw, with everything in its place: what is saved of it needs no further layout."""
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    bold = FontProperties(weight="bold", size=TITLE_POINTS)
    title = _lines(drawing.title, TITLE_WIDTH, bold, width)
    caption = _lines(drawing.caption, CAPTION_WIDTH, FontProperties(size=CAPTION_POINTS), width)
    head = TITLE_INCHES_PER_LINE * len(title) + 2 * EDGE_INCHES
    foot = CAPTION_INCHES_PER_LINE * len(caption) + EDGE_INCHES * (1 + bool(caption))
    height = drawing.height_inches + head + foot
    engine = ConstrainedLayoutEngine(
        rect=(0.005, foot / height, 0.985, drawing.height_inches / height)
    )
    canvas = Figure(figsize=(width, height), layout=engine)
    axes = canvas.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    drawing.plot(axes)
    left = EDGE_INCHES / width
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
    _settle(canvas, axes)
    return canvas


def _settle(canvas: Figure, axes: Axes) -> None:
    """Lay the chart out; where words at the end of a bar leave the picture, shorten the bars."""
    from matplotlib.text import Annotation

    engine = canvas.get_layout_engine()
    for _ in range(MOST_ROUNDS):
        engine.execute(canvas)  # type: ignore[union-attr]
        left, right = axes.bbox.x0, canvas.bbox.x1 - 2
        shares: tuple[list[float], list[float]] = [1.0], [1.0]
        for words in axes.texts:
            if not isinstance(words, Annotation):
                continue
            box, anchor = words.get_window_extent(), axes.transData.transform(words.xy)[0]
            if box.x1 > right and left < anchor:
                shares[1].append((right - (box.x1 - anchor) - left) / (anchor - left))
            if box.x0 < left + 6 and anchor < right:
                shares[0].append((right - left - 8 - (anchor - box.x0)) / (right - anchor))
        least = [max(LEAST_SHARE, min(one)) for one in shares]
        if min(least) == 1.0:
            break
        start, end = axes.get_xlim()
        reach = end - start
        axes.set_xlim(end - reach / least[0], start + reach / least[1])
    canvas.set_layout_engine("none")


def _lines(text: str, most: int, font: FontProperties, width: float) -> list[str]:
    """Break text into lines that fit the chart: wide letters and digits leave room for fewer."""
    room_points = (width - 2 * EDGE_INCHES) * POINTS_PER_INCH
    for characters in range(most, FEWEST_CHARACTERS, -1):
        lines = textwrap.wrap(text, characters)
        if all(_width_points(line, font) <= room_points for line in lines):
            return lines
    return textwrap.wrap(text, FEWEST_CHARACTERS)


def _width_points(line: str, font: FontProperties) -> float:
    from matplotlib.textpath import text_to_path

    width, _, _ = text_to_path.get_text_width_height_descent(line, font, ismath=False)
    return float(width)
