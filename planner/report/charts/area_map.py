"""Map of the areas: what a household's bin keeps out of landfill, and where that is unsure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.messages import said
from planner.report import style
from planner.report.charts.drawing import Drawing, Spot, is_narrow
from planner.report.charts.ranges import shortened
from planner.report.wording import labelled, listing

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.axes import Axes
    from matplotlib.path import Path as Outline
    from numpy.typing import NDArray

    from planner.figures import Figure, FigureRegister
    from planner.intake.boundaries import AreaShapes
    from planner.report.wording import Wording

MAPPED = "kept_out_kg_per_household"

SHADES = ("#F2F6F6", "#C4D9DB", "#8FB6BB", "#4C878F")
"""From least to most: each step darker by as much, in grey print as well."""

WIDE_SHARE = 0.5
"""An interval wider than this share of its value is hatched."""

HATCH = "////"
MAP_SHARE, LIST_FROM = 0.52, 0.56
SWATCH_WIDTH = 0.035
LIST_ROWS = 26
"""Areas that fit beside the map; more stand in the table of areas."""

NARROW_MAP = (0.0, 0.45, 1.0, 0.55)
"""Where a narrow chart has its map: left, low, width, height."""

LONGEST_NAME, NARROW_NAME = 24, 26
MAP_INCHES, INCHES_PER_ROW = 3.4, 0.17


def map_drawing(
    register: FigureRegister,
    shapes: AreaShapes | None,
    area_names: Mapping[str, str],
    wording: Wording,
) -> Drawing | None:
    """Map of areas, numbered from most to least; None without outlines or figures."""
    figures = register.parts(MAPPED)
    if shapes is None or not figures:
        return None
    shown = {area_id: figure for area_id, figure in figures.items() if figure.value is not None}
    ranked = dict(sorted(shown.items(), key=lambda item: (-(item[1].value or 0.0), item[0])))

    def plot(axes: Axes) -> None:
        _plot(axes, shapes, ranked, area_names, wording)

    rows = min(len(ranked), LIST_ROWS)
    return Drawing(
        "area_map",
        _title(register.reporting_year, ranked, area_names, wording),
        _caption(shapes, figures, area_names),
        _alt_text(ranked, area_names, wording),
        plot,
        max(MAP_INCHES, INCHES_PER_ROW * (rows + 2)),
        section="areas",
        spots=_spots(shapes, ranked, area_names, wording),
    )


def _is_wide(figure: Figure) -> bool:
    if figure.value is None or figure.low is None or figure.high is None:
        return True
    return figure.high - figure.low > WIDE_SHARE * figure.value


def _title(
    label: str, ranked: dict[str, Figure], area_names: Mapping[str, str], wording: Wording
) -> str:
    if not ranked:
        return said("chart.map.none", label=label)
    (first, most), *others = ranked.items()
    name = area_names.get(first, first)
    found = said("chart.map.most", name=name, amount=wording.figure(most), year=label)
    level = sum(
        1 for _, o in others if o.high is not None and most.low is not None and o.high >= most.low
    )
    if not level:
        return found
    if level == len(others):
        return said("chart.map.all_level", found=found)
    return said("chart.map.some_level", found=found, level=level, others=len(others))


def _caption(
    shapes: AreaShapes, figures: Mapping[str, Figure], area_names: Mapping[str, str]
) -> str:
    words = said("chart.map.caption")
    hidden = sorted(area_names.get(a, a) for a, f in figures.items() if f.value is None)
    if hidden:
        words += " " + said("chart.map.hidden", names=listing(hidden))
    missing = sorted(area_names.get(a, a) for a in shapes.missing if a in figures)
    if missing:
        words += " " + said("chart.map.missing", names=listing(missing))
    return words


def _alt_text(ranked: dict[str, Figure], area_names: Mapping[str, str], wording: Wording) -> str:
    areas = "; ".join(
        f"{area_names.get(area_id, area_id)} {wording.figure(figure)}"
        for area_id, figure in ranked.items()
    )
    return said("chart.map.alt", areas=areas or said("chart.map.no_area"))


def _plot(
    axes: Axes,
    shapes: AreaShapes,
    ranked: dict[str, Figure],
    area_names: Mapping[str, str],
    wording: Wording,
) -> None:
    from matplotlib.patches import PathPatch

    axes.axis("off")
    axes.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    plane = axes.inset_axes(NARROW_MAP if is_narrow(axes) else (0.0, 0.0, MAP_SHARE, 1.0))
    plane.axis("off")
    plane.set_aspect("equal")
    limits = _class_limits(ranked)
    number = {area_id: place for place, area_id in enumerate(ranked, start=1)}
    for area_id, rings in shapes.rings.items():
        figure = ranked.get(area_id)
        shade = "white" if figure is None else SHADES[_class_of(figure, limits)]
        plane.add_patch(
            PathPatch(
                _outline(rings),
                facecolor=shade,
                edgecolor=style.INK,
                linewidth=0.8,
                linestyle=":" if figure is None else "-",
                hatch=HATCH if figure is not None and _is_wide(figure) else None,
            )
        )
        if figure is not None:
            _mark(plane, rings, number[area_id])
    plane.autoscale_view()
    _write_list(axes, ranked, area_names, limits, wording)


def _outline(rings: tuple[NDArray[np.float64], ...]) -> Outline:
    from matplotlib.path import Path as Outline

    codes = [
        np.r_[Outline.MOVETO, np.full(ring.shape[0] - 2, Outline.LINETO), Outline.CLOSEPOLY]
        for ring in rings
    ]
    return Outline(np.concatenate(rings), np.concatenate(codes).astype(Outline.code_type))


def _roomiest(rings: tuple[NDArray[np.float64], ...]) -> tuple[tuple[float, ...], float]:
    """Find the middle and radius of the largest circle in an area's largest part."""
    import shapely

    largest = max((shapely.Polygon(ring) for ring in rings), key=lambda part: part.area)
    circle = shapely.maximum_inscribed_circle(largest)
    return circle.coords[0], float(circle.length)


