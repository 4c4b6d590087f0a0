"""Reading the values of a TOML table one by one, with every problem of it named at the end."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Collection, Mapping

from spread.errors import Problem, SettingsError
from spread.plain import unseen


class TomlTable:
    """One table of a TOML file: gives its values, gathers its problems, knows which keys were asked for.

    A value that is missing or wrong comes back as its default, so that one reading finds every problem.

    ``file``: how messages name it; ``place``: how they name the table in it, empty for the file's own;
    ``noun``: what they call its keys: ``setting``, or ``field`` where it holds prose, whose
    white space is folded.
    """

    def __init__(self, file: str, place: str, table: Mapping[str, object], noun: str = "setting") -> None:
        self.file = file
        self.place = place
        self.noun = noun
        self.values = dict(table)
        self.asked: list[str] = []
        self.problems: list[Problem] = []
        self.parts: list[TomlTable] = []

    def fail(self, key: str, what: str, fix: str) -> None:
        """Note a problem of a setting: what is wrong with it, and what to do."""
        where = f"{self.place}, {self.noun} {key!r}" if self.place else f"{self.noun} {key!r}"
        self.problems.append(Problem(self.file, where, what, fix))

    def settle(self) -> None:
        """Raise SettingsError with every problem of the table and of those read from it, if there is one."""
        if problems := self._finished():
            raise SettingsError(problems)

    def _finished(self) -> list[Problem]:
        """Return the problems, with one for each key that nobody asked for."""
        for key in self.values:
            if key not in self.asked:
                close = difflib.get_close_matches(key.lower(), self.asked, n=1, cutoff=0.7)
                fix = (
                    f"did you mean {close[0]!r}"
                    if close
                    else f"{self.noun}s here are {', '.join(self.asked)}"
                )
                self.fail(key, "it is not known", fix)
        return [*self.problems, *(problem for part in self.parts for problem in part._finished())]

    def take(self, key: str) -> object:
        """Return the value of a setting, or None, and remember that it was asked for."""
        self.asked.append(key)
        return self.values.get(key)

    def wrong_type(self, key: str, value: object, wanted: str, fix: str) -> None:
        """Note that a setting is of another type than wanted."""
        self.fail(key, f"it is {_type_name(value)}, expected {wanted}", fix)

    def text(self, key: str, default: str | None, *, fix: str = "") -> str:
        """Return a text; one without a default has to be there."""
        value = self.take(key)
        if value is None:
            if default is None:
                self.fail(key, "it is missing", fix or f'write {key} = "..." with text in the quotes')
            return default or ""
        if not isinstance(value, str):
            self.wrong_type(key, value, "text", f'put it in quotes, as in {key} = "{value}"')
            return default or ""
        if not value.strip():
            self.fail(key, "it is empty", "write a text in the quotes")
        text = value.strip() if self.noun == "setting" else " ".join(value.split())
        if odd := unseen(text, joiners=True):
            self.fail(key, f"it holds a character that is not seen ({odd})", "type it again")
        return text

    def texts(self, key: str) -> tuple[str, ...]:
        """Return the texts of a list; none where there is no list."""
        value = self.take(key)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(one, str) and one.strip() for one in value):
            self.fail(key, "it is not a list of texts", f'write it as in {key} = ["...", "..."]')
            return ()
        return tuple(" ".join(one.split()) for one in value)

    def word(self, key: str, default: str | None, known: Collection[str]) -> str:
        """Return one of the known words; one without a default has to be there."""
        word = self.text(key, default, fix=f"write {key} = one of {', '.join(known)}")
        if word and word not in known:
            close = difflib.get_close_matches(word.lower(), known, n=1)
            fix = f"write {close[0]!r} if you mean that" if close else f"write one of {', '.join(known)}"
            self.fail(key, f"{word[:40]!r} is not known", fix)
        return word

    def number(self, key: str, default: float, least: float, most: float) -> float:
        """Return a number within bounds, both included."""
        value = self.take(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.wrong_type(key, value, "a number", f"write it without quotes, as in {key} = {default}")
            return default
        if not least <= value <= most:  # not a number is in no bounds either
            shown = str(value)[:20] if isinstance(value, int) else f"{value:.6g}"
            self.fail(key, f"it is {shown}, expected {least:g} to {most:g}", f"the default is {default}")
            return default
        return float(value)

    def metres(self, key: str) -> float | None:
        """Return a coordinate in metres, or None where there is none."""
        if self.values.get(key) is None:
            self.asked.append(key)
            return None
        return self.number(key, 0.0, -1e7, 1e7)

    def whole(self, key: str, default: int, least: int, most: int) -> int:
        """Return a whole number within bounds, both included."""
        value = self.take(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int):
            self.wrong_type(key, value, "a whole number", f"write it as in {key} = {default}")
            return default
        if not least <= value <= most:
            self.fail(
                key, f"it is {str(value)[:20]}, expected {least} to {most}", f"the default is {default}"
            )
            return default
        return value

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        value = self.take(key)
        if value is None or isinstance(value, bool):
            return default if value is None else value
        self.wrong_type(key, value, "true or false", f"write {key} = {str(default).lower()} without quotes")
        return default

    def words(self, key: str, default: tuple[str, ...], known: tuple[str, ...]) -> tuple[str, ...]:
        """Return those of the known words that a list names, in their own order."""
        value = self.take(key)
        if value is None:
            return default
        fix = f'list some of {", ".join(known)}, as in {key} = ["{known[0]}"]'
        if not isinstance(value, list) or not value:
            self.wrong_type(key, value, "a list of words", fix)
            return default
        if unknown := [word for word in value if word not in known]:
            self.fail(key, f"{str(unknown[0])[:40]!r} is not known here", fix)
            return default
        return tuple(word for word in known if word in value)

    def dates(self, key: str) -> tuple[dt.date, ...]:
        """Return a list of days, each once and in order; none where it is left out."""
        value = self.take(key)
        if value is None:
            return ()
        fix = f'list days as in {key} = ["2026-12-25", "2027-01-01"]'
        if not isinstance(value, list):
            self.wrong_type(key, value, "a list of days", fix)
            return ()
        found: set[dt.date] = set()
        for one in value:
            day = _day(one)
            if day is None:
                self.fail(key, f"{str(one)[:20]!r} is no day", fix)
            else:
                found.add(day)
        return tuple(sorted(found))

    def table(self, key: str) -> TomlTable:
        """Return a table of this one; an empty one where there is none."""
        value = self.take(key)
        if value is not None and not isinstance(value, Mapping):
            self.wrong_type(key, value, f"a table [{key}]", f"start its {self.noun}s with a line [{key}]")
            value = None
        return self._part(f"[{key}]", value or {})

    def tables(self, key: str) -> list[TomlTable]:
        """Return the tables of a list; none where there is no list."""
        value = self.take(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(row, Mapping) for row in value):
            self.wrong_type(key, value, f"tables [[{key}]]", f"start each with a line [[{key}]]")
            return []
        names = [f" ({row['code'][:40]})" if isinstance(row.get("code"), str) else "" for row in value]
        return [self._part(f"{key} {n}{names[n - 1]}", row) for n, row in enumerate(value, start=1)]

    def part(self, key: str) -> TomlTable | None:
        """Return a table of this one, or None where there is none."""
        table = self.table(key)
        return table if key in self.values else None

    def _part(self, place: str, values: Mapping[str, object]) -> TomlTable:
        self.parts.append(TomlTable(self.file, place, values, self.noun))
        return self.parts[-1]


def _day(value: object) -> dt.date | None:
    """Return a day as TOML or a text has it; None for anything else, a time of day too."""
    if isinstance(value, dt.date):
        return None if isinstance(value, dt.datetime) else value
    try:
        return dt.date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None


def _type_name(value: object) -> str:
    names = {bool: "true or false", int: "a whole number", float: "a number", str: "text", list: "a list"}
    return names.get(type(value), "a table" if isinstance(value, Mapping) else "a date or time")
