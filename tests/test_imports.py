"""Data flows one way, and so do imports: each part leans only on those before it.

The order is the one line of the architecture in DEVELOPERS.md; a module that needs something of a
later part means that the thing stands in the wrong place.
"""

import ast
import subprocess
import sys
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).parent.parent
ORDER = (
    "errors", "weeks", "files", "trade", "plan", "contacts", "records", "settings", "building", "start",
    "posterior", "worlds", "decisions", "programmes", "session", "report", "commands", "cli",
)  # fmt: skip
OWN = ("spread", "dashboard")
SCREEN = ("dashboard", "dash", "plotly", "flask", "flask_compress", "waitress")


def name_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {
    name_of(path): path for package in OWN for path in sorted((ROOT / package).rglob("*.py"))
}  # fmt: skip


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


@pytest.mark.parametrize("name", SPREAD)
def test_a_module_imports_only_what_comes_before_it(name):
    place = ORDER.index(part_of(name))
    for other in imports_of(name):
        if other.startswith("spread."):
            assert ORDER.index(part_of(other)) <= place, f"{name} imports {other}, which comes after it"


@pytest.mark.parametrize("name", ["spread", *SPREAD])
def test_the_model_knows_nothing_of_the_screen(name):
    assert not {other.split(".")[0] for other in imports_of(name)} & set(SCREEN)


@pytest.mark.parametrize("name", [n for n in SPREAD if part_of(n) == "trade"])
def test_the_facts_of_the_trade_stand_on_nothing(name):
    for other in imports_of(name):
        top = other.split(".")[0]
        allowed = top in sys.stdlib_module_names or top == "numpy"
        assert allowed or other == "spread.errors" or other.startswith("spread.trade"), other


def test_no_two_modules_import_each_other():
    graph = nx.DiGraph((name, other) for name in MODULES for other in imports_of(name) if other in MODULES)
    assert list(nx.simple_cycles(graph)) == []


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
    assert not loaded_by("import spread.building, spread.start, spread.report.text") & {
        "numba",
        "dash",
        "plotly",
    }
