"""Soundex: a name's first letter and the sounds of its next consonants."""

from __future__ import annotations

import polars as pl

SOUNDS = {"bfpv": "1", "cgjkqsxz": "2", "dt": "3", "l": "4", "mn": "5", "r": "6"}
LENGTH = 4


def soundex(words: pl.Expr) -> pl.Expr:
    """Code words by American Soundex; empty where a word has no letter.

    Letters of one sound that stand together, or with h or w between them, count once; a
    vowel between them parts them.

    Parameters
    ----------
    words
        Words in lower-case letters a to z.

    References
    ----------
    US National Archives, "The Soundex Indexing System"; from memory.

    Examples
    --------
    >>> pl.select(soundex(pl.Series(["robert", "rupert", "tymczak"]))).to_series().to_list()
    ['R163', 'R163', 'T522']
    """
    letters = words.str.replace_all(r"[^a-z]", "")
    digits = letters.str.slice(0, 1) + letters.str.slice(1).str.replace_all(r"[hw]", "")
    for group, digit in SOUNDS.items():
        digits = digits.str.replace_all(f"[{group}]", digit)
    for digit in SOUNDS.values():
        digits = digits.str.replace_all(f"{digit}+", digit)
    # the first sound stands as a letter, vowels have served to part the others
    rest = digits.str.slice(1).str.replace_all(r"[a-z]", "")
    code = letters.str.slice(0, 1).str.to_uppercase() + rest
    padded = code.str.pad_end(LENGTH, "0").str.slice(0, LENGTH)
    return pl.when(letters != "").then(padded).otherwise(pl.lit(""))
