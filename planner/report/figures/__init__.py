"""Every figure of a year-end report, declared by subject; `CATALOGUE` has them all."""

from planner.report.figures import (
    aftercare,
    audit,
    castings,
    chain,
    choices,
    comparison,
    diaries,
    emission_checks,
    emissions,
    forecast,
    giveaway,
    money,
    present_value,
    response,
    retention,
    survey,
    tonnes,
    worth,
)
from planner.report.figures.declaring import Declared

__all__ = ["CATALOGUE", "SUBJECTS", "Declared", "rows_of"]

SUBJECTS = (
    giveaway,
    retention,
    tonnes,
    forecast,
    chain,
    castings,
    emissions,
    emission_checks,
    money,
    present_value,
    worth,
    choices,
    survey,
    response,
    diaries,
    aftercare,
    audit,
    comparison,
)
"""Modules of figures, in the order in which tables print them."""

CATALOGUE = {one.id: one for subject in SUBJECTS for one in subject.FIGURES}


def rows_of(table: str) -> dict[str, str]:
    """Find the figures that stand in a table, in order, with their words there.

    Parameters
    ----------
    table
        Key of a table of the report.

    Returns
    -------
    dict
        Words of a row or column by the id as declared, empty where the label serves. Of
        figures in parts, as areas, the id is that of the part in braces.

    Examples
    --------
    >>> rows_of("areas")["kept_out_of_landfill_t[{area_id}]"]
    'Kept out, t'
    """
    return {one.id: one.words_in(table) for one in CATALOGUE.values() if table in one.shown}
