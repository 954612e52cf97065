"""Streets of households, told apart by their written addresses."""

from __future__ import annotations

import polars as pl

UNIT_WORDS = ("flat", "unit", "apartment", "apt", "no", "suite", "level")
"""Words that number a home within a building; taken out of the name of its street."""

_NUMBERED = r"\b\w*\d\w*\b"
_NOT_LETTERS = r"[^\p{L}]+"


def streets(contacts: pl.DataFrame) -> pl.DataFrame:
    """Name the street of each household by the letters of its address and its postcode.

    Numbers and words such as flat or unit are taken out. A street written in two ways counts
    as two, which costs a little precision and no correctness.

    Parameters
    ----------
    contacts
        Frame of tables.Contacts.

    Returns
    -------
    DataFrame
        household_id, street; null where no address is known.

    Examples
    --------
    >>> contacts = pl.DataFrame({
    ...     "household_id": ["A", "B"], "street_address": ["12 Mill Lane", "Unit 3, 14a MILL LANE"],
    ...     "postcode": ["0001", "0001"]})
    >>> streets(contacts)["street"].to_list()
    ['mill lane 0001', 'mill lane 0001']
    """
    units = rf"\b(?:{'|'.join(UNIT_WORDS)})\b"
    letters = (
        pl.col("street_address")
        .str.to_lowercase()
        .str.replace_all(_NUMBERED, " ")
        .str.replace_all(units, " ")
        .str.replace_all(_NOT_LETTERS, " ")
        .str.strip_chars()
    )
    street = pl.concat_str(letters, pl.col("postcode").fill_null(""), separator=" ")
    return contacts.select("household_id", street=pl.when(letters.str.len_chars() > 0).then(street))
