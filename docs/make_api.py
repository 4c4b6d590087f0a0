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
    return re.sub(r"(: |-> )'([^']*)'", r"\1\2", str(inspect.signature(thing)))


def _words(thing: object) -> str:
    """Return a docstring as Markdown: its sections in bold, what they list as items, its names as code."""
    lines = re.sub(r":\w+:`~?([\w.]+)`", r"`\1`", inspect.getdoc(thing) or "").replace("``", "`").split("\n")
    written: list[str] = []
    listing = False
    for line, after in zip(lines, [*lines[1:], ""], strict=True):
        if after.startswith("---"):
            listing = True
            written += [f"**{line}**", ""]
        elif line.startswith("---"):
            continue
        elif listing and line.startswith(" "):
            written[-1] += f" {line.strip()}"
        elif listing and line:
            written.append(f"- `{line}`:")
        else:
            written.append(line)
    return "\n".join(written)


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
