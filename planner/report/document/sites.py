"""What schools, flats, cafes and other sites have and feed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.model import Section
from planner.report.document.saying import text
from planner.report.document.tables import figure_table
from planner.report.figures.sites import APART

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents


def sites(contents: Contents) -> Iterator[Section]:
    """Say what sites have and feed; nothing where there are none."""
    if "site_fed_t" not in contents.register:
        return
    blocks = (text(APART), figure_table(contents, "sites", "Bins that many people share"))
    yield Section("sites", "Schools, flats and cafes", blocks)
