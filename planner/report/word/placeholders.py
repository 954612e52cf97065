"""The template and its placeholders: all are known, and each stands where it can be filled."""

from __future__ import annotations

import datetime as dt
import io
import re
import shutil
import zipfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from textwrap import shorten
from typing import TYPE_CHECKING

from jinja2 import StrictUndefined, TemplateError
from jinja2.sandbox import SandboxedEnvironment

from planner.at_first_use import at_first_use
from planner.errors import ARCHIVE_FAULTS, ReportError
from planner.messages import did_you_mean, say
from planner.paths import TEMPLATES
from planner.report.document.building import PAPER_KEYS, SECTION_KEYS
from planner.report.wording import listing
from planner.store.files import disk_faults, fault_of, refuse_there
from planner.vetting.guard import guarded

with at_first_use():  # what writes waits until there is something to write
    from planner import workbooks

if TYPE_CHECKING:
    from docx.document import Document as WordFile
    from docxtpl import DocxTemplate

OWN_TEMPLATE = TEMPLATES / "report.docx"
PART_TEMPLATE = TEMPLATES / "part.docx"
"""For the brief and the appendices, each in a file of its own."""

PAPER_TEMPLATE = TEMPLATES / "paper.docx"
"""For purchase orders and their like, whose sections stand where it says everything."""

SAID = {
    "contents_title": "page.contents",
    "to_appendices": "word.to_appendices",
    "loaded_up_to": "page.loaded",
    "page_word": "word.page",
}
"""Placeholders that are said in the language of the paper, and their keys."""

WORDS = ("title", "subtitle", "council", "reporting_year", "written_on", "version", *SAID)
"""Placeholders that stand in a line of text, as {{ title }}."""

CONTENTS, EVERYTHING = "contents", "everything"
BLOCKS = (CONTENTS, EVERYTHING, *SECTION_KEYS)
"""Placeholders that stand alone in a paragraph, as {{p summary }}."""

FILLING_FAULTS = (
    TemplateError,
    ArithmeticError,
    AttributeError,
    LookupError,
    RecursionError,
    SyntaxError,
    TypeError,
    ValueError,
)
"""What marks in a template can raise: sums, loops and includes besides faults of the marks."""

LONGEST_PROPERTY = 255
_PLACEHOLDER = re.compile(r"\{\{(?P<block>p?)\s+(?P<name>\w+)[^}]*\}\}")


def as_property(text: str) -> str:
    """Cut a text to what a property of a Word file may hold (ECMA-376, part 2).

    Examples
    --------
    >>> len(as_property("word " * 100)) <= LONGEST_PROPERTY
    True
    """
    return shorten(text, LONGEST_PROPERTY, placeholder=" …")


def environment() -> SandboxedEnvironment:
    """Make the environment in which a template is filled: no code of it can reach further."""
    return SandboxedEnvironment(autoescape=True, undefined=StrictUndefined)


def copy_template(target: Path, source: Path = OWN_TEMPLATE, *, force: bool = False) -> None:
    """Write one of the planner's templates, for a council to make its own."""
    refuse_there([target], "file.there", ReportError, forced=force)
    with disk_faults(target, "file.name_folder", ReportError):
        shutil.copyfile(source, target)


def check_template(path: Path) -> None:
    """Hold a council's template to the placeholders that there are, in a process with limits.

    Raises
    ------
    ReportError
        As `open_template`, or it takes more memory or time than a template does.
    """
    if not path.is_file():
        raise fault_of(path, "file.no_template", ReportError)
    guarded(path, vetted, (path,), template_fault(path))


def vetted(path: Path) -> Iterator[bytes]:
    """Open a template and yield nothing; run in the process with limits."""
    open_template(path)
    yield from ()


def template_fault(path: Path) -> Callable[[str], ReportError]:
    """Make errors of a template out of sentences."""
    return lambda sentence: ReportError(sentence, path=str(path))


