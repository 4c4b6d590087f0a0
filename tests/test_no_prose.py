"""Decisions and programmes know facts and say nothing: no sentence stands in their code."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FOLDERS = ("spread/decisions", "spread/programmes")
MOST_WORDS = 2
"""As many words in a row are a term; more are prose."""
SPEAKS_OF_MISTAKES = ("Problem", "fail", "near")
"""Calls whose texts tell somebody what is wrong with an input; they end a command and are no result. So do
errors, and what is put by as ``what`` and ``fix`` of a problem."""


def prose_of(source: str) -> list[tuple[int, str]]:
    """Return the line and text of every sentence in a module's code."""
    tree = ast.parse(source)
    told = excused(tree)
    found = []
    for node in ast.walk(tree):
        if id(node) in told:
            continue
        text = text_of(node)
        if len([word for word in text.split() if any(map(str.isalpha, word))]) > MOST_WORDS:
            found.append((node.lineno, text))
            told |= {id(part) for part in ast.walk(node)}
    return found


def text_of(node: ast.AST) -> str:
    """Return the text of a string or an f-string, its values as a figure; else nothing."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(part.value if isinstance(part, ast.Constant) else "1" for part in node.values)
    return ""


def excused(tree: ast.AST) -> set[int]:
    """Return the nodes of docstrings, of errors and problems, and of assertions."""
    told: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            told.add(id(node.value))
        name = ""
        if isinstance(node, ast.Call):
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        errors = name.endswith("Error") or name in SPEAKS_OF_MISTAKES
        mistake = isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") in ("what", "fix")
        if isinstance(node, ast.Raise) or errors or mistake:
            told |= {id(part) for part in ast.walk(node)}
        if isinstance(node, ast.Assert) and node.msg is not None:
            told |= {id(part) for part in ast.walk(node.msg)}
    return told


def modules() -> list[Path]:
    return sorted(path for folder in FOLDERS for path in (ROOT / folder).rglob("*.py"))


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_of_decisions_has_no_sentence(path):
    name, found = str(path.relative_to(ROOT)), prose_of(path.read_text(encoding="utf-8"))
    assert not found, f"say it in spread/words: {name} {found[:3]}"


def test_the_modules_were_found():
    assert len(modules()) > 40


@pytest.mark.parametrize(
    ("source", "many"),
    [
        ('"""A module says what it does."""', 0),
        ('def f():\n    """Say what it does."""\n    return "look"', 0),
        ('x = "no look at it is on record"', 1),
        ('x = f"found {day} days ago"', 1),
        ('x = f"{a} {b}"', 0),
        ('x = {"find": "by the chance of a find"}', 1),
        ('raise ValueError(f"there is no unit {unit} here")', 0),
        ('fix = Problem("doors", "order", "this is no order of doors", "")', 0),
        ('what = f"there is no unit {unit} here"', 0),
        ('x = "brief-visual"', 0),
    ],
)
def test_the_search_finds_sentences_and_nothing_else(source, many):
    assert len(prose_of(source)) == many
