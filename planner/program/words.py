"""The council's own words, written into program.toml without touching anything else in it."""

from __future__ import annotations

import tomlkit

Words = dict[str, dict[str, str]]
"""For a table or column, the council's own words and what each stands for."""


def with_words(text: str, columns: Words, synonyms: Words) -> str:
    r"""Add words to the text of a program file; comments and order of the rest stay.

    Parameters
    ----------
    text
        What program.toml holds.
    columns
        For each table, headings and the columns they stand for.
    synonyms
        For each column, words and the codes they stand for.

    Examples
    --------
    >>> print(with_words("draws = 1 # few\n", {}, {"dwelling": {"loft": "apartment"}}))
    draws = 1 # few
    <BLANKLINE>
    [synonyms.dwelling]
    loft = "apartment"
    <BLANKLINE>
    """
    document = tomlkit.parse(text)
    for part, words in (("columns", columns), ("synonyms", synonyms)):
        for name, meanings in words.items():
            if meanings:
                blocks = document.setdefault(part, tomlkit.table(is_super_table=True))
                blocks.setdefault(name, tomlkit.table()).update(meanings)
    return tomlkit.dumps(document)
