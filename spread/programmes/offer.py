"""What a firm offers an owner, apart from any model: fees, term, guarantee, and its own words on each part.

``offer.toml`` stands in a building's folder, or the page writes one.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from spread.facts import Fact
from spread.programmes.fees import Fees, fees_from, fees_table
from spread.toml_file import read_toml
from spread.toml_table import TomlTable

OFFER_FILE = "offer.toml"
MOST_LINES, LONGEST = 12, 300
TEXTS = ("scope", "owner", "ends")
"""Lists of the firm's own sentences, as an offer names them."""


@dataclass(frozen=True, slots=True)
class Terms(Fact):
    """An offer, without the programme that it is for."""

    fees: Fees = field(default_factory=Fees)
    year: int | None = None  #: Of the fees
    #: scope, owner, ends: The firm's own sentences on what is in and out, what the owner does besides, and
    #: what ends it
    scope: tuple[str, ...] = ()
    owner: tuple[str, ...] = ()
    ends: tuple[str, ...] = ()

    @property
    def schedule(self) -> Fees | None:
        """The fee schedule, or None where nothing is asked yet."""
        return self.fees if self.fees.any_fee else None


def read_offer(path: Path) -> Terms:
    """Read ``offer.toml``; without such a file nothing is asked. Raises SettingsError with every problem."""
    return parse_offer(read_toml(path), path.name) if path.is_file() else Terms()


def parse_offer(table: Mapping[str, object], file: str) -> Terms:
    """Turn a parsed TOML table into an offer; see :func:`read_offer`."""
    top = TomlTable(file, "", table)
    terms = Terms(
        fees=fees_from(top),
        year=top.whole("year", 0, 1990, 2100) or None,
        **{name: _lines(top, name) for name in TEXTS},
    )
    if "crew_hours" in table:
        top.fail("crew_hours", "it stands with the prices", "write day_hours = 6.5 in prices.toml instead")
        top.asked.append("crew_hours")
    top.settle()
    return terms


def _lines(top: TomlTable, name: str) -> tuple[str, ...]:
    lines = top.texts(name)
    if len(lines) > MOST_LINES or any(len(line) > LONGEST for line in lines):
        top.fail(
            name,
            "it is too long for the page",
            f"keep it to {MOST_LINES} lines of at most {LONGEST} letters",
        )
    return lines


def offer_toml(terms: Terms) -> str:
    """Return an offer as the text of an ``offer.toml``; what is as usual is left out."""
    lines = [f"year = {terms.year}"] if terms.year else []
    for name in TEXTS:
        if texts := getattr(terms, name):
            lines.append(f"{name} = {json.dumps(list(texts), ensure_ascii=False)}")
    usual = fees_table(Fees())
    for name, row in fees_table(terms.fees).items():
        changed = {key: value for key, value in row.items() if value != usual[name][key]}
        if changed:
            lines += ["", f"[{name}]", *(f"{key} = {_toml(value)}" for key, value in changed.items())]
    return "\n".join(lines).strip() + "\n"


def _toml(value: float | str | bool) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return json.dumps(value) if isinstance(value, str) else f"{value:.10g}"
