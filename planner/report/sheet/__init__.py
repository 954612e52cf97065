"""The household sheet: what is asked of it; its pages and pictures stand beside."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class SheetRequest:
    """What is to be written."""

    # bin model that the sheet is for; the first of the program unless said
    model_id: str | None = None
    language: str | None = None
    template: Path | None = None
    letters: bool = False
    force: bool = False  # write files that are there again
