"""The words of the notices: one TOML file a language, checked whole and filled in.

``templates/en.toml`` says at its head what a file may hold. A building's folder may bring its own as
``notices-en.toml``. No word of a template stands for another unit than the one a notice is for, nor
for a person, so none can give away who reported or where bugs were found.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Any

from spread.errors import Problem, SettingsError
from spread.report import document as doc
from spread.report.own_words import KEYS
from spread.toml_file import near, parse_toml, read_toml
from spread.trade.registry import HEARSAY, LOOKING
from spread.words.voice import Language

NOTICES = (
    "entry-inspection",
    "entry-treatment",
    "entry-neighbour",
    "prepare-inspection",
    "prepare-treatment",
    "result-found",
    "result-not-found",
    "result-not-sure",
    "result-open",
    "result-neighbour",
)
"""Every notice that a file of words has; one without ``result-open`` takes ours."""
FILLED = (
    "unit",
    "building",
    "when",
    "time",
    "lead",
    "looked_on",
    "method",
    "found_on",
    "treated_on",
    "last",
    *KEYS,
)
"""What may stand in braces."""
WORDS = (
    "no_window",
    "from_to",
    "hours",
    "calendar_days",
    "business_days",
    "footer",
    "saw_nothing",
    "saw_unsure",
    "unread",
)
ADDED = ("result-open", "saw_nothing", "saw_unsure")
"""What a building's own file may leave out: it is newer than some of them."""
READ = {"unread": ""}
"""What a notice says of a translation that no native speaker has read; nothing where one has."""
KINDS = ("text", "heading", "caution", "bullets", "ticks", "facts", "blanks", "part")
METHODS = tuple(key for key in LOOKING if key not in HEARSAY)
_BRACES = re.compile(r"\{(\w*)\}")
_STARS = re.compile(r"\*\*(.+?)\*\*")


@dataclass(frozen=True, slots=True)
class Wording:
    """The words of one language.

    ``language``: the language. ``words``, ``methods``: Short words by name, and looks by method. ``notices``:
    for each of :data:`NOTICES` its title and its blocks, parts set in, as the file has them.
    """

    language: Language
    words: Mapping[str, str]
    methods: Mapping[str, str]
    notices: Mapping[str, tuple[str, tuple[Mapping[str, Any], ...]]]

    def fill(self, notice: str, values: Mapping[str, str]) -> tuple[str, tuple[doc.Block, ...]]:
        """Return the title and the blocks of a notice with everything filled in.

        A text, a point or a fact with nothing to fill in is left out; so is a list that then has none.

        ``notice``: one of :data:`NOTICES`. ``values``: words by the names of :data:`FILLED`; a missing one is
        empty.
        """
        title, blocks = self.notices[notice]
        made = (_made(block, values) for block in blocks)
        return doc.plain(_filled(title, values) or ""), tuple(block for block in made if block is not None)


def load_wording(language: Language, folder: Path | None = None) -> Wording:
    """Return the words of a language: the building's own file if its folder has one, or ours.

    Raises SettingsError with every problem of the file.
    """
    own = folder / f"notices-{language}.toml" if folder else None
    file = f"{language}.toml"
    data = files("spread.report").joinpath("templates", file).read_bytes()
    ours = check_wording(parse_toml(data, file), file, language)
    return (
        check_wording(read_toml(own), own.name, language, ours) if own is not None and own.exists() else ours
    )


def check_wording(
    table: Mapping[str, Any], file: str, language: Language, ours: Wording | None = None
) -> Wording:
    """Check the tables of a file of words, which takes what it may leave out from ours."""
    check = _Check(file, table)
    if table.get("language") != language:
        check.fail("field 'language'", "it is not the language asked for", f'write language = "{language}"')
    for key in table:
        if key not in ("language", "words", "methods", "parts", *NOTICES):
            check.fail(f"[{key}]", "it is not known", near(key, NOTICES))
    added = {key: ours.words[key] for key in ADDED if ours and key in ours.words}
    words = check.texts("words", WORDS, filled=("from", "to", "number"), usual=READ | added)
    methods = check.texts("methods", METHODS, usual={key: LOOKING[key].plain for key in METHODS})
    notices = {
        name: ours.notices[name] if ours and name in ADDED and name not in table else check.notice(name)
        for name in NOTICES
    }
    if check.problems:
        raise SettingsError(check.problems)
    return Wording(language, words, methods, notices)