def open_template(path: Path) -> DocxTemplate:
    """Open a template and hold its placeholders to those that there are.

    Raises
    ------
    ReportError
        The file is no Word document, holds macros, or has a placeholder that is not known
        or stands where it cannot be filled; the message names each.
    """
    template = open_word(path)
    with filling_faults(path, "template.unread_as", mark="{{ title }}"):
        names = template.get_undeclared_template_variables(environment())
    faults = [*_unknown(names), *_misplaced(template.docx)]
    if not names & {*BLOCKS} - {CONTENTS}:
        faults.append(say("template.no_section", mark="{{p everything }}"))
    if faults:
        message = "\n".join((say("template.to_fix", len(faults), path=str(path)), *faults))
        raise ReportError(message, path=str(path))
    return template


def placed_sections(word: WordFile, keys: Sequence[str] = PAPER_KEYS) -> list[str]:
    """Names of the sections that a template places, in its order; "everything" is those given."""
    names: list[str] = []
    for found, _ in _found(word):
        if found["name"] == EVERYTHING:
            names += keys
        elif found["name"] in {*keys, *SECTION_KEYS}:
            names.append(found["name"])
    return list(dict.fromkeys(names))


def save_word(
    opened: DocxTemplate, title: str, author: str, language: str, day: dt.datetime, subject: str
) -> bytes:
    """Give a filled template as a file that says of itself what it is, the same each time."""
    from docx.oxml.ns import qn

    word: WordFile = opened.docx
    properties = word.core_properties
    properties.title, properties.language = as_property(title), language
    properties.author = properties.last_modified_by = as_property(author)
    properties.subject = as_property(subject)
    properties.created = properties.modified = day
    properties.revision = 1
    for one in word.styles.element.iter(qn("w:lang")):
        one.set(qn("w:val"), language)
    out = io.BytesIO()
    opened.save(out)
    return workbooks.restamped(out.getvalue(), day)


def open_word(path: Path) -> DocxTemplate:
    """Open a Word document without macros as a template."""
    # the guide and the page need names of placeholders alone: Word is read when it is written
    from docxtpl import DocxTemplate

    try:
        with zipfile.ZipFile(path) as archive:
            members = set(archive.namelist())
        if "word/document.xml" not in members:
            raise fault_of(path, "file.not_word", ReportError)
        if any(name.endswith("vbaProject.bin") for name in members):
            raise fault_of(path, "template.macros", ReportError)
        template = DocxTemplate(path)
        template.init_docx()
    except FileNotFoundError:
        raise fault_of(path, "file.no_template", ReportError) from None
    except (*ARCHIVE_FAULTS, SyntaxError) as error:
        raise fault_of(path, "file.not_word", ReportError) from error
    return template


@contextmanager
def filling_faults(path: Path, key: str, **marks: str) -> Iterator[None]:
    """Say in words what the marks in a template raise."""
    try:
        yield
    except FILLING_FAULTS as error:
        raise fault_of(path, key, ReportError, why=str(error), **marks) from error


def _unknown(names: set[str]) -> Iterator[str]:
    known = (*WORDS, *BLOCKS)
    for name in sorted(names - set(known)):
        there = say("template.there", known=listing(known, len(known)))
        hint = did_you_mean(name, known) or there
        yield say("template.unknown", name=name, hint=hint)


def _misplaced(word: WordFile) -> Iterator[str]:
    """Sections and contents need a paragraph of their own, with p."""
    for found, text in _found(word):
        name, is_block = found["name"], found["name"] in BLOCKS
        if is_block and not found["block"]:
            yield say("template.own_line", name=name, mark=f"{{{{p {name} }}}}")
        elif is_block and text.strip() != found[0]:
            yield say("template.put_alone", name=name, mark=found[0])
        elif found["block"] and name in WORDS:
            yield say("template.without_p", name=name, mark=f"{{{{ {name} }}}}")


def _found(word: WordFile) -> Iterator[tuple[re.Match[str], str]]:
    from docx.oxml.ns import qn

    for paragraph in word.element.body.iter(qn("w:p")):
        text = "".join(run.text or "" for run in paragraph.iter(qn("w:t")))
        for found in _PLACEHOLDER.finditer(text):
            yield found, text