def _spots(
    shapes: AreaShapes,
    ranked: Mapping[str, Figure],
    area_names: Mapping[str, str],
    wording: Wording,
) -> tuple[Spot, ...]:
    """Name the areas that are shown and have an outline."""
    found = []
    for area_id, figure in ranked.items():
        if area_id in shapes.rings:
            (x, y), radius = _roomiest(shapes.rings[area_id])
            words = labelled(area_names.get(area_id, area_id), wording.figure(figure))
            sides = (x - radius, x + radius), (y - radius, y + radius)
            found.append(Spot(figure.id, words, *sides, is_inset=True))
    return tuple(found)


def _mark(plane: Axes, rings: tuple[NDArray[np.float64], ...], number: int) -> None:
    """Write an area's number where its largest part has room, on a light ground."""
    place, _ = _roomiest(rings)
    ground = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none"}
    plane.text(
        place[0],
        place[1],
        str(number),
        ha="center",
        va="center",
        size=8,
        weight="bold",
        bbox=ground,
    )


def _class_limits(ranked: Mapping[str, Figure]) -> NDArray[np.float64]:
    """Equal steps from the least to the most, so that a shade stands for a number."""
    values = [figure.value or 0.0 for figure in ranked.values()] or [0.0]
    return np.linspace(min(values), max(values), len(SHADES) + 1)


def _class_of(figure: Figure, limits: NDArray[np.float64]) -> int:
    place = int(np.searchsorted(limits[1:-1], figure.value or 0.0, side="right"))
    return place if limits[-1] > limits[0] else len(SHADES) // 2


def _write_list(
    axes: Axes,
    ranked: dict[str, Figure],
    area_names: Mapping[str, str],
    limits: NDArray[np.float64],
    wording: Wording,
) -> None:
    from matplotlib.patches import Rectangle

    rows = max(len(list(ranked)[:LIST_ROWS]) + 2, 12)
    # on a telephone the list is under the map and takes the whole width
    narrow = is_narrow(axes)
    start, top = (0.0, NARROW_MAP[1]) if narrow else (LIST_FROM, 1.0)
    step, longest = top / rows, NARROW_NAME if narrow else LONGEST_NAME
    for place, (area_id, figure) in enumerate(list(ranked.items())[:LIST_ROWS]):
        height = top - (place + 0.5) * step
        name = shortened(area_names.get(area_id, area_id), longest)
        axes.add_patch(
            Rectangle(
                (start, height - 0.4 * step),
                SWATCH_WIDTH,
                0.8 * step,
                facecolor=SHADES[_class_of(figure, limits)],
                edgecolor=style.INK,
                linewidth=0.5,
                hatch=HATCH if _is_wide(figure) else None,
            )
        )
        axes.text(start + 0.05, height, f"{place + 1}", va="center", weight="bold", size=8)
        axes.text(start + (0.12 if narrow else 0.085), height, name, va="center", size=8)
        axes.text(1.0, height, wording.figure(figure), va="center", ha="right", size=8)
    if len(ranked) > LIST_ROWS:
        axes.text(
            start,
            0.5 * step,
            said("chart.map.more_in_table", number=len(ranked) - LIST_ROWS),
            size=8,
        )
