"""The first pages: short, with both commands that the checks run, and a list of every command."""

from __future__ import annotations

import argparse
import re
import struct
from pathlib import Path

import pytest

from spread.cli import _parser

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = (
    "README.md",
    "DEVELOPERS.md",
    *(f"docs/{page.name}" for page in sorted((ROOT / "docs").glob("*.md"))),
)
PICTURES = ("plan", "phone")


def command_after(mark):
    """As ``.ci/run`` reads it: the shell block after a mark."""
    return re.search(rf"<!-- {mark} -->\n```sh\n(.+?)\n```", README, re.S).group(1)


def test_the_readme_is_short_and_opens_with_the_pictures():
    assert len(README.splitlines()) < 150
    opening = README.split("## ")[0][:600]
    for name in PICTURES:
        assert f"docs/pictures/{name}.png" in opening


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_a_png_that_a_page_can_open_with(name):
    data = (ROOT / "docs" / "pictures" / f"{name}.png").read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert len(data) <= 250_000
    width, height = struct.unpack(">II", data[16:24])
    assert width >= 300
    assert height >= 500


def test_both_commands_of_the_checks_stand_where_they_are_read():
    assert command_after("main job").startswith("python3 -m venv .venv && ")
    assert "spread doors demo_buildings/" in command_after("main job")
    assert " -m pytest -q " in command_after("tests")


def test_the_list_of_commands_has_them_all_and_no_other():
    parser = _parser()
    groups = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    known = set(groups[0].choices)
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert set(re.findall(r"`spread ([a-z]+) ", page)) == known


@pytest.mark.parametrize("page", PAGES)
def test_every_link_between_the_pages_leads_somewhere(page):
    file = ROOT / page
    for target in re.findall(r"\]\(([^)#\s]+)", file.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (file.parent / target).exists(), target
