"""The look of everything that is printed: one palette and one type size a purpose.

Main and accent differ in lightness as well as in hue, so that they stay apart in grey
print and for readers who see few colours.
"""

from __future__ import annotations

INK = "#20292B"
"""Text and axes."""

MUTED = "#5F6B6E"
"""Notes, units and what stands behind."""

MAIN = "#1D5B63"
"""What the reader should see first."""

FILL = "#5C979E"
"""Bars of the reporting year: light enough for an interval drawn over them in ink."""

BAND = "#B9D0D2"
"""Intervals and months before the reporting year."""

BAND_80, BAND_50 = "#8DB4B8", "#5C979E"
"""Darker bands inside an interval: eight and five chances in ten."""

ACCENT = "#9A4F0F"
"""Targets."""

RULE = "#C8CFD0"
"""Thin lines of tables and grids."""

SHADE = "#EEF2F2"
"""Ground of heading rows."""

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
