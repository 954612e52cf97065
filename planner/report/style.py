"""The look of everything that is printed: one palette and one type size a purpose.

Main and accent differ in lightness as well as in hue, so that they stay apart in grey
print and for readers who see few colours.
"""

from __future__ import annotations

from typing import Any

INK = "#20292B"  # text and axes
MUTED = "#5F6B6E"  # notes, units and what stands behind
MAIN = "#1D5B63"  # what the reader should see first
FILL = "#5C979E"
"""Bars of the reporting year: light enough for an interval drawn over them in ink."""

BAND = "#B9D0D2"  # intervals and months before the reporting year
BAND_80, BAND_50 = "#8DB4B8", "#5C979E"
"""Darker bands inside an interval: eight and five chances in ten."""

PAPER = "#FFFFFF"
EDGED: dict[str, Any] = {"edgecolor": MUTED, "linewidth": 0.7}
WITHIN: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.5}
"""Edges of bands and bars, alone and within each other.

A pale band is told from paper, and a band from the next, by the line between them, which has a
contrast of 3:1 to both (WCAG 2.1, 1.4.11), in grey as well.
"""

ACCENT = "#9A4F0F"  # targets
RULE = "#C8CFD0"  # thin lines of tables and grids
SHADE = "#EEF2F2"  # ground of heading rows
BODY_POINTS = 10
TITLE_POINTS = 16
SECTION_POINTS = 12
NOTE_POINTS = 10

SHEET_FONT = "Arial"
CHART_FONT = "DejaVu Sans"
"""Ships with matplotlib, so that charts are the same on every machine."""

CHART_WIDTH_INCHES = 7.2
CHART_HEIGHT_INCHES = 2.9
CHART_DOTS_PER_INCH = 200
