"""Fill the templates of the page and of the guide."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from pathlib import Path

from markupsafe import Markup

from planner import __version__
from planner.errors import ReportError
from planner.messages import messages_of
from planner.paths import TEMPLATES
from planner.report.document import Block, Document, Picture, Table
from planner.report.document.building import APPENDIX_KEYS
from planner.report.word.placeholders import BLOCKS, WORDS, environment
from planner.store.files import disk_faults, refuse_there, write_whole

PAGE, STYLE, SCRIPT = (TEMPLATES / f"report.{kind}" for kind in ("html", "css", "js"))
GUIDE = TEMPLATES / "guide.html"


def write_page(path: Path, document: Document) -> None:
    """Write the report as one self-contained web page."""
    script = SCRIPT.read_text(encoding="utf-8")
    # the page lets no script run but this one, which is told by its digest
    digest = "sha256-" + _in_base64(hashlib.sha256(script.encode()).digest())
    words = filled_page(
        PAGE,
        document=document,
        folded=[section for section in document.sections if section.key in APPENDIX_KEYS],
        script=Markup(script),  # noqa: S704 - the planner's own file
        digest=digest,
        say=messages_of(document.language).say,
    )
    path.write_text(words + "\n", encoding="utf-8", newline="\n")


def write_guide(path: Path, lines: Mapping[str, str], *, force: bool = False) -> None:
    """Write the guide, with an example line of each command, as one self-contained web page."""
    refuse_there([path], "file.there", ReportError, forced=force)
    # as a template names them, so that the guide lists no placeholder that there is not
    words = filled_page(GUIDE, lines=lines, version=__version__, words=WORDS, blocks=BLOCKS)
    with disk_faults(path, "file.name_folder", ReportError):
        write_whole(path, f"{words}\n".encode())


def filled_page(template: Path, **words: object) -> str:
    """Fill a template of a page, with the style of the report's."""
    pages = environment()
    pages.filters |= {"base64": _in_base64, "in_lists": _in_lists}
    pages.filters["sides"] = lambda spot: f"{spot.left} {spot.top} {spot.width} {spot.height}"
    style = Markup(STYLE.read_text(encoding="utf-8"))  # noqa: S704 - the planner's own file
    return pages.from_string(template.read_text(encoding="utf-8")).render(style=style, **words)


def _in_base64(content: bytes) -> str:
    return base64.b64encode(content).decode("ascii")


def _in_lists(blocks: Iterable[Block]) -> Iterator[tuple[str, list[Block]]]:
    """Group blocks of one kind that follow each other, so that points make one list."""
    for kind, group in groupby(blocks, _kind):
        yield kind, list(group)


def _kind(block: Block) -> str:
    if isinstance(block, Table):
        return "table"
    return "picture" if isinstance(block, Picture) else block.kind
