"""A year that stands in for one with estimates: what a test gives it, and no more."""

from __future__ import annotations

from types import SimpleNamespace


class YearOf(SimpleNamespace):
    """Records and estimates by name."""

    def estimated(self):
        return self
