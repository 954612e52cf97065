"""Pieces of WordprocessingML: text, bookmarks that name figures, numbered captions, contents.

References
----------
ECMA-376, Office Open XML, part 1: 17.13.6 (bookmarks), 17.16.5 (fields SEQ and PAGEREF).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

from planner.report.document import Shown, Statement

if TYPE_CHECKING:
    from planner.messages import Messages

LONGEST_NAME = 40
"""Characters that the name of a bookmark may have."""

_NOT_XML = re.compile(r"[^\t\n\r\x20-\uD7FF\uE000-\uFFFD\U00010000-\U0010FFFF]")
_NOT_OF_NAME = re.compile(r"[^A-Za-z0-9]+")

_MINUS = re.compile(r"(?<!\w)-(?=\S)")


def xml_text(text: str) -> str:
    """Leave out what XML does not allow, and set line ends as spaces."""
    return _NOT_XML.sub("", text).replace("\n", " ").replace("\r", " ").replace("\t", " ")


def attribute(text: str) -> str:
    """Quote text for an attribute."""
    return quoteattr(xml_text(text))


def run(text: str, *, bold: bool = False, keeps_minus: bool = False) -> str:
    """Write a run of text; no line ends after a minus that is kept with its number."""
    looks = "<w:rPr><w:b/></w:rPr>" if bold else ""
    pieces = _MINUS.split(text) if keeps_minus else [text]
    set_pieces = [
        f'<w:t xml:space="preserve">{escape(xml_text(piece))}</w:t>' if piece else ""
        for piece in pieces
    ]
    return f"<w:r>{looks}{'<w:noBreakHyphen/>'.join(set_pieces)}</w:r>"


def paragraph(style_id: str, content: str, *, keeps_next: bool = False) -> str:
    """Write a paragraph in a style; an empty id leaves it in the template's default."""
    style = f'<w:pStyle w:val="{style_id}"/>' if style_id else ""
    keep = "<w:keepNext/>" if keeps_next else ""
    looks = f"<w:pPr>{style}{keep}</w:pPr>" if style or keep else ""
    return f"<w:p>{looks}{content}</w:p>"


def _field(instruction: str, shown: str, dirty: str = "") -> str:
    """Write a field with what it shows until it is brought up to date; `dirty` asks for that."""
    return (
        f'<w:r><w:fldChar w:fldCharType="begin"{dirty}/></w:r>'
        f'<w:r><w:instrText xml:space="preserve"> {instruction} </w:instrText></w:r>'
        '<w:r><w:fldChar w:fldCharType="separate"/></w:r>'
        f"{run(shown)}"
        '<w:r><w:fldChar w:fldCharType="end"/></w:r>'
    )


@dataclass
class Marks:
    """Numbers bookmarks and captions through one document."""

    places: Mapping[str, int]  # place of each figure in figures.json, counted from 1
    words: Messages  # of the document's language
    headings: list[tuple[int, str, str]] = field(default_factory=list)
    _bookmarks: int = 0
    _times: dict[str, int] = field(default_factory=dict)
    _captions: dict[str, int] = field(default_factory=dict)

    def statement(self, statement: Statement, *, bold: bool = False) -> str:
        """Write a statement; a bookmark around every number names its figure."""
        return "".join(
            self._figure(part, bold=bold) if isinstance(part, Shown) else run(part, bold=bold)
            for part in statement.parts
            if part
        )

    def heading(self, style_id: str, level: int, text: str) -> str:
        """Write a heading that the contents can point to."""
        name = f"_Toc{len(self.headings) + 1:08d}"
        self.headings.append((level, name, text))
        return paragraph(style_id, self._bookmarked(name, run(text)), keeps_next=True)

    def caption(self, style_id: str, kind: str, text: str, *, keeps_next: bool) -> str:
        """Write a caption with the next number of its kind."""
        number = self._captions[kind] = self._captions.get(kind, 0) + 1
        counted = _field(rf"SEQ {kind} \* ARABIC", str(number))
        named = self.words.say("word.table" if kind == "Table" else "word.chart")
        told = self.words.say("number.labelled", label="", value=text)
        content = f"{run(f'{named} ')}{counted}{run(told)}"
        return paragraph(style_id, content, keeps_next=keeps_next)

    def _figure(self, shown: Shown, *, bold: bool) -> str:
        time = self._times[shown.figure_id] = self._times.get(shown.figure_id, 0) + 1
        name = bookmark_name(shown.figure_id, self.places[shown.figure_id], time)
        return self._bookmarked(name, run(shown.words, bold=bold, keeps_minus=True))

    def _bookmarked(self, name: str, content: str) -> str:
        self._bookmarks += 1
        number = self._bookmarks
        return (
            f'<w:bookmarkStart w:id="{number}" w:name="{name}"/>{content}'
            f'<w:bookmarkEnd w:id="{number}"/>'
        )


def contents_list(headings: Sequence[tuple[int, str, str]], style_ids: Sequence[str]) -> str:
    """Write a table of contents: each heading as a link, with the number of its page.

    Only a word processor knows on which page a heading falls. Each number is a field marked
    for updating, which it fills in when the document is opened. A heading is its level from 1,
    bookmark and words; `style_ids` are those of the entries of each level.
    """
    return "".join(
        paragraph(
            style_ids[level - 1],
            f'<w:hyperlink w:anchor="{name}" w:history="1">{run(text)}'
            f"<w:r><w:tab/></w:r>{page}</w:hyperlink>",
        )
        for level, name, text in headings
        for page in (_field(rf"PAGEREF {name} \h", "–", ' w:dirty="true"'),)
    )


def bookmark_name(figure_id: str, place: int, time: int) -> str:
    """Name the bookmark of a figure: its id in letters, its place in figures.json, its use.

    The place, counted from 1, tells figures with like names apart; `time` is how often the figure
    has been shown so far.

    Examples
    --------
    >>> bookmark_name("fed_t[north side]", 12, 3)
    'fed_t_north_side__12_3'
    """
    tail = f"__{place}_{time}"
    head = _NOT_OF_NAME.sub("_", figure_id).strip("_")
    head = head if head[:1].isalpha() else f"f_{head}"
    return f"{head[: LONGEST_NAME - len(tail)].rstrip('_')}{tail}"
