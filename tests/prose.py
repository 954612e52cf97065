"""Every sentence that the program can print: strings of the code, help, templates, samples.

Words in braces are filled in when a sentence is printed; here X stands for them.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import NamedTuple

from planner.messages import in_english

HIDDEN = in_english("why.hidden")
"""What stands in place of the method of a figure that is not shown."""

ROOT = Path(__file__).parent.parent
FEWEST_WORDS = 3
HELP = "planner/cli/"
"""Where docstrings are printed: the first paragraph of a command's is its help."""


class Sentence(NamedTuple):
    """A text with its place."""

    place: str
    text: str


def sentences():
    """List every text of at least three words in the program's code."""
    for path in sorted((ROOT / "planner").rglob("*.py")):
        place = path.relative_to(ROOT).as_posix()
        tree = ast.parse(path.read_text(encoding="utf-8"))
        helped = _help(tree) if place.startswith(HELP) else ()
        for line, text in (*_texts(tree), *helped):
            if len(text.split()) >= FEWEST_WORDS:
                yield Sentence(f"{place}:{line}", text)


def _texts(tree):
    """Strings that are no docstrings, those of f-strings put together; help is a docstring."""
    apart = {id(one) for node in ast.walk(tree) for one in _docstrings(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            apart |= {id(one) for one in ast.walk(node)} - {id(node)}
            yield node.lineno, "".join(_plain(one) for one in node.values)
        elif isinstance(node, ast.Constant) and _is_text(node) and id(node) not in apart:
            yield node.lineno, node.value


def _is_text(node):
    return isinstance(node.value, str)


def _help(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.lineno, (ast.get_docstring(node) or "").partition("\n\n")[0]


def _docstrings(node):
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            yield child.value


def _plain(node):
    return str(node.value) if isinstance(node, ast.Constant) else "X"


SPREAD = re.compile(
    r"(-?\d[\d.,]*)%?(?: [^\d\s(][^\d(]{0,24})? \((-?\d[\d.,]*)%? to (-?\d[\d.,]*)%?"
)
ODD_NUMBERS = (
    # zero has no sign
    re.compile(r"(?<![\w.,-])-0(?:[.,]0+)?(?![\d.,]*\d)%?"),
    # no power of ten
    re.compile(r"(?<![\w.-])\d+(?:\.\d+)?[eE][+-]\d+(?!\w)"),
    # nothing is told to a hundred-thousandth
    re.compile(r"(?<![\w.,-])\d+[.,]\d{5,}"),
)
ISO_DATE = re.compile(r"(?<![\w/-])20\d\d-(?:0\d|1[0-2])(?:-\d\d)?(?![\w-])")
"""A day or a month as files name it, and nobody says it."""


def odd_numbers(text):
    """Find numbers that the rule of rounding would not write, in English or as in Spain."""
    found = [match[0] for pattern in ODD_NUMBERS for match in pattern.finditer(text)]
    return [*found, *(match[0] for match in SPREAD.finditer(text) if not _is_bearable(match))]


def _is_bearable(match):
    """Whether value and limits end at one place, and half the interval has two digits at most.

    The rounding rule of the Particle Data Group's Review of Particle Physics, introduction,
    section 5.3; a skewed interval keeps what its shorter side bears, so that half may have three.
    """
    words = [match[place].rstrip(".,") for place in (1, 2, 3)]
    mark = "," if any(re.search(r",\d{1,2}$|^0,|^-0,", word) for word in words) else "."
    plain = [word.replace("." if mark == "," else ",", "").replace(",", ".") for word in words]
    decimals = {len(word.partition(".")[2]) for word in plain}
    if len(decimals) > 1:
        return False
    _, low, high = map(float, plain)
    places = decimals.pop()
    if places == 0:
        ends = [len(word) - len(word.rstrip("0")) for word in plain if float(word)]
        places = -min(ends, default=0)
    return (high - low) / 2.0 * 10.0**places < 1000.0 if low < high else True
