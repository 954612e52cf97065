"""Fill the templates of the page and of the guide."""

from __future__ import annotations

import base64
import hashlib
from itertools import groupby
from typing import TYPE_CHECKING

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from planner.errors import ReportError
from planner.messages import messages_of
from planner.paths import TEMPLATES
from planner.report.document import Picture, Table
from planner.report.document.building import APPENDIX_KEYS
from planner.report.word.placeholders import BLOCKS, WORDS
from planner.store.files import disk_faults, fault_of, write_whole

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

    from planner.report.charts.drawing import Placed
    from planner.report.document import Block, Document

PAGE, STYLE, SCRIPT = (TEMPLATES / f"report.{kind}" for kind in ("html", "css", "js"))
GUIDE = TEMPLATES / "guide.html"


def write_page(path: Path, document: Document) -> None:
    """Write the report as one self-contained web page."""
    environment = Environment(autoescape=True, undefined=StrictUndefined)
    environment.filters["base64"] = _in_base64
    environment.filters["in_lists"] = _in_lists
    environment.filters["sides"] = _sides
    template = environment.from_string(PAGE.read_text(encoding="utf-8"))
    style = Markup(STYLE.read_text(encoding="utf-8"))  # noqa: S704 - the planner's own file
    script = SCRIPT.read_text(encoding="utf-8")
    # the page lets no script run but this one, which is told by its digest
    digest = "sha256-" + _in_base64(hashlib.sha256(script.encode()).digest())
    folded = [section for section in document.sections if section.key in APPENDIX_KEYS]
    words = template.render(
        document=document,
        style=style,
        folded=folded,
        script=Markup(script),  # noqa: S704 - the planner's own file
        digest=digest,
        say=messages_of(document.language).say,
    )
    path.write_text(words + "\n", encoding="utf-8", newline="\n")


def write_guide(path: Path, lines: Mapping[str, str], version: str, *, force: bool = False) -> None:
    """Write the guide, with an example line of each command, as one self-contained web page.

    Raises
    ------
    ReportError
        The file is there already, or cannot be written.
    """
    if path.exists() and not force:
        raise fault_of(path, "file.there", ReportError)
    template = Environment(autoescape=True, undefined=StrictUndefined).from_string(
        GUIDE.read_text(encoding="utf-8")
    )
    style = Markup(STYLE.read_text(encoding="utf-8"))  # noqa: S704 - the planner's own file
    # as a template names them, so that the guide lists no placeholder that there is not
    words = template.render(lines=lines, version=version, style=style, words=WORDS, blocks=BLOCKS)
    with disk_faults(path, "file.name_folder", ReportError):
        write_whole(path, f"{words}\n".encode())


def _in_base64(content: bytes) -> str:
    return base64.b64encode(content).decode("ascii")


def _sides(spot: Placed) -> str:
    return f"{spot.left} {spot.top} {spot.width} {spot.height}"


def _in_lists(blocks: Iterable[Block]) -> Iterator[tuple[str, list[Block]]]:
    """Group blocks of one kind that follow each other, so that points make one list."""
    for kind, group in groupby(blocks, _kind):
        yield kind, list(group)


def _kind(block: Block) -> str:
    if isinstance(block, Table):
        return "table"
    return "picture" if isinstance(block, Picture) else block.kind