class _Check:
    """Goes through a file and gathers what is wrong with it."""

    def __init__(self, file: str, table: Mapping[str, Any]) -> None:
        self.file = file
        self.table = table
        self.problems: list[Problem] = []
        self.parts = table.get("parts", {})
        if not isinstance(self.parts, dict):
            self.fail("[parts]", "it is not a table", "write name = [blocks] under a line [parts]")
            self.parts = {}

    def fail(self, where: str, what: str, fix: str) -> None:
        self.problems.append(Problem(self.file, where, what, fix))

    def texts(
        self,
        name: str,
        keys: tuple[str, ...],
        *,
        filled: tuple[str, ...] = (),
        usual: Mapping[str, str] = MappingProxyType({}),
    ) -> dict[str, str]:
        """Read a table of texts, every key of which must be there or have its usual words."""
        table = self.table.get(name)
        table = table if isinstance(table, dict) else {}
        for key in table:
            if key not in keys:
                self.fail(f"[{name}], field {key!r}", "it is not known", near(key, keys))
        for key in keys:
            if key in usual and key not in table:
                continue
            where = f"[{name}], field {key!r}"
            if not isinstance(table.get(key), str) or not table[key].strip():
                self.fail(where, "it is missing or no text", f'write {key} = "..." with text in the quotes')
            else:
                self.braces(where, table[key], filled)
        return {key: str(table.get(key, usual.get(key, ""))) for key in keys}

    def notice(self, name: str) -> tuple[str, tuple[Mapping[str, Any], ...]]:
        table = self.table.get(name)
        if not isinstance(table, dict) or not isinstance(table.get("title"), str):
            self.fail(f"[{name}]", "it is missing or has no title", 'write title = "..." and blocks = [...]')
            return "", ()
        self.braces(f"[{name}], field 'title'", table["title"], FILLED)
        return table["title"], tuple(self.blocks(table.get("blocks"), f"[{name}]", inside=False))

    def blocks(self, rows: object, where: str, *, inside: bool) -> Iterator[Mapping[str, Any]]:
        """Yield the blocks of a list, parts set in."""
        if not isinstance(rows, list) or not rows:
            self.fail(where, "it has no blocks", 'write blocks = [ { text = "..." } ]')
            return
        for number, row in enumerate(rows, start=1):
            place = f"{where}, block {number}"
            kinds = [kind for kind in KINDS if isinstance(row, dict) and kind in row]
            if len(kinds) != 1:
                self.fail(place, "it is no block or two at once", f"give it one of {', '.join(KINDS)}")
            elif kinds == ["part"]:
                if inside or row["part"] not in self.parts:
                    known = "" if inside else near(str(row["part"]), tuple(self.parts) or ("a part",))
                    self.fail(
                        place,
                        f"there is no part {str(row['part'])[:40]!r} to set in",
                        known or "write it out",
                    )
                else:
                    part = row["part"]
                    yield from self.blocks(self.parts[part], f"part {part!r}", inside=True)
            elif self.block(kinds[0], row, place):
                yield row

    def block(self, kind: str, row: Mapping[str, Any], where: str) -> bool:
        value = row[kind]
        if kind in ("text", "heading", "caution"):
            rows: list[object] = [value]
        elif kind == "facts":
            pairs = value if isinstance(value, list) else []
            rows = [
                cell
                for pair in pairs
                for cell in (pair if isinstance(pair, list) and len(pair) == 2 else [None])
            ] or [None]
        else:
            rows = value if isinstance(value, list) and value else [None]
        texts = [text for text in rows if isinstance(text, str) and text.strip()]
        if len(texts) != len(rows):
            wanted = "pairs of texts" if kind == "facts" else "texts" if isinstance(value, list) else "a text"
            self.fail(where, f"its {kind} is not {wanted}", "put each text in quotes, a list in [ ]")
            return False
        for key in row:
            if key not in (kind, "blanks_if_none") or (key == "blanks_if_none" and kind != "blanks"):
                self.fail(where, f"{key!r} does not go with {kind!r}", "leave it out")
        if row.get("blanks_if_none", "unit") not in FILLED:
            self.fail(where, "its blanks_if_none is not known", f"use one of {', '.join(FILLED)}")
        right = [self.braces(where, text, FILLED) for text in texts]
        return all(right)

    def braces(self, where: str, text: str, known: tuple[str, ...]) -> bool:
        wrong = [name for name in _BRACES.findall(text) if name not in known]
        for name in wrong:
            fix = near(name, known) if known else "write it without braces"
            self.fail(where, f"{{{name}}} stands for nothing here", fix)
        return not wrong


def _filled(text: str, values: Mapping[str, str]) -> doc.Text | None:
    """Return a text with its values and its strong words, or None where a value is empty.

    Stars are read before values are set in, so a value can hold stars of its own.
    """
    if not all(values.get(name) for name in _BRACES.findall(text)):
        return None
    parts: list[str | doc.Strong] = []
    for number, piece in enumerate(_STARS.split(text)):
        words = _BRACES.sub(lambda match: values[match[1]], piece)
        if words:
            parts.append(doc.Strong(words) if number % 2 else words)
    return tuple(parts)


def _made(block: Mapping[str, Any], values: Mapping[str, str]) -> doc.Block | None:
    kind = next(kind for kind in KINDS if kind in block)
    given = block[kind]
    if kind == "blanks":
        wanted = not values.get(block.get("blanks_if_none", ""))
        return doc.Fill(tuple(given), side_by_side=True) if wanted else None
    if kind == "facts":
        pairs = tuple((label, text) for label, value in given if (text := _filled(value, values)) is not None)
        return doc.Facts(pairs) if pairs else None
    if kind in ("bullets", "ticks"):
        items = tuple(text for item in given if (text := _filled(item, values)) is not None)
        return doc.Bullets(items, ticks=kind == "ticks") if items else None
    text = _filled(given, values)
    if text is None:
        return None
    if kind == "heading":
        return doc.Heading(doc.plain(text))
    return doc.Caution(text) if kind == "caution" else doc.Paragraph(text)
