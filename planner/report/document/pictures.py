"""Where each chart stands, by its name; one that is not known stands with the results."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.model import Picture

if TYPE_CHECKING:
    from planner.report.charts import Chart
    from planner.report.document.contents import Contents

PLACES = {
    "results": ("kept_out_by_month",),
    "areas": ("kept_out_by_area",),
    "chain": ("gross_to_net", "bins_in_use_by_cohort", "retention_by_age", "prior_routes"),
    "emissions": ("emissions_account", "decay_by_year", "methane_by_year"),
    "money": ("cost_per_t", "cost_per_t_by_year", "cost_per_tonne"),
    "sureness": ("audit_and_survey", "survey_and_audit", "variance_shares", "uncertainty"),
}
"""Names of charts by the key of the section in which they stand, in order."""

ELSEWHERE = "results"


def pictures(contents: Contents, key: str) -> tuple[Picture, ...]:
    """Find the charts of a section.

    Parameters
    ----------
    contents
        Holds the charts that were drawn.
    key
        Key of the section.
    """
    by_name = {chart.path_png.stem: chart for chart in contents.charts}
    known = {name for names in PLACES.values() for name in names}
    names = [name for name in PLACES.get(key, ()) if name in by_name]
    if key == ELSEWHERE:
        names += [name for name in by_name if name not in known]
    return tuple(_picture(by_name[name]) for name in names)


def _picture(chart: Chart) -> Picture:
    return Picture(
        chart.path_png.stem,
        chart.title,
        chart.alt_text,
        chart.path_png.read_bytes(),
        chart.path_svg.read_bytes(),
    )
