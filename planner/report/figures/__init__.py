"""Every figure of a year-end report, declared once as a row of figures.csv.

A row says what the figure is, what it rests on, which tables of the report print it and which
rule of the account it follows. The module of a subject puts the values; the register, the Word
document, the page, the workbook and `explain` have everything else from here.

Of the standards, seen on 2026-11-29: a summary of the GHG Protocol for Project Accounting (2005)
whose headings follow its chapters 1 to 5 (https://altiorem.org/?p=16968), and a public note that
cites its chapter 8 for the baseline procedure. Of the Corporate Standard (2004) the table of
contents was read, which gives chapters 5 and 7 the titles used here. Of ISO 14064-2:2019 previews
gave nothing below clause 3, so that its numbers are from memory, as are chapters 10 and 11 of the
Protocol. No text was read: a verifier holds the standards and checks the numbers there.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from planner.messages import said

TITLES = {
    "iso": "ISO 14064-2:2019",
    "project": "GHG Protocol for Project Accounting (2005)",
    "corporate": "GHG Protocol Corporate Standard (2004)",
    "scope_3": "GHG Protocol Scope 3 Standard (2011)",
}
"""Titles of the standards, which are names and the same in every language."""

LIST = "list:"
"""Before the name of a row that only says what several figures rest on."""

_NO_KEY = re.compile(r"[^a-z0-9_]+")


class Rule(NamedTuple):
    """A rule of the account, and how well the clauses that it follows are known."""

    name: str
    how_known: str

    @property
    def says(self) -> str:
        """The rule in words."""
        return said(f"rule.{self.name}.says")

    @property
    def clauses(self) -> str:
        """Clauses of the standards that it follows."""
        return said(f"rule.{self.name}.clauses", **TITLES)

    @property
    def known(self) -> str:
        """How well these are known."""
        return said(f"rule.known.{self.how_known}")


RULES = (
    Rule("baseline", "note"),
    Rule("lines", "summary"),
    Rule("leakage", "summary"),
    Rule("gases", "memory"),
    Rule("net", "memory"),
    Rule("other_routes", "chapter"),
    Rule("conservative", "summary"),
    Rule("capital", "memory"),
    Rule("uncertainty", "uncertainty"),
    Rule("measured_again", "memory"),
    Rule("kept", "memory"),
    Rule("restated", "title"),
    Rule("dates", "memory"),
)
"""Each rule of the account once; of the last three no single figure is made."""


@dataclass(frozen=True)
class FigureDeclaration:
    """A figure before it has a value; its words stand in ``figures.po``, by its id."""

    id: str  # name that stays from version to version; a part is ``fed_t[{area_id}]``
    unit: str  # as in `planner.figures.Figure`: what programs read, the same in every language
    # Ids of other figures, and names with ``query:``, ``factor:`` or ``key:`` before them, parted
    # by blanks; a key is one of program.toml. In the table ``list:feed`` stands for all that the
    # row of this name, further up, says.
    rests_on: str = ""
    # Tables of the report in which it stands. Where the label does not serve as the words of its
    # row or column there, these have a key of their own, ``in_`` and the table.
    shown: tuple[str, ...] = ()
    # names of sentences that say how it came about, parted by blanks: ``own`` is its own, any other
    # is shared and stands under ``how``; a word in braces is filled in when it is put
    method: str = "own"
    label: str = ""  # name of a label that several figures share; its own where empty
    rule: str = ""  # rule of the account by which it is made; empty where no standard has one

    def key(self, part: str) -> str:
        """Key of some words of its own: its label, its method, or those of a table.

        Examples
        --------
        >>> FigureDeclaration("fed_t[{area_id}]", "t").key("label")
        'figure.fed_t.area_id.label'
        """
        name = _NO_KEY.sub(".", self.id.replace("{", "").replace("}", "")).strip(".")
        return f"figure.{name}.{part}"

    @property
    def label_key(self) -> str:
        """Key of its label."""
        return f"figure.label.{self.label}" if self.label else self.key("label")

    def column_key(self, table: str) -> str:
        """Key of its words in a table, which stand in the files where the label does not serve."""
        return self.label_key.removesuffix(".label") + f".in_{table}"

    def words_in(self, table: str) -> str:
        """Say its words in a table; empty where the label serves."""
        key = self.column_key(table)
        words = said(key)
        return "" if words == key else words

    @property
    def method_keys(self) -> tuple[str, ...]:
        """Keys of the sentences of its method; what is filled in has none and stands in braces."""
        return tuple(
            self.key("method") if one == "own" else one if one.startswith("{") else f"how.{one}"
            for one in self.method.split()
        )

    def labelled(self, **filled: str | int) -> str:
        """Say its label."""
        return said(self.label_key, **filled)

    def followed(self) -> str:
        """Say which clauses the rule behind it follows; empty where no standard has one.

        Examples
        --------
        >>> CATALOGUE["account_conservative_t_co2e[{basis}.net]"].followed()
        'Follows ISO 14064-2:2019, 4.7; GHG Protocol for Project Accounting (2005), chapter 4 (ISO: source not read; Protocol: chapter seen in a summary, text not).'
        >>> CATALOGUE["program_cost"].followed()
        ''
        """  # noqa: E501 - a sentence
        told = [f"{rule.clauses} ({rule.known})" for rule in RULES if rule.name == self.rule]
        return said("rule.follows", clauses=told[0]) if told else ""


def _read_catalogue() -> tuple[dict[str, FigureDeclaration], dict[str, str]]:
    lists: dict[str, str] = {}
    found: dict[str, FigureDeclaration] = {}
    with Path(__file__).with_name("figures.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            name, shown = row["id"], tuple(row["shown"].split())
            rests_on = " ".join(lists.get(one, one) for one in row["rests_on"].split())
            if name.startswith(LIST):
                lists[name] = rests_on
            else:
                texts = {key: row[key] for key in ("id", "unit", "method", "label", "rule")}
                found[name] = FigureDeclaration(rests_on=rests_on, shown=shown, **texts)
    return found, lists


CATALOGUE, LISTS = _read_catalogue()


def rows_of(table: str) -> dict[str, str]:
    """Find the figures that stand in a table, in order, with their words there.

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
