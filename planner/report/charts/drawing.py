"""Drawing surface of every chart, and its files that are the same for the same figures."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from planner.figures import Figure as Estimate
from planner.report import style
from planner.report.document import Picture
from planner.report.wording import Wording, labelled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.transforms import Bbox

CAPTION_INCHES_PER_LINE = 0.16
TITLE_INCHES_PER_LINE = 0.21
EDGE_INCHES = 0.12
TITLE_POINTS, CAPTION_POINTS = 11.5, 8
LINE_SPACING = 1.25
GAP_POINTS = 3.0
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
    """A part of a chart that a reader may point at, and what is said of it."""

    figure_id: str  # the figure that is drawn there
    words: str  # its name and value, as printed
    # from where to where it is drawn, in the chart's own numbers; None for its whole width or
    # height
    x: tuple[float, float] | None = None
    y: tuple[float, float] | None = None
    # whether they are those of the axes inside the chart's axes, as on a map
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
    """A chart before it is drawn."""

    name: str  # stem of its files
    title: str  # the finding
    caption: str  # how to read it, and what it does not show
    alt_text: str  # the chart in words
    plot: Callable[[Axes], None]  # draws on axes
    height_inches: float = style.CHART_HEIGHT_INCHES  # height without title and caption
    section: str = ""  # key of the section of the year-end report in which it stands
    spots: tuple[Spot, ...] = ()  # parts that a reader may point at


def row_spots(figures: Mapping[str, Estimate], wording: Wording) -> tuple[Spot, ...]:
    """Name the rows of a chart whose first figure is uppermost."""
    top = len(figures) - 1
    return tuple(
        Spot(figure.id, labelled(name, wording.figure(figure)), y=(top - at - 0.5, top - at + 0.5))
        for at, (name, figure) in enumerate(figures.items())
    )


def column_spots(figures: Mapping[str, Estimate], wording: Wording) -> tuple[Spot, ...]:
    """Name the columns of a chart that are shown, the first at the left."""
    return tuple(
        Spot(figure.id, labelled(name, wording.figure(figure)), x=(place - 0.5, place + 0.5))
        for place, (name, figure) in enumerate(figures.items())
        if figure.value is not None
    )


def is_narrow(axes: Axes) -> bool:
    """Whether the chart is drawn for a telephone."""
    return bool(axes.get_figure(root=True).get_figwidth() <= NARROW_INCHES)  # type: ignore[union-attr]


def render_chart(drawing: Drawing) -> tuple[bytes, bytes, tuple[Placed, ...]]:
    """Draw once, as PNG and as SVG, and tell where its spots are."""
    with _settings():
        canvas = _drawn(drawing)
        return _as_png(drawing, canvas), _as_svg(drawing, canvas), _placed(drawing, canvas)


def write_picture(folder: Path, name: str, png: bytes, svg: bytes) -> None:
    """Write a chart as PNG and as SVG, under its name."""
    for kind, content in (("png", png), ("svg", svg)):
        (folder / f"{name}.{kind}").write_bytes(content)


def pictured(drawing: Drawing) -> Picture:
    """Draw a chart for paper, page and telephone; its caption stands beside it."""
    bare = replace(drawing, caption="")
    png, svg, spots = render_chart(bare)
    tall = replace(bare, height_inches=drawing.height_inches * TALLER)
    with _settings():
        canvas = _drawn(tall, NARROW_INCHES)
        narrow_svg, narrow_spots = _as_svg(bare, canvas), _placed(bare, canvas)
    return Picture(
        drawing.name,
        drawing.title,
        drawing.caption or drawing.title,
        drawing.alt_text,
        png,
        svg,
        drawing.section,
        narrow_svg,
        spots,
        narrow_spots,
    )


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


# savefig draws everything twice, to find a renderer and for good: backends draw once
def _as_png(drawing: Drawing, canvas: Figure) -> bytes:
    out = io.BytesIO()
    metadata = {"Software": None, "Title": drawing.title}
    canvas.canvas.print_png(out, metadata=metadata)  # type: ignore[attr-defined]
    return out.getvalue()


def _as_svg(drawing: Drawing, canvas: Figure) -> bytes:
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    out, kept = io.BytesIO(), canvas.canvas
    metadata = {"Date": None, "Creator": None, "Title": drawing.title}
    FigureCanvasSVG(canvas).print_svg(out, metadata=metadata)  # type: ignore[no-untyped-call]
    canvas.set_canvas(kept)
    canvas.dpi = style.CHART_DOTS_PER_INCH
    described = f"<title>{escape(drawing.title)}</title>\n <desc>{escape(drawing.alt_text)}</desc>"
    text = out.getvalue().decode()
    return text.replace(f"<title>{escape(drawing.title)}</title>", described, 1).encode()


def with_white_edge(width: float) -> list[Any]:
    """Give a line a white edge, so that it stands out from what it crosses."""
    from matplotlib.patheffects import Normal, Stroke

    return [Stroke(linewidth=width + 2.4, foreground="white"), Normal()]


def name_target(axes: Axes, words: str, x: float, y: float) -> None:
    """Name the line of a target at its end."""
    looks: dict[str, Any] = {"color": style.ACCENT, "weight": "bold", "va": "center"}
    axes.annotate(words, (x, y), (5, 0), textcoords="offset points", **looks)


def tick_words(tick: float, wording: Wording) -> str:
    """Write a number on an axis with the decimals it needs."""
    return wording.number(tick, len(f"{tick:.4f}".rstrip("0").partition(".")[2]))


def _drawn(drawing: Drawing, width: float = style.CHART_WIDTH_INCHES) -> Figure:
    """Draw, with everything in its place: what is saved of it needs no further layout."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.transforms import Bbox

    room = (width - 2 * EDGE_INCHES) * POINTS_PER_INCH
    title = _lines(drawing.title, FontProperties(weight="bold", size=TITLE_POINTS), room)
    caption = _lines(drawing.caption, FontProperties(size=CAPTION_POINTS), room)
    head = TITLE_INCHES_PER_LINE * len(title) + 2 * EDGE_INCHES
    foot = CAPTION_INCHES_PER_LINE * len(caption) + EDGE_INCHES * (1 + bool(caption))
    height = drawing.height_inches + head + foot
    canvas = Figure(figsize=(width, height), dpi=style.CHART_DOTS_PER_INCH)
    FigureCanvasAgg(canvas)
    axes = canvas.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    drawing.plot(axes)
    left = EDGE_INCHES / width
    spaced: dict[str, Any] = {"linespacing": LINE_SPACING}
    words, top = "\n".join(title), 1 - EDGE_INCHES / height
    canvas.text(left, top, words, va="top", size=TITLE_POINTS, weight="bold", **spaced)
    words, low = "\n".join(caption), EDGE_INCHES / height
    canvas.text(left, low, words, va="bottom", size=CAPTION_POINTS, color=style.MUTED, **spaced)
    _settle(canvas, axes, Bbox.from_extents(0.005, foot / height, 0.99, 1 - head / height))
    return canvas


