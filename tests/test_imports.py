"""Data flows one way, and so do imports: each part leans only on those before it.

The order is the one line of the architecture in DEVELOPERS.md; a module that needs something of a
later part means that the thing stands in the wrong place.
"""

import ast
import functools
import subprocess
import sys
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).parent.parent
ORDER = (
    "plain", "errors", "weeks", "facts", "files", "worker", "compiled", "toml_file", "toml_table", "trade",
    "plan", "drawings", "contacts", "records", "settings", "settled", "people", "tables",
    "outlines", "portfolio", "office",
    "building", "changing", "start",
    "posterior", "worlds", "decisions", "programmes", "words", "session", "trying", "firm", "report",
    "library", "commands", "cli", "__main__",
)  # fmt: skip
OWN = ("spread", "dashboard")
SCREEN = ("dashboard", "dash", "plotly", "flask", "flask_compress", "waitress")


def name_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {
    name_of(path): path for package in OWN for path in sorted((ROOT / package).rglob("*.py"))
}  # fmt: skip


@functools.cache
def imports_of(name):
    """Return every module that a module imports, anywhere in it: in functions and for types only too."""
    found = set()
    for node in ast.walk(ast.parse(MODULES[name].read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{name} imports relatively; write the whole name"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                found.add(whole if whole in MODULES else str(node.module))
    return found


def part_of(name):
    return name.split(".")[1] if name.count(".") else ""


SPREAD = [name for name in MODULES if name.startswith("spread.")]


def test_every_part_of_the_package_has_its_place_in_the_order():
    assert {part_of(name) for name in SPREAD} == set(ORDER)
    assert len(SPREAD) > 50, "the modules were found"


def test_a_module_imports_only_what_comes_before_it():
    for name in SPREAD:
        place = ORDER.index(part_of(name))
        for other in imports_of(name):
            if other.startswith("spread."):
                assert ORDER.index(part_of(other)) <= place, f"{name} imports {other}, which comes after it"


def test_the_model_knows_nothing_of_the_screen():
    for name in ["spread", *SPREAD]:
        assert not {other.split(".")[0] for other in imports_of(name)} & set(SCREEN), name


def test_the_facts_of_the_trade_stand_on_nothing():
    for name in SPREAD:
        for other in imports_of(name) if part_of(name) == "trade" else ():
            top = other.split(".")[0]
            allowed = top in sys.stdlib_module_names or top == "numpy"
            allowed |= other in ("spread.errors", "spread.toml_file", "spread.toml_table")
            assert allowed or other.startswith("spread.trade"), (name, other)


def test_no_two_modules_import_each_other():
    graph = nx.DiGraph((name, other) for name in MODULES for other in imports_of(name) if other in MODULES)
    assert list(nx.simple_cycles(graph)) == []


NAMED_TUPLE = {"_replace", "_asdict", "_fields", "_make"}
"""Public in spite of their names: the underscore keeps them apart from a tuple's own fields."""


def is_private(name):
    return name.startswith("_") and not name.endswith("__") and name not in NAMED_TUPLE


def strange_privates(source):
    """Yield the private names that a module takes from others: imported, or read from a thing not its own."""
    nodes = list(ast.walk(ast.parse(source)))
    own = {node.name for node in nodes if isinstance(node, ast.FunctionDef | ast.ClassDef)}
    own |= {node.id for node in nodes if isinstance(node, ast.Name)}
    own |= {
        node.attr for node in nodes if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store)
    }
    imported = {
        alias.asname or alias.name.split(".")[0]
        for node in nodes
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    for node in nodes:
        if isinstance(node, ast.ImportFrom):
            yield from (alias.name for alias in node.names if is_private(alias.name))
        elif isinstance(node, ast.Attribute) and is_private(node.attr):
            holder = node.value.id if isinstance(node.value, ast.Name) else ""
            if holder in imported or node.attr not in own:
                yield node.attr


def test_no_module_takes_a_private_name_of_another():
    for name, path in MODULES.items():
        assert not list(strange_privates(path.read_text(encoding="utf-8"))), name


@pytest.mark.parametrize(
    "source",
    [
        "from spread.settings import _Reader",
        "from spread.records import store\nstore._write(1)",
        "from spread.records import store\n_write = 1\nstore._write(1)",
        "def f(fit):\n    return fit._chains",
        "class A:\n    def f(self):\n        return self._hidden",
    ],
)
def test_a_private_name_of_another_module_is_seen(source):
    assert list(strange_privates(source))


def test_a_private_name_of_its_own_and_of_a_named_tuple_are_free():
    own = "_A = 1\nclass B:\n    def __init__(self):\n        self._a = _A\n    def f(self, other):\n"
    assert not list(strange_privates(own + "        return other._a, other.model._replace(x=1)"))


def loaded_by(statement):
    code = f"import sys; {statement}; print(*sorted({{name.split('.')[0] for name in sys.modules}}))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True
    )
    return set(done.stdout.split())


def test_the_command_line_loads_nothing_heavy_until_it_needs_it():
    """Nor does its help; measured at 0.3 s on two quiet cores (stated, not tested)."""
    heavy = {"numba", "dash", "plotly", "rich", "flask", "waitress", "scipy", "shapely", "networkx", "numpy"}
    assert not loaded_by("import spread.cli") & heavy
    assert not loaded_by("import spread.cli; spread.cli._parser().format_help()") & heavy


def test_reading_a_building_loads_neither_the_sampler_nor_the_screen():
    assert not loaded_by("import spread.building, spread.start, spread.report.checked") & {
        "numba",
        "dash",
        "plotly",
    }
