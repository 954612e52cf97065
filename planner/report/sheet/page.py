"""The household sheet as one web page that needs nothing else."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

from jinja2 import Environment, StrictUndefined

from planner.field.household_sheet import PICTURES, TEXTS
from planner.paths import TEMPLATES
from planner.report.sheet.pictures import SCENES
from planner.report.sheet.strokes import drawn

if TYPE_CHECKING:
    from planner.field.household_sheet import SheetWords

PAGE = TEMPLATES / "sheet.html"
CARDS = ("setup", "first", "greens", "browns", "keepout", "trays", "harvest", "use", "season")
TROUBLES = tuple(section for section, names in TEXTS.items() if names == ("sign", "do"))


def sheet_page(words: SheetWords) -> str:
    """Set the sheet as a page with its pictures inside.

    Parameters
    ----------
    words
        What it says.
    """
    environment = Environment(autoescape=True, undefined=StrictUndefined)
    template = environment.from_string(PAGE.read_text(encoding="utf-8"))
    svg = {name: base64.b64encode(drawn(SCENES[name], "svg")).decode("ascii") for name in PICTURES}
    return template.render(
        say=words.texts,
        pictures=words.pictures,
        svg=svg,
        council=words.council,
        language=str(words.messages.locale).replace("_", "-"),
        cards=[(name, TEXTS[name][1:]) for name in CARDS],
        troubles=TROUBLES,
        safe=TEXTS["safe"][1:],
    )
