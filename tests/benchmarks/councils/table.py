"""The study's tables: how often intervals hold the truth, bias, width, and what misses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.benchmarks.councils.council import AREA_FIGURES, FIGURES
from tests.benchmarks.councils.designs import Design

LEAST_HELD, MOST_HELD = 0.92, 0.98
MOST_BIAS = 0.2
NORMAL_95 = 1.96

ALL_THAT_HOLD = "all whose assumptions hold"

HEADINGS = {
    "fed_t": "fed",
    "kept_out_of_landfill_t": "kept out",
    "feed_kg_per_bin_week": "feed of a bin",
    "retention_12_months": "retention, 12 months",
    "retention_24_months": "24 months",
    "bins_in_use": "bins in use",
    "landfill_share": "landfill share",
}


@dataclass(frozen=True)
class Found:
    """What the councils of one design say of one figure, or of one figure of their areas.

    Parameters
    ----------
    held
        Share of intervals that hold the truth.
    bias
        Mean error over the standard deviation of the errors between councils.
    half_width
        Mean half-width of the intervals over the truth.
    width_ratio
        Mean half-width over 1.96 standard deviations of the errors: 1 where intervals are
        as wide as they need be.
    mean_error
        Mean error over the truth.
    held_error, bias_error
        Standard errors of `held` and `bias` by chance between councils; an area's errors
        go with those of its council's other areas.
    """

    held: float
    bias: float
    half_width: float
    width_ratio: float
    mean_error: float
    held_error: float
    bias_error: float


def find(rows: list[dict], name: str) -> Found:
    """Sum up one figure over the councils of a design."""
    return _summed([[row["figures"][name]] for row in rows])


def find_areas(rows: list[dict], name: str) -> Found | None:
    """Sum up one figure of all printed areas over the councils of a design; None without any."""
    councils = [row["areas"][name] for row in rows if row.get("areas", {}).get(name)]
    return _summed(councils) if len(councils) > 1 else None


def _summed(councils: list[list[list[float]]]) -> Found:
    """Sum up value, low, high and truth of one or several places of each council."""
    place = np.repeat(np.arange(len(councils)), [len(council) for council in councils])
    numbers = np.array([row for council in councils for row in council], dtype=float)
    value, low, high, true = numbers.T
    error, half = value / true - 1.0, (high - low) / 2.0 / true
    spread = float(error.std(ddof=1))
    held = ((low <= true) & (true <= high)).astype(float)
    return Found(
        held=float(held.mean()),
        bias=float(error.mean() / spread),
        half_width=float(half.mean()),
        width_ratio=float(half.mean() / (NORMAL_95 * spread)),
        mean_error=float(error.mean()),
        held_error=_error_of_mean(held, place),
        bias_error=_error_of_mean(error, place) / spread,
    )


def _error_of_mean(values: np.ndarray, place: np.ndarray) -> float:
    """Give the standard error of a mean over places of councils that were drawn by chance."""
    sums = np.bincount(place, values - values.mean())
    count = sums.size
    return float(np.sqrt(count / (count - 1.0) * (sums @ sums)) / values.size)


def chance_range(held: float, count: int) -> tuple[float, float]:
    """Wilson's 95% interval of a share that was found.

    Examples
    --------
    >>> [round(end, 3) for end in chance_range(0.95, 100)]
    [0.888, 0.978]
    """
    square = NORMAL_95**2
    middle = (held + square / (2 * count)) / (1 + square / count)
    half = NORMAL_95 * np.sqrt(held * (1 - held) / count + square / (4 * count**2))
    half /= 1 + square / count
    return float(middle - half), float(middle + half)


def verdict(found: Found, count: int) -> str:
    """Mark a coverage that chance alone does not put outside 92 to 98%, and a bias."""
    low, high = chance_range(found.held, count)
    marks = "↓" if high < LEAST_HELD else "↑" if low > MOST_HELD else ""
    return marks + _bias_mark(found)


def verdict_of_areas(found: Found) -> str:
    """Mark the same of areas, whose chance is that between their councils."""
    chance = NORMAL_95 * found.held_error
    is_low, is_high = found.held + chance < LEAST_HELD, found.held - chance > MOST_HELD
    return ("↓" if is_low else "↑" if is_high else "") + _bias_mark(found)


def _bias_mark(found: Found) -> str:
    return "b" if abs(found.bias) - NORMAL_95 * found.bias_error > MOST_BIAS else ""


def markdown(designs: list[Design], results: dict[tuple[str, int], dict]) -> str:
    """Write both tables, a row a design: coverage, bias over standard error, width over need.

    The first is of the town's figures, the second of all areas that a report prints. Below
    them stands which designs miss in which figures, in words.
    """
    of_town = [_row(["design", "councils", *HEADINGS.values()])]
    of_areas = [_row(["areas of", "printed", *(HEADINGS[name] for name in AREA_FIGURES)])]
    for table in (of_town, of_areas):
        table.append(_row(["---"] * (table[0].count("|") - 1)))
    for words, rows in _rows_of(designs, results):
        cells = [_cell(find(rows, name), len(rows)) for name in FIGURES]
        of_town.append(_row([words, str(len(rows)), *cells]))
        cells = [_area_cell(find_areas(rows, name)) for name in AREA_FIGURES]
        printed = sum(len(row.get("areas", {}).get(AREA_FIGURES[0], ())) for row in rows)
        of_areas.append(_row([words, str(printed), *cells]))
    return "\n".join([*of_town, "", *of_areas, "", *_misses(designs, results)])


def _misses(designs: list[Design], results: dict[tuple[str, int], dict]) -> list[str]:
    """Say which designs miss in which figures, by more than chance; a line a design."""
    lines = []
    for words, rows in _rows_of(designs, results):
        town = {name: verdict(find(rows, name), len(rows)) for name in FIGURES}
        areas = {name: find_areas(rows, name) for name in AREA_FIGURES}
        missed = [f"{HEADINGS[name]} {marks}" for name, marks in town.items() if marks]
        missed += [
            f"areas' {HEADINGS[name]} {verdict_of_areas(found)}"
            for name, found in areas.items()
            if found and verdict_of_areas(found)
        ]
        if missed:
            lines.append(f"- {words}: {', '.join(missed)}")
    head = "Outside 92 to 98% (↓ ↑) or biased beyond a fifth of the standard error (b):"
    return [head, "", *lines] if lines else ["No design misses by more than chance."]


def _rows_of(
    designs: list[Design], results: dict[tuple[str, int], dict]
) -> list[tuple[str, list[dict]]]:
    """Results of each design that has some, and of all those whose assumptions hold."""
    found = [(design.words, _of(design, results)) for design in designs]
    pooled = [row for design in designs if design.holds for row in _of(design, results)]
    return [(words, rows) for words, rows in [*found, (ALL_THAT_HOLD, pooled)] if len(rows) > 1]


def details(designs: list[Design], results: dict[tuple[str, int], dict]) -> str:
    """Write what the table leaves out: width against need, mean error, bounds, failures."""
    lines = []
    for design in designs:
        rows = _of(design, results)
        errors = sum("error" in row for key, row in results.items() if key[0] == design.name)
        lines.append(f"{design.name}: {len(rows)} councils, {errors} without an estimate")
        for name in FIGURES if len(rows) > 1 else ():
            found = find(rows, name)
            low, high = chance_range(found.held, len(rows))
            lines.append(
                f"  {name:24s} held {found.held:6.1%} ({low:.0%} to {high:.0%})  "
                f"bias {found.mean_error:+6.1%} ({found.bias:+.2f} se)  half-width "
                f"{found.half_width:5.1%}, {found.width_ratio:.2f} of what is needed"
            )
        lines += _areas(rows)
        lines += _bounds(rows)
    return "\n".join(lines)


def _areas(rows: list[dict]) -> list[str]:
    """Say how often the intervals of printed areas hold, and how wide they need be."""
    lines = []
    for name in AREA_FIGURES:
        found = find_areas(rows, name)
        if found:
            lines.append(
                f"  {name + ' of areas':32s} held {found.held:6.1%} "
                f"(± {NORMAL_95 * found.held_error:.1%})  bias {found.mean_error:+6.1%} "
                f"({found.bias:+.2f} se)  half-width {found.half_width:5.1%}, "
                f"{found.width_ratio:.2f} of what is needed"
            )
    return lines


def _bounds(rows: list[dict]) -> list[str]:
    """Say how far apart the bounds are, and how often the truth lies between them."""
    lines = []
    for name in FIGURES[:-1]:
        known = [(*row["bounds"][name], row["figures"][name][3]) for row in rows if row["bounds"]]
        if known:
            low, high, true = np.array(known, dtype=float).T
            held = ((low <= true) & (true <= high)).mean()
            lines.append(
                f"  {name:24s} bounds {(low / true).mean() - 1:+.0%} to "
                f"{(high / true).mean() - 1:+.0%} of the truth, which lies between in {held:.0%}"
            )
    return lines


def _of(design: Design, results: dict[tuple[str, int], dict]) -> list[dict]:
    return [row for key, row in sorted(results.items())
            if key[0] == design.name and "figures" in row]  # fmt: skip


def _cell(found: Found, count: int) -> str:
    chance = 50.0 * float(np.diff(chance_range(found.held, count))[0])
    held = f"{100 * found.held:.0f} ± {chance:.0f}%{verdict(found, count)}"
    return f"{held}, {found.bias:+.1f}, ×{found.width_ratio:.2f}"


def _area_cell(found: Found | None) -> str:
    if found is None:
        return "none printed"
    held = f"{100 * found.held:.0f} ± {100 * NORMAL_95 * found.held_error:.0f}%"
    return f"{held}{verdict_of_areas(found)}, {found.bias:+.1f}, ×{found.width_ratio:.2f}"


def _row(cells: list[str]) -> str:
    return f"| {' | '.join(cells)} |"
