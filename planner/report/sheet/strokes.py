"""Strokes of the household pictures: a field ten by ten, round pens, a few soft colours."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.report import style

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes

    Scene = Callable[[Axes], None]

SIDE = 10.0
INCHES = 2.0
DOTS_PER_INCH = 200
PEN = 3.2
THIN = 2.0

WORM, LEAF, CARROT, CARD = "#D98A7B", "#8DB255", "#E8954A", "#D8B98A"
SOIL, BIN, PAPER, WATER = "#7A5C43", "#D5E6E7", "#FFFFFF", "#9CC7E0"
SUN, WARNING = "#F2C14E", "#C0392B"


def drawn(scene: Scene, file_format: str) -> bytes:
    """Draw a scene as "png" for Word or "svg" for the page; the same bytes each time."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    settings: dict[Any, Any] = {"svg.hashsalt": "planner", "font.family": style.CHART_FONT}
    with mpl.rc_context(settings):
        figure = Figure(figsize=(INCHES, INCHES))
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set(xlim=(0.0, SIDE), ylim=(0.0, SIDE), aspect="equal")
        axes.axis("off")
        scene(axes)
        out = io.BytesIO()
        undated = {"Date": None} if file_format == "svg" else {"Software": None}
        figure.savefig(
            out, format=file_format, dpi=DOTS_PER_INCH, metadata=undated, transparent=True
        )
    return out.getvalue()


def line(axes: Axes, x: Sequence[float], y: Sequence[float], pen: float = PEN) -> None:
    """Draw a line through points."""
    axes.plot(x, y, color=style.INK, lw=pen, solid_capstyle="round", solid_joinstyle="round")


def shape(
    axes: Axes, x: Sequence[float], y: Sequence[float], colour: str, pen: float = PEN
) -> None:
    """Fill the outline through points, and draw round it."""
    axes.fill(x, y, facecolor=colour, edgecolor=style.INK, lw=pen, joinstyle="round")


def smooth(
    axes: Axes, x: Sequence[float], y: Sequence[float], colour: str, pen: float = PEN
) -> None:
    """Fill a rounded outline through points: a closed Catmull-Rom curve."""
    points = np.column_stack([x, y]).astype(float)
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    beyond = np.roll(points, -2, axis=0)
    step = np.linspace(0.0, 1.0, 12, endpoint=False)[:, None, None]
    curve = 0.5 * (
        2.0 * points
        + (after - before) * step
        + (2.0 * before - 5.0 * points + 4.0 * after - beyond) * step**2
        + (3.0 * points - before - 3.0 * after + beyond) * step**3
    )
    xy = curve.transpose(1, 0, 2).reshape(-1, 2)
    shape(axes, xy[:, 0].tolist(), xy[:, 1].tolist(), colour, pen)


def box(axes: Axes, left: float, low: float, width: float, height: float, colour: str) -> None:
    """Draw a box with rounded corners."""
    from matplotlib.patches import FancyBboxPatch

    rounded = "round,pad=0,rounding_size=0.35"
    axes.add_patch(
        FancyBboxPatch(
            (left, low), width, height, boxstyle=rounded, fc=colour, ec=style.INK, lw=PEN
        )
    )


def disc(axes: Axes, x: float, y: float, radius: float, colour: str, pen: float = PEN) -> None:
    """Draw a disc."""
    from matplotlib.patches import Circle

    axes.add_patch(Circle((x, y), radius, fc=colour, ec=style.INK, lw=pen))


def worm(axes: Axes, x: float, y: float, length: float = 2.2, turn: float = 0.0) -> None:
    """Draw a worm that begins at a point, `turn` degrees from lying."""
    along = np.linspace(0.0, length, 40)
    across = 0.28 * np.sin(along * 4.2)
    angle = np.deg2rad(turn)
    across_x = x + along * np.cos(angle) - across * np.sin(angle)
    across_y = y + along * np.sin(angle) + across * np.cos(angle)
    axes.plot(across_x, across_y, color=style.INK, lw=6.4, solid_capstyle="round")
    axes.plot(across_x, across_y, color=WORM, lw=3.6, solid_capstyle="round")


def arrow(axes: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw a stout arrow."""
    axes.annotate(
        "",
        xy=end,
        xytext=start,
        arrowprops={"arrowstyle": "-|>,head_width=0.5,head_length=0.7", "lw": 4.5,
                    "color": style.MAIN, "shrinkA": 0, "shrinkB": 0},
    )  # fmt: skip


def cross_out(axes: Axes) -> None:
    """Strike the whole picture out."""
    for x in ((1.2, 8.8), (8.8, 1.2)):
        axes.plot(x, (1.2, 8.8), color=PAPER, lw=11.0, solid_capstyle="round")
        axes.plot(x, (1.2, 8.8), color=WARNING, lw=7.0, solid_capstyle="round")