def _settle(canvas: Figure, axes: Axes, room: Bbox) -> None:
    """Fit axes and their words into the room; where words leave the picture, shorten the bars."""
    renderer = canvas.canvas.get_renderer()  # type: ignore[attr-defined]
    axes.set_position(room.bounds)
    for _ in range(MOST_ROUNDS):
        _fit(canvas, axes, room, renderer)
        least = [max(LEAST_SHARE, min(one)) for one in _too_long(canvas, axes, renderer)]
        if min(least) == 1.0:
            break
        start, end = axes.get_xlim()
        reach = end - start
        axes.set_xlim(end - reach / least[0], start + reach / least[1])


def _fit(canvas: Figure, axes: Axes, room: Bbox, renderer: RendererAgg) -> None:
    """Leave as much around the axes as the words of their axes need.

    In two passes, since a smaller picture has fewer ticks, whose words may be narrower.
    """
    from matplotlib.transforms import TransformedBbox

    outer = TransformedBbox(room, canvas.transFigure)
    gap = GAP_POINTS * canvas.dpi / POINTS_PER_INCH
    for _ in range(2):
        frame = axes.bbox
        words = axes.get_tightbbox(renderer, for_layout_only=True) or frame
        left, low = outer.x0 + gap + frame.x0 - words.x0, outer.y0 + gap + frame.y0 - words.y0
        right = outer.x1 - gap - (words.x1 - frame.x1)
        top = outer.y1 - gap - (words.y1 - frame.y1)
        (x0, y0), (x1, y1) = canvas.transFigure.inverted().transform([(left, low), (right, top)])
        axes.set_position((x0, y0, x1 - x0, y1 - y0))


def _too_long(canvas: Figure, axes: Axes, renderer: RendererAgg) -> tuple[list[float], list[float]]:
    """Find by how much bars must shrink, to the left and to the right, for the words at ends."""
    from matplotlib.text import Annotation

    point = canvas.dpi / POINTS_PER_INCH
    left, right = axes.bbox.x0, canvas.bbox.x1 - 1.5 * point
    shares: tuple[list[float], list[float]] = [1.0], [1.0]
    for words in axes.texts:
        if not isinstance(words, Annotation):
            continue
        box, anchor = words.get_window_extent(renderer), axes.transData.transform(words.xy)[0]
        if box.x1 > right and left < anchor:
            shares[1].append((right - (box.x1 - anchor) - left) / (anchor - left))
        if box.x0 < left + 4 * point and anchor < right:
            room = right - left - 6 * point
            shares[0].append((room - (anchor - box.x0)) / (right - anchor))
    return shares


def _lines(text: str, font: FontProperties, room_points: float) -> list[str]:
    """Break text into lines that fit the chart, as wide letters and digits need it."""
    space = _width_points(" ", font)
    lines: list[list[str]] = []
    used = 0.0
    # a no-break space holds a number and its unit together
    for word in filter(None, text.split(" ")):
        width = _width_points(word, font)
        if not lines or used + space + width > room_points:
            lines.append([])
            used = -space
        lines[-1].append(word)
        used += space + width
    return [" ".join(line) for line in lines]


@lru_cache(maxsize=4096)
def _width_points(word: str, font: FontProperties) -> float:
    from matplotlib.textpath import text_to_path

    width, _, _ = text_to_path.get_text_width_height_descent(word, font, ismath=False)
    return float(width)
