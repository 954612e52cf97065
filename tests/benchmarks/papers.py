"""Pages, words, numbers and reading grade of each paper: `python -m tests.benchmarks.papers`.

Makes the report of each sample program, or reads those of the folders named, and prints a
table in Markdown. Pages are counted by LibreOffice; the grade is that of Kincaid and others
(1975), as tests/unit/report/readability.py says it, of the paragraphs of a section without
its tables.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

import docx

from planner import run
from planner.messages import FIRST_LANGUAGE
from planner.paths import APPENDIX_FILE, BRIEF_FILE, PROGRAM_FILE, REPORT_FOLDER, WORD_FILE
from planner.program import read_program
from planner.starting import sample_towns
from tests.unit.report.readability import NUMBER, grade, words_of

PAPERS = (BRIEF_FILE, WORD_FILE, APPENDIX_FILE)
SECTION = "Heading 1"
FEWEST_WORDS = 25
"""A section with fewer words outside its tables has no grade worth the name."""


def pages_of(path: Path) -> int:
    """Count the pages that LibreOffice prints."""
    with tempfile.TemporaryDirectory() as name:
        command = ["soffice", "--headless", "--convert-to", "pdf", "--outdir", name, str(path)]
        subprocess.run(command, check=True, capture_output=True)
        content = (Path(name) / path.with_suffix(".pdf").name).read_bytes()
    return len(re.findall(rb"/Type\s*/Page\b", content))


def sections_of(paper: docx.document.Document) -> dict[str, list[str]]:
    """Paragraphs under each heading of the first level."""
    found: dict[str, list[str]] = {"": []}
    heading = ""
    for one in paper.paragraphs:
        if one.style.name == SECTION:
            heading = one.text
            found[heading] = []
        elif one.text.strip() and not one.style.name.startswith(("Heading", "Title", "toc")):
            found[heading].append(one.text)
    return found


def measured(path: Path) -> tuple[int, int, int, list[tuple[float, str]]]:
    """Pages, words and numbers of a paper, and the grade of each of its sections."""
    paper = docx.Document(str(path))
    cells = [cell.text for table in paper.tables for row in table.rows for cell in row.cells]
    words = [
        word
        for text in (*(one.text for one in paper.paragraphs), *cells)
        for word in words_of(text)
    ]
    graded = [
        (grade(told), heading)
        for heading, told in sections_of(paper).items()
        if sum(len(words_of(one)) for one in told) >= FEWEST_WORDS
    ]
    return pages_of(path), len(words), sum(1 for w in words if NUMBER.match(w)), graded


def print_papers(name: str, folder: Path) -> None:
    """Print a line for each paper, and the grades of its sections, hardest first.

    The grade is of English words alone.
    """
    language = read_program(folder / PROGRAM_FILE).council.report_language
    for paper in PAPERS:
        pages, words, numbers, graded = measured(folder / REPORT_FOLDER / paper)
        listed = "; ".join(
            f"{heading or 'opening'} {found:.1f}"
            for found, heading in sorted(graded)[::-1]
            if language == FIRST_LANGUAGE
        )
        each = f"{words / pages:.0f} | {numbers / pages:.0f}"
        print(
            f"| {name}, {language} | {paper} | {pages} | {words:,} | {each} | {listed} |",
            flush=True,
        )


def main(folders: list[str]) -> None:
    """Measure the papers of program folders, or of every sample program."""
    print("| program | paper | pages | words | words a page | numbers a page | grade of sections |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for name in folders:
        print_papers(Path(name).name, Path(name))
    for town in () if folders else sample_towns():
        with tempfile.TemporaryDirectory() as made:
            run.demo(Path(made) / town, town)
            print_papers(town, Path(made) / town)


if __name__ == "__main__":
    main(sys.argv[1:])
