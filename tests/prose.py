"""Every sentence that the program can print: strings of the code, help, templates, samples.

Words in braces are filled in when a sentence is printed; here X stands for them.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import NamedTuple

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
