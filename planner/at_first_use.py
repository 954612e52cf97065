"""Modules that run when they are first used, so that a command starts with what it needs."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from copy import copy
from importlib.abc import Loader
from importlib.machinery import ModuleSpec, PathFinder
from importlib.util import LazyLoader
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from types import ModuleType


class _Deferring:
    """Finder of modules of the planner that wait for the first use of a name in them."""

    @staticmethod
    def find_spec(
        name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if not name.startswith("planner."):
            return None
        found = PathFinder.find_spec(name, path, target)
        if found is not None and found.loader is not None:
            found.loader = LazyLoader(found.loader)
        return found


class _AlreadyRun(Loader):
    """Gives the module that is there, as it is."""

    def __init__(self, spec: ModuleSpec) -> None:
        self.spec = spec

    def create_module(self, spec: ModuleSpec) -> ModuleType:
        return sys.modules[spec.name]

    def exec_module(self, module: ModuleType) -> None:
        module.__spec__ = self.spec


class _Once:
    """Finder that keeps a module from running twice.

    Importing a module of a package that waits runs the package, after Python has looked whether
    the module is there and before it looks for its file: by then the package may have imported it.
    """

    @staticmethod
    def find_spec(
        name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        del path, target
        there = sys.modules.get(name) if name.startswith("planner.") else None
        if there is None or there.__spec__ is None:
            return None
        again = copy(there.__spec__)
        again.loader = _AlreadyRun(there.__spec__)
        return again


sys.meta_path.insert(0, _Once)


@contextmanager
def at_first_use() -> Iterator[None]:
    """Let modules that are imported within wait until something in them is asked for.

    Of a package within which modules are imported the file `__init__` runs at once, so that it
    must import nothing itself.
    """
    sys.meta_path.insert(0, _Deferring)
    try:
        yield
    finally:
        sys.meta_path.remove(_Deferring)
