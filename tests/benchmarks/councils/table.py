"""The study's table: how often intervals hold the truth, bias, width."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.benchmarks.councils.council import FIGURES
from tests.benchmarks.councils.designs import Design

LEAST_HELD, MOST_HELD = 0.92, 0.98
MOST_BIAS = 0.2
NORMAL_95 = 1.96

ALL_THAT_HOLD = "all whose assumptions hold"

HEADINGS = {
    "fed_t": "fed",
    "kept_out_of_landfill_t": "kept out",
    "retention_12_months": "retention, 12 months",
    "bins_in_use": "bins in use",
    "landfill_share": "landfill share",
}


@dataclass(frozen=True)
class Found:
    """What the councils of one design say of one figure.

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
    """

    held: float
    bias: float
    half_width: float
    width_ratio: float
    mean_error: float


def find(rows: list[dict], name: str) -> Found:
    """Sum up one figure over the councils of a design."""
    value, low, high, true = np.array([row["figures"][name] for row in rows], dtype=float).T
    error, half = value / true - 1.0, (high - low) / 2.0 / true
    spread = float(error.std(ddof=1))
    return Found(
        held=float(((low <= true) & (true <= high)).mean()),
        bias=float(error.mean() / spread),
        half_width=float(half.mean()),
        width_ratio=float(half.mean() / (NORMAL_95 * spread)),
        mean_error=float(error.mean()),
    )


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
    farther = abs(found.bias) - NORMAL_95 / np.sqrt(count) > MOST_BIAS
    return marks + ("b" if farther else "")


def markdown(designs: list[Design], results: dict[tuple[str, int], dict]) -> str:
    """Write the table, a row a design: coverage, bias over standard error, half-width."""
    head = ["design", "councils", *HEADINGS.values()]
    lines = [_row(head), _row(["---"] * len(head))]
    for design in designs:
        rows = _of(design, results)
        if len(rows) > 1:
            cells = [_cell(find(rows, name), len(rows)) for name in FIGURES]
            lines.append(_row([design.words, str(len(rows)), *cells]))
    pooled = [row for design in designs if design.holds for row in _of(design, results)]
    if len(pooled) > 1:
        cells = [_cell(find(pooled, name), len(pooled)) for name in FIGURES]
        lines.append(_row([ALL_THAT_HOLD, str(len(pooled)), *cells]))
    return "\n".join(lines)


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
        lines += _bounds(rows)
    return "\n".join(lines)


def _bounds(rows: list[dict]) -> list[str]:
    """Say how far apart the bounds are, and how often the truth lies between them."""
    lines = []
    for name in FIGURES[:4]:
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
    mark = verdict(found, count)
    return f"{found.held:.0%}{mark}, {found.bias:+.1f}, ±{found.half_width:.0%}"


def _row(cells: list[str]) -> str:
    return f"| {' | '.join(cells)} |"
