"""Plain words in all that is printed: the project's own list, then proselint's.

The own list, tests/plain_words.csv, is in the spirit of the plain-words lists that governments
give their writers, as GOV.UK's A to Z of content style (from memory). proselint gathers the
advice of published style guides; typography is left out of it, as the renderers see to that.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest
from proselint.checks import __register__
from proselint.config import DEFAULT
from proselint.registry import CheckRegistry
from proselint.tools import LintFile

from planner.paths import TEMPLATES
from tests.prose import Sentence, sentences

WORDS = Path(__file__).with_name("plain_words.csv")
OUR_OWN = ("typography", "terms", "restricted", "lexical_illusions")
"""Checks of proselint left out: of signs and names, and of words that two lines share."""


def words():
    """Read the project's own list."""
    with WORDS.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def texts():
    """Give every sentence of the code, and the lines of the templates."""
    templates = [TEMPLATES / name for name in ("report.html", "guide.html", "program.toml")]
    lines = [
        Sentence(f"templates/{path.name}:{number}", re.sub(r"</?[a-z][^>]*>", "", line))
        for path in templates
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if path.suffix == ".html" or re.match(r"# .*\. |# [A-Z]", line)
    ]
    return [*sentences(), *lines]


def test_every_sentence_keeps_to_the_plain_words(texts):
    with WORDS.open(encoding="utf-8", newline="") as file:
        rows = [
            (re.compile(row["pattern"], re.IGNORECASE), row["write"])
            for row in csv.DictReader(file)
        ]
    found = [
        f"{place}: {match[0]!r}, write {write}: {text[:90]!r}"
        for place, text in texts
        for pattern, write in rows
        if (match := pattern.search(text)) and not _is_code(text)
    ]
    assert found == []


def test_the_list_finds_what_it_is_for():
    patterns = [row["pattern"] for row in words()]
    said = "Levy not paid" + "; mend it an" + "ew, which stands beside the rest, from memory."
    assert sum(re.search(one, said, re.IGNORECASE) is not None for one in patterns) == 5


def test_proselint_has_nothing_to_say(texts):
    CheckRegistry().register_many(__register__)
    checks = {name: on and name not in OUR_OWN for name, on in DEFAULT["checks"].items()}
    # one sentence a line, without quotes, inside which nothing is checked
    lines = [re.sub(r"[\s\"'“”\ud800-\udfff]+", " ", text) for _, text in texts]
    found = LintFile("printed", "\n".join(lines)).lint({**DEFAULT, "checks": checks})
    told = [
        f"{texts[one.pos[0] - 1].place}: {one.check_result.message}: {lines[one.pos[0] - 1][:90]}"
        for one in found
    ]
    assert told == []


def _is_code(text):
    """Whether a text is a pattern, a style or a document, not a sentence."""
    return bool(re.search(r"</|\\[bsw]|:\s*#|\{[a-z-]+:", text))
