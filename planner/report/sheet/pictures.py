"""Pictures of the household sheet, drawn here and nowhere else; one function a scene."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.report import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    Scene = Callable[[Axes], None]


def _bin(axes: Axes) -> None:
    box(axes, 1.2, 1.4, 7.6, 5.6, BIN)
    shape(axes, [1.6, 8.4, 8.4, 1.6], [1.8, 1.8, 3.4, 3.4], SOIL, THIN)
    shape(axes, [1.6, 8.4, 8.4, 1.6], [3.4, 3.4, 4.6, 4.6], CARD, THIN)
    _apple(axes, 6.6, 5.2, 0.7)
    smooth(axes, [2.4, 3.4, 4.4, 3.4], [5.0, 5.6, 5.2, 4.7], LEAF, THIN)
    worm(axes, 2.2, 3.0)
    worm(axes, 5.4, 2.5)
    worm(axes, 3.6, 4.0)
    box(axes, 0.8, 7.3, 8.4, 0.9, PAPER)
    line(axes, [4.2, 4.2, 5.8, 5.8], [8.3, 8.9, 8.9, 8.3])
    line(axes, [2.4, 2.4], [0.6, 1.3])
    line(axes, [7.6, 7.6], [0.6, 1.3])
    line(axes, [8.8, 9.5, 9.5], [2.1, 2.1, 1.6])


def _first(axes: Axes) -> None:
    box(axes, 1.0, 1.2, 8.0, 5.0, BIN)
    shape(axes, [1.4, 8.6, 8.6, 1.4], [1.6, 1.6, 4.8, 4.8], CARD, THIN)
    smooth(axes, [6.0, 7.2, 8.4, 8.2, 6.4], [3.2, 4.6, 4.2, 2.3, 2.2], SOIL, THIN)
    _apple(axes, 7.2, 3.3, 0.65)
    worm(axes, 2.0, 2.4)
    worm(axes, 3.6, 3.6)
    # the sheet of paper, one corner turned up over the scraps
    shape(axes, [1.6, 5.4, 8.4, 8.4, 1.6], [5.0, 5.0, 6.4, 6.9, 5.5], PAPER, THIN)
    arrow(axes, (7.2, 9.4), (7.2, 7.1))


def _greens(axes: Axes) -> None:
    _apple(axes, 3.0, 6.6, 1.7)
    smooth(axes, [5.6, 7.0, 9.2, 7.6], [7.2, 8.8, 8.6, 6.9], LEAF)
    line(axes, [5.2, 8.4], [6.6, 8.2], THIN)
    smooth(axes, [1.2, 2.0, 6.8, 2.0], [2.4, 3.6, 1.6, 1.3], CARROT)
    line(axes, [3.0, 3.3], [3.1, 2.6], THIN)
    line(axes, [4.2, 4.5], [2.6, 2.1], THIN)
    for end in ((0.5, 3.6), (0.3, 2.7), (0.6, 1.7)):
        axes.plot([1.3, end[0]], [2.4, end[1]], color=LEAF, lw=5.0, solid_capstyle="round")
    disc(axes, 8.2, 3.2, 1.1, PAPER)
    line(axes, [7.2, 7.6, 8.0, 8.4, 8.8, 9.2], [3.2, 3.6, 3.1, 3.6, 3.1, 3.4], THIN)


def _browns(axes: Axes) -> None:
    shape(axes, [1.0, 5.0, 5.0, 1.0], [4.4, 4.4, 7.6, 7.6], CARD)
    shape(axes, [5.0, 6.6, 6.6, 5.0], [4.4, 5.4, 8.6, 7.6], CARD)
    shape(axes, [1.0, 2.6, 6.6, 5.0], [7.6, 8.6, 8.6, 7.6], PAPER)
    for left in (1.0, 2.6, 4.2):
        edge = np.linspace(0.0, 2.4, 9)
        ragged = left + 0.16 * (np.arange(9) % 2)
        x = [*ragged, *(ragged[::-1] + 1.0)]
        shape(axes, x, [*(1.2 + edge), *(1.2 + edge[::-1])], PAPER, THIN)
        line(axes, [left + 0.4, left + 0.8], [2.0, 2.0], 1.2)
        line(axes, [left + 0.4, left + 0.8], [2.5, 2.5], 1.2)
        line(axes, [left + 0.4, left + 0.8], [3.0, 3.0], 1.2)
    smooth(axes, [7.0, 8.0, 9.4, 9.0, 7.6], [2.2, 4.2, 4.6, 2.8, 1.6], "#C98B4B")
    line(axes, [6.7, 9.0], [1.3, 4.2], THIN)


def _keepout(axes: Axes) -> None:
    smooth(axes, [1.4, 3.0, 5.2, 5.2, 3.0], [7.4, 8.8, 7.8, 7.0, 6.0], WATER)
    shape(axes, [5.0, 6.6, 6.6], [7.4, 8.6, 6.2], WATER)
    disc(axes, 2.4, 7.6, 0.18, PAPER, THIN)
    for x, y in ((1.8, 3.6), (1.8, 2.8), (5.4, 3.6), (5.4, 2.8)):
        disc(axes, x, y, 0.55, PAPER)
    axes.fill([1.8, 5.4, 5.4, 1.8], [2.85, 2.85, 3.55, 3.55], facecolor=PAPER)
    line(axes, [2.3, 4.9], [3.6, 3.6])
    line(axes, [2.3, 4.9], [2.8, 2.8])
    shape(axes, [7.2, 7.2, 7.6, 7.6, 8.4, 8.4, 8.8, 8.8],
          [1.4, 4.4, 5.0, 5.8, 5.8, 5.0, 4.4, 1.4], SUN)  # fmt: skip
    line(axes, [7.2, 8.8], [3.2, 3.2], THIN)
    cross_out(axes)


def _trays(axes: Axes) -> None:
    box(axes, 1.0, 0.8, 6.0, 3.0, BIN)
    shape(axes, [1.4, 6.6, 6.6, 1.4], [1.2, 1.2, 3.3, 3.3], SOIL, THIN)
    worm(axes, 1.9, 2.2)
    box(axes, 1.0, 5.2, 6.0, 3.0, BIN)
    shape(axes, [1.4, 6.6, 6.6, 1.4], [5.6, 5.6, 6.9, 6.9], CARD, THIN)
    _apple(axes, 5.4, 7.2, 0.6)
    worm(axes, 4.9, 2.0, 3.4, 90.0)
    worm(axes, 3.0, 6.2, 1.6)
    for x in (1.8, 2.8, 3.8, 5.8):
        disc(axes, x, 5.2, 0.1, PAPER, 1.0)
    arrow(axes, (8.4, 2.0), (8.4, 7.4))


def _harvest(axes: Axes) -> None:
    smooth(axes, [1.2, 3.2, 5.0, 6.8, 8.8, 5.0], [1.6, 3.8, 5.2, 3.8, 1.6, 1.0], SOIL)
    worm(axes, 4.4, 3.6, 2.0, -80.0)
    worm(axes, 5.8, 3.2, 1.8, -100.0)
    worm(axes, 3.2, 2.4, 1.5, -20.0)
    disc(axes, 7.8, 8.2, 1.1, SUN)
    for angle in np.deg2rad(np.arange(0.0, 360.0, 45.0)):
        x = [7.8 + r * np.cos(angle) for r in (1.35, 1.8)]
        line(axes, x, [8.2 + r * np.sin(angle) for r in (1.35, 1.8)])
    arrow(axes, (3.0, 8.6), (3.0, 5.6))


def _use(axes: Axes) -> None:
    _scoop(axes, 0.6, SOIL)
    _scoop(axes, 4.6, "#B89572")
    _scoop(axes, 7.2, "#B89572")
    axes.text(3.5, 7.8, "+", fontsize=26, ha="center", va="center", weight="bold")
    shape(axes, [3.0, 7.0, 6.2, 3.8], [4.2, 4.2, 0.8, 0.8], CARROT)
    box(axes, 2.6, 3.8, 4.8, 0.8, CARROT)
    line(axes, [5.0, 5.0], [4.7, 6.2])
    smooth(axes, [5.0, 6.0, 7.4, 6.2], [5.2, 6.2, 6.2, 5.2], LEAF, THIN)
    smooth(axes, [5.0, 4.0, 2.6, 3.8], [5.4, 6.4, 6.2, 5.3], LEAF, THIN)


def _scoop(axes: Axes, left: float, colour: str) -> None:
    """Draw one part: a cup heaped full."""
    middle = left + 0.9
    smooth(axes, [left, middle, left + 1.8, middle], [8.4, 9.4, 8.4, 8.1], colour, THIN)
    shape(axes, [left, left + 1.8, left + 1.5, left + 0.3], [8.4, 8.4, 7.0, 7.0], PAPER)


def _season(axes: Axes) -> None:
    disc(axes, 2.4, 7.4, 1.1, SUN)
    for angle in np.deg2rad(np.arange(0.0, 360.0, 45.0)):
        x = [2.4 + r * np.cos(angle) for r in (1.4, 1.9)]
        line(axes, x, [7.4 + r * np.sin(angle) for r in (1.4, 1.9)])
    for angle in np.deg2rad((0.0, 60.0, 120.0)):
        x, y = 1.6 * np.cos(angle), 1.6 * np.sin(angle)
        line(axes, [2.4 - x, 2.4 + x], [2.6 - y, 2.6 + y])
        for end in (-1.0, 1.0):
            for turn in np.deg2rad((-35.0, 35.0)):
                tip = (2.4 + end * x * 0.6, 2.6 + end * y * 0.6)
                dx, dy = 0.6 * np.cos(angle + turn) * end, 0.6 * np.sin(angle + turn) * end
                line(axes, [tip[0], tip[0] + dx], [tip[1], tip[1] + dy], THIN)
    box(axes, 6.4, 2.4, 1.4, 6.8, PAPER)
    disc(axes, 7.1, 2.0, 1.2, WARNING)
    axes.plot([7.1, 7.1], [2.4, 6.4], color=WARNING, lw=9.0, solid_capstyle="round")
    for y in (4.0, 5.2, 6.4, 7.6):
        line(axes, [8.2, 8.9], [y, y], THIN)


def _safe(axes: Axes) -> None:
    # a tap over a hand in a glove
    shape(axes, [0.6, 5.0, 5.8, 5.8, 4.4, 4.4, 0.6], [8.6, 8.6, 7.8, 6.8, 6.8, 7.4, 7.4], BIN)
    line(axes, [2.6, 2.6], [8.7, 9.4])
    line(axes, [1.8, 3.4], [9.4, 9.4])
    for x in (4.7, 5.1, 5.5):
        axes.plot([x, x], [6.5, 4.9], color=WATER, lw=3.5, solid_capstyle="round")
    smooth(
        axes,
        [1.0, 3.4, 4.6, 6.8, 7.9, 6.4, 8.6, 8.7, 6.6, 8.2, 8.0, 5.6, 3.2, 1.0],
        [3.7, 4.0, 4.6, 4.4, 3.8, 3.6, 3.3, 2.6, 2.7, 2.2, 1.6, 1.5, 1.4, 1.8],
        SUN,
    )
    line(axes, [2.0, 2.0], [1.6, 3.9])
    disc(axes, 7.4, 6.2, 0.4, PAPER, THIN)
    disc(axes, 8.4, 5.4, 0.3, PAPER, THIN)
    disc(axes, 8.4, 7.0, 0.25, PAPER, THIN)


def _apple(axes: Axes, x: float, y: float, size: float) -> None:
    """Draw an apple core: two bitten sides and a stalk."""
    across = np.array([-0.7, -0.28, -0.32, -0.75, 0.0, 0.75, 0.32, 0.28, 0.7, 0.0])
    up = np.array([0.95, 0.4, -0.4, -0.9, -0.75, -0.9, -0.4, 0.4, 0.95, 0.75])
    smooth(axes, (x + size * across).tolist(), (y + size * up).tolist(), "#F3E3B3", THIN)
    line(axes, [x, x + 0.2 * size], [y + 0.8 * size, y + 1.4 * size], THIN)
    line(axes, [x, x], [y - 0.15 * size, y + 0.15 * size], THIN)


SCENES: dict[str, Scene] = {
    "bin": _bin,
    "first": _first,
    "greens": _greens,
    "browns": _browns,
    "keepout": _keepout,
    "trays": _trays,
    "harvest": _harvest,
    "use": _use,
    "season": _season,
    "safe": _safe,
}
"""Pictures by name; `picture.NAME` of the message files says what each shows."""


SIDE = 10.0
INCHES = 2.0
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
        figure.savefig(out, format=file_format, dpi=200, metadata=undated, transparent=True)
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
