"""Every public name of the package is reached from a command.

The walk is static: it begins with the function that the command `planner` calls, follows each
name that reached code mentions to where it is defined, and so on. A name that only tests
mention is not reached, and either gets a use, moves to the tests or goes.
"""

from __future__ import annotations

import ast
import functools
from dataclasses import dataclass, field
from pathlib import Path

import planner

PACKAGE = Path(planner.__file__).parent
START = ("planner.cli", "main")


@dataclass
class Module:
    """What a module defines at its top, what it imports, and what runs when it is imported."""

    name: str
    defined: dict[str, ast.AST] = field(default_factory=dict)
    imported: dict[str, tuple[str, str | None]] = field(default_factory=dict)
    runs: list[ast.AST] = field(default_factory=list)


def read_modules():
    """Read every module of the package."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = read_module(name, ast.parse(path.read_text(encoding="utf-8")))
    return found


def read_module(name, tree):
    """Sort a module's statements into what they define, import and run."""
    module = Module(name)
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                module.imported[alias.asname or alias.name] = (node.module, alias.name)
        elif isinstance(node, ast.Import):
            for alias in node.names:
                bound = alias.asname or alias.name.partition(".")[0]
                module.imported[bound] = (alias.name if alias.asname else bound, None)
    for node in tree.body:
        _sort_in(module, node)
    return module


def _sort_in(module, node):
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        module.defined[node.name] = node
        # a decorator such as that of the command line's options calls what it is given
        if isinstance(node, ast.FunctionDef) and node.decorator_list:
            module.runs.extend(node.decorator_list)
            is_option = any("app" in ast.unparse(one) for one in node.decorator_list)
            module.runs.extend([node] if is_option else [])
    elif isinstance(node, ast.Assign | ast.AnnAssign):
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        names = (one.id for target in targets for one in ast.walk(target) if _is_name(one))
        module.defined |= dict.fromkeys(names, node)
    elif not isinstance(node, ast.Import | ast.ImportFrom):
        module.runs.append(node)


def _is_name(node):
    return isinstance(node, ast.Name)


class Walk:
    """Names reached so far: of modules, of definitions, and attributes that are mentioned."""

    def __init__(self, modules):
        self.modules = modules
        self.reached = set()
        self.attributes = set()
        self._waiting = []

    def from_function(self, module_name, name):
        self._reach(module_name, name)
        while self._waiting:
            self._follow(*self._waiting.pop())

    def _import(self, name):
        parts = name.split(".")
        for count in range(1, len(parts) + 1):
            module = self.modules.get(".".join(parts[:count]))
            if module and (module.name, "") not in self.reached:
                self.reached.add((module.name, ""))
                self._waiting.extend((module, node) for node in module.runs)

    def _reach(self, module_name, name):
        module = self.modules.get(module_name)
        if module is None:
            return
        self._import(module_name)
        if name in module.defined:
            if (module_name, name) not in self.reached:
                self.reached.add((module_name, name))
                self._waiting.append((module, module.defined[name]))
        elif name in module.imported:
            self._reach_imported(*module.imported[name])

    def _reach_imported(self, module_name, name):
        as_module = module_name if name is None else f"{module_name}.{name}"
        package = self.modules.get(module_name)
        # a package may give a function the name of the module that it comes from
        if package and name and package.imported.get(name, (module_name,))[0] != module_name:
            self._reach(module_name, name)
        elif as_module in self.modules:
            self._import(as_module)
        else:
            self._reach(module_name, name)

    def _follow(self, module, node):
        for one in ast.walk(node):
            if isinstance(one, ast.Name):
                self._reach(module.name, one.id)
            elif isinstance(one, ast.Attribute):
                self.attributes.add(one.attr)
                self._follow_attribute(module, one)
            elif isinstance(one, ast.ImportFrom) and one.module:
                self._import(one.module)

    def _follow_attribute(self, module, node):
        home = ast.unparse(node.value)
        if home in self.modules:  # as planner.store.open_store
            self._reach(home, node.attr)
            return
        given = module.imported.get(node.value.id) if isinstance(node.value, ast.Name) else None
        if given is None:
            return
        module_name, name = given
        self._reach(f"{module_name}.{name}" if name else module_name, node.attr)


@functools.cache
def unreached():
    """List public functions, classes and methods that nothing reaches."""
    return set(_unreached())


def _unreached():
    modules = read_modules()
    walk = Walk(modules)
    walk.from_function(*START)
    for module in modules.values():
        for name, node in module.defined.items():
            if name[0] == "_" or not isinstance(node, ast.FunctionDef | ast.ClassDef):
                continue
            if (module.name, name) not in walk.reached:
                yield f"{module.name}.{name}"
            elif isinstance(node, ast.ClassDef):
                methods = (one for one in node.body if _is_plain_method(one))
                unused = (one for one in methods if one.name not in walk.attributes)
                yield from (f"{module.name}.{name}.{one.name}" for one in unused)


def _is_plain_method(node):
    """Tell methods of ours from those that a library finds by their decorator."""
    is_public = isinstance(node, ast.FunctionDef) and node.name[0] != "_"
    return is_public and not node.decorator_list


def test_every_public_name_is_reached_from_a_command():
    assert sorted(unreached()) == []
