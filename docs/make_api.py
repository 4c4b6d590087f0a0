"""Write ``docs/api.md`` from the docstrings of the public names: ``python -m docs.make_api``.

With ``--check`` nothing is written; it ends with 1 where the page is not what it would write.
"""

from __future__ import annotations

import argparse
import inspect
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import spread

PAGE = Path(__file__).with_name("api.md")
HEAD = """# Spread from Python

Made from the docstrings by `python -m docs.make_api`. The [notebook](spread-as-a-library.ipynb) shows it
at work.

A chance is no guarantee: a low one clears no unit.
"""


def page() -> str:
    """Return the page."""
    parts = [HEAD]
    for name in spread.__all__:
        parts += _entry(f"spread.{name}", getattr(spread, name), "##")
    return "\n".join(parts)


def _entry(name: str, thing: object, level: str) -> Iterator[str]:
    if isinstance(thing, str):
        yield f"{level} `{name}`\n\nThe version of the package that is installed.\n"
    elif inspect.isclass(thing):
        yield f"{level} class `{name}`\n\n{_words(thing)}\n"
        for own, member in vars(thing).items():
            if not own.startswith("_") and inspect.getdoc(member) and not inspect.ismemberdescriptor(member):
                yield from _entry(f"{name.rpartition('.')[2]}.{own}", member, "###")
    elif inspect.isfunction(thing):
        yield f"{level} `{name}{_signature(thing)}`\n\n{_words(thing)}\n"
    else:
        yield f"{level} `{name}`\n\n{_words(thing)}\n"


def _signature(thing: Callable[..., object]) -> str:
    """Return a signature whose types are not in quotes."""
    return str(inspect.signature(thing)).replace("'", "")


def _words(thing: object) -> str:
    """Return a docstring as Markdown: its sections in bold, its roles and literals as code."""
    text = inspect.getdoc(thing) or ""
    text = re.sub(r"^(\w+)\n-{3,}$", r"**\1**\n", text, flags=re.MULTILINE)
    text = re.sub(r":\w+:`~?([\w.]+)`", r"`\1`", text).replace("``", "`")
    # A parameter and what is said of it, indented below it.
    item = r"^(\w[\w, ]*)\n    (?=\S)((?:.*\n?(?:    )?)*?)(?=\n\w|\n\n|\Z)"
    return re.sub(item, _item, text, flags=re.MULTILINE)


def _item(found: re.Match[str]) -> str:
    return f"- `{found[1]}`: {' '.join(found[2].split())}"


def main() -> int:
    """Write the page, or check it."""
    parser = argparse.ArgumentParser(prog="python -m docs.make_api", description=__doc__)
    parser.add_argument("--check", action="store_true")
    if not parser.parse_args().check:
        PAGE.write_text(page(), encoding="utf-8")
        return 0
    if PAGE.read_text(encoding="utf-8") == page():
        return 0
    sys.stderr.write("docs/api.md is not what the docstrings say; run python -m docs.make_api\n")
    return 1


if __name__ == "__main__":
    sys.exit(main())
