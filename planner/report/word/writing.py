"""The Word document, byte for byte the same for the same report and template."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from markupsafe import Markup

from planner.figures import Figure
from planner.messages import messages_of
from planner.paths import APPENDIX_FILE, BRIEF_FILE
from planner.report.document import Document
from planner.report.document.building import APPENDIX_KEYS, BRIEF_KEYS, PAPER_KEYS
from planner.report.word.body import EMU_PER_INCH, Body
from planner.report.word.marks import Marks, contents_list
from planner.report.word.placeholders import (
    CONTENTS,
    EVERYTHING,
    OWN_TEMPLATE,
    PAPER_TEMPLATE,
    PART_TEMPLATE,
    SAID,
    WORDS,
    environment,
    filling_faults,
    open_template,
    placed_sections,
    save_word,
    template_fault,
)
from planner.store.files import write_whole
from planner.vetting.guard import guarded

if TYPE_CHECKING:
    from docx.document import Document as WordFile

CHOICES = {
    "heading_1": ("Heading 1",),
    "heading_2": ("Heading 2",),
    "heading_3": ("Heading 3", "Heading 2"),
    "text": ("Body Text", "Normal"),
    "lead": ("Report Lead", "Body Text", "Normal"),
    "point": ("List Bullet", "List Paragraph", "Normal"),
    "caution": ("Report Caution", "Intense Quote", "Body Text", "Normal"),
    "caption": ("Caption", "Normal"),
    "note": ("Report Note", "Normal"),
    "cell": ("Report Cell", "Normal"),
    "number": ("Report Number", "Report Cell", "Normal"),
    "picture": ("Report Picture", "Normal"),
    "contents_1": ("toc 1", "TOC 1", "Normal"),
    "contents_2": ("toc 2", "TOC 2", "Normal"),
    "table": ("Report Table", "Table Grid", "Normal Table"),
}
"""Names of styles for each purpose, the first that is there is taken."""


def style_ids(word: WordFile) -> dict[str, str]:
    """Find the id of a style for each purpose; empty where a template has none of them."""
    by_name = {style.name: style.style_id for style in word.styles}
    return {
        purpose: next((by_name[name] for name in names if name in by_name), "")
        for purpose, names in CHOICES.items()
    }


def write_word(
    path: Path,
    document: Document,
    register: Iterable[Figure],
    template: Path | None = None,
    section_keys: Sequence[str] = PAPER_KEYS,
) -> tuple[str, ...]:
    """Write the report as a Word document; return headings of sections that its template lacks.

    Parameters
    ----------
    section_keys
        Keys of the sections that make up "everything", in order.

    Raises
    ------
    ReportError
        The template cannot be filled.
    """
    source = template or OWN_TEMPLATE
    given = (source, document, [figure.id for figure in register], tuple(section_keys))
    if source in (OWN_TEMPLATE, PAPER_TEMPLATE, PART_TEMPLATE):
        told, content = filled(*given)
    else:
        told, content = guarded(source, filled, given, template_fault(source))
    write_whole(path, content)
    return tuple(json.loads(told))


def filled(
    source: Path, document: Document, figure_ids: list[str], section_keys: Sequence[str]
) -> Iterator[bytes]:
    """Fill a template; one that is not the planner's own, in the process with limits.

    Yields a JSON list of the headings that the template leaves out, then the document.
    """
    opened = open_template(source)
    word = opened.docx
    keys = placed_sections(word, section_keys)
    sections = {section.key: section for section in document.sections}
    order = [key for key in keys if key in sections]
    # by the document's own tag: another process may set it, which knows no program
    words = messages_of(document.language)
    marks = Marks({figure_id: place for place, figure_id in enumerate(figure_ids, start=1)}, words)
    styles = style_ids(word)
    body = Body(word.part, marks, styles, _width_inches(word))
    told = {key: Markup(body.section(sections[key])) for key in order}  # noqa: S704
    listed = contents_list(marks.headings, (styles["contents_1"], *[styles["contents_2"]] * 2))
    context = {
        **dict.fromkeys(keys, ""),
        **told,
        CONTENTS: Markup(listed),  # noqa: S704
        EVERYTHING: Markup("").join(told.values()),
        **{
            name: words.say(SAID[name], day=document.written_on)
            if name in SAID
            else getattr(document, name)
            for name in WORDS
        },
    }
    with filling_faults(source, "template.not_filled", marks="{% {{"):
        opened.render(context, environment(), autoescape=True)
    wanted = (key for key in section_keys if key in sections and key not in order)
    yield json.dumps([sections[key].heading for key in wanted]).encode()
    yield save_word(
        opened,
        f"{document.council}: {document.title}",
        document.council,
        document.language,
        document.written_at,
        document.subtitle,
    )


def write_parts(folder: Path, document: Document, register: Iterable[Figure]) -> None:
    """Write the brief and the appendices, each as a Word document of its own."""
    figures = tuple(register)
    write_word(folder / BRIEF_FILE, document, figures, PART_TEMPLATE, BRIEF_KEYS)
    write_word(folder / APPENDIX_FILE, document, figures, PART_TEMPLATE, APPENDIX_KEYS)


def _width_inches(word: WordFile) -> float:
    """Width between the margins of the last section, in which the report stands."""
    page = word.sections[-1]
    edges = (page.page_width or 0) - (page.left_margin or 0) - (page.right_margin or 0)
    return max(edges / EMU_PER_INCH, 1.0)
