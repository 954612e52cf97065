"""Map of the areas: what a household's bin keeps out of landfill, and where that is unsure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.report import style
from planner.report.charts.drawing import Drawing, Spot, is_narrow
from planner.report.charts.ranges import reaches, shortened
from planner.report.wording import Wording, labelled, listing

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.path import Path as Outline

    from planner.report.charts.boundaries import AreaShapes

MAPPED = "kept_out_kg_per_household"

SHADES = ("#F2F6F6", "#C4D9DB", "#8FB6BB", "#4C878F")
"""From least to most: each step darker by as much, in grey print as well."""

HATCH = "////"
LIST_ROWS = 26
"""Areas that fit beside the map; more stand in the table of areas."""

NARROW_MAP = (0.0, 0.45, 1.0, 0.55)
"""Where a narrow chart has its map: left, low, width, height."""


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
    names = {area_id: area_names.get(area_id, area_id) for area_id in figures}
    drawn = _Map(shapes, ranked, names, wording)
    rows = min(len(ranked), LIST_ROWS)
    return Drawing(
        "area_map",
        drawn.title(register.reporting_year),
        drawn.caption(),
        drawn.alt_text(),
        drawn.plot,
        max(3.4, 0.17 * (rows + 2)),
        section="areas",
        spots=tuple(drawn.spots()),
    )


def _is_wide(figure: Figure) -> bool:
    if figure.value is None or figure.low is None or figure.high is None:
        return True
    return figure.high - figure.low > 0.5 * figure.value


@dataclass(frozen=True)
class _Map:
    """Areas that are mapped, those with a value from most to least."""

    shapes: AreaShapes
    ranked: Mapping[str, Figure]
    names: Mapping[str, str]  # of every area with a figure, by its id
    wording: Wording

    def title(self, label: str) -> str:
        """Name the area with the most, and how many could be it."""
        if not self.ranked:
            return said("chart.map.none", label=label)
        (first, most), *others = self.ranked.items()
        amount = self.wording.figure(most)
        found = said("chart.map.most", name=self.names[first], amount=amount, year=label)
        level = sum(reaches(other, most) for _, other in others)
        if not level:
            return found
        if level == len(others):
            return said("chart.map.all_level", found=found)
        return said("chart.map.some_level", found=found, level=level, others=len(others))

    def caption(self) -> str:
        """Say how to read it, and which areas are not shown."""
        hidden = sorted(name for area, name in self.names.items() if area not in self.ranked)
        missing = sorted(self.names[area] for area in self.shapes.missing if area in self.names)
        words = said("chart.map.caption")
        for key, names in (("chart.map.hidden", hidden), ("chart.map.missing", missing)):
            words += " " + said(key, names=listing(names)) if names else ""
        return words

    def alt_text(self) -> str:
        """Say the map in words."""
        areas = "; ".join(
            f"{self.names[area]} {self.wording.figure(one)}" for area, one in self.ranked.items()
        )
        return said("chart.map.alt", areas=areas or said("chart.map.no_area"))

    def spots(self) -> Iterator[Spot]:
        """Name the areas that are shown and have an outline."""
        for area_id, figure in self.ranked.items():
            if area_id in self.shapes.rings:
                (x, y), radius = _roomiest(self.shapes.rings[area_id])
                words = labelled(self.names[area_id], self.wording.figure(figure))
                sides = (x - radius, x + radius), (y - radius, y + radius)
                yield Spot(figure.id, words, *sides, is_inset=True)

    def plot(self, axes: Axes) -> None:
        """Draw the map, and the list of the areas beside it."""
        from matplotlib.patches import PathPatch

        axes.axis("off")
        axes.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
        plane = axes.inset_axes(NARROW_MAP if is_narrow(axes) else (0.0, 0.0, 0.52, 1.0))
        plane.axis("off")
        plane.set_aspect("equal")
        number = {area_id: place for place, area_id in enumerate(self.ranked, start=1)}
        for area_id, rings in self.shapes.rings.items():
            figure = self.ranked.get(area_id)
            plane.add_patch(
                PathPatch(
                    _outline(rings),
                    facecolor="white" if figure is None else self._shade(figure),
                    edgecolor=style.INK,
                    linewidth=0.8,
                    linestyle=":" if figure is None else "-",
                    hatch=HATCH if figure is not None and _is_wide(figure) else None,
                )
            )
            if figure is not None:
                _mark(plane, rings, number[area_id])
        plane.autoscale_view()
        self._write_list(axes)

    def _shade(self, figure: Figure) -> str:
        """Shade of a figure's class: equal steps from the least to the most."""
        values = [one.value or 0.0 for one in self.ranked.values()]
        limits = np.linspace(min(values), max(values), len(SHADES) + 1)
        place = int(np.searchsorted(limits[1:-1], figure.value or 0.0, side="right"))
        return SHADES[place if limits[-1] > limits[0] else len(SHADES) // 2]

    def _write_list(self, axes: Axes) -> None:
        from matplotlib.patches import Rectangle

        listed = list(self.ranked.items())[:LIST_ROWS]
        rows = max(len(listed) + 2, 12)
        # on a telephone the list is under the map and takes the whole width
        narrow = is_narrow(axes)
        start, top = (0.0, NARROW_MAP[1]) if narrow else (0.56, 1.0)
        step, longest = top / rows, 26 if narrow else 24
        for place, (area_id, figure) in enumerate(listed):
            height = top - (place + 0.5) * step
            name, amount = shortened(self.names[area_id], longest), self.wording.figure(figure)
            axes.add_patch(
                Rectangle(
                    (start, height - 0.4 * step),
                    0.035,
                    0.8 * step,
                    facecolor=self._shade(figure),
                    edgecolor=style.INK,
                    linewidth=0.5,
                    hatch=HATCH if _is_wide(figure) else None,
                )
            )
            axes.text(start + 0.05, height, f"{place + 1}", va="center", weight="bold", size=8)
            axes.text(start + (0.12 if narrow else 0.085), height, name, va="center", size=8)
            axes.text(1.0, height, amount, va="center", ha="right", size=8)
        if len(self.ranked) > LIST_ROWS:
            more = said("chart.map.more_in_table", number=len(self.ranked) - LIST_ROWS)
            axes.text(start, 0.5 * step, more, size=8)


def _outline(rings: tuple[Numbers, ...]) -> Outline:
    from matplotlib.path import Path as Outline

    codes = [
        np.r_[Outline.MOVETO, np.full(ring.shape[0] - 2, Outline.LINETO), Outline.CLOSEPOLY]
        for ring in rings
    ]
    return Outline(np.concatenate(rings), np.concatenate(codes).astype(Outline.code_type))


def _roomiest(rings: tuple[Numbers, ...]) -> tuple[tuple[float, ...], float]:
    """Find the middle and radius of the largest circle in an area's largest part."""
    import shapely

    largest = max((shapely.Polygon(ring) for ring in rings), key=lambda part: part.area)
    circle = shapely.maximum_inscribed_circle(largest)
    return circle.coords[0], float(circle.length)


def _mark(plane: Axes, rings: tuple[Numbers, ...], number: int) -> None:
    """Write an area's number where its largest part has room, on a light ground."""
    (x, y), _ = _roomiest(rings)
    ground = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none"}
    plane.text(x, y, str(number), ha="center", va="center", size=8, weight="bold", bbox=ground)
