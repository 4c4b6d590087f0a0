"""``firm.toml``: who makes a proposal and how to reach them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from spread.errors import Problem, SettingsError
from spread.toml_file import near, read_toml

FIRM_FILE = "firm.toml"
LONGEST = 400
"""Letters of one entry."""


@dataclass(frozen=True, slots=True)
class Firm:
    """Who makes the proposal; each may be empty.

    Parameters
    ----------
    name, contact, phone, email, licence
        The firm, a person's role or office, how to reach them, and the licence as local law wants it shown.
    note
        A sentence of their own, such as how long the offer stands.
    """

    name: str = ""
    contact: str = ""
    phone: str = ""
    email: str = ""
    licence: str = ""
    note: str = ""


KEYS = tuple(Firm.__dataclass_fields__)


def read_firm(path: Path) -> Firm:
    """Read ``firm.toml``; without such a file every entry is empty.

    Raises
    ------
    SettingsError
        With every problem of the file.
    """
    if not path.exists():
        return Firm()
    problems: list[Problem] = []
    found: dict[str, str] = {}
    for key, value in read_toml(path).items():
        where = f"field {key!r}"
        if key not in KEYS:
            problems.append(Problem(path.name, where, "it is not known", near(key, KEYS)))
        elif not isinstance(value, str):
            problems.append(
                Problem(path.name, where, "it is not a text", f'put it in quotes, as in {key} = "..."')
            )
        elif len(value) > LONGEST:
            problems.append(
                Problem(path.name, where, f"it has {len(value)} letters", f"keep it to {LONGEST}")
            )
        else:
            found[key] = " ".join(value.split())
    if problems:
        raise SettingsError(problems)
    return Firm(**found)
