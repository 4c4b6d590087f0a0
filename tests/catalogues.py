"""The messages of the product, and its catalogues held against them: ``python -m tests.catalogues``.

``python -m tests.catalogues`` adds what is new to every ``.po`` file of ``spread/words/locale``, in the file
of the part that says it, and takes out what nobody says any more. Messages are the literals given to
``voice.text``, ``voice.many`` and ``voice.term``, the words of the registries, and the texts of data files.
"""

from __future__ import annotations

import ast
import io
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from string import Formatter
from types import MappingProxyType

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from dashboard.pages import pages
from dashboard.web.bar import LABEL, SIGN_OUT
from dashboard.words import CLASS_WORDS
from spread.report.calendar import WHAT
from spread.report.chance_map import STEPS as MAP_STEPS
from spread.trade.rule_set import READ, STEPS

ROOT = Path(__file__).parents[1]
LOCALE = ROOT / "spread/words/locale"
LANGUAGES = ("es",)
HEADER = """msgid ""
msgstr ""
"Language: {language}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"

"""

TABLES = (
    *(("chance", word) for word in CLASS_WORDS),
    *(("bar", word) for word in (*(page.name for page in pages()), LABEL, SIGN_OUT)),
    *(("status", word) for word in ("look", "treat", "revisit")),
    *(("step", word) for word in STEPS.values()),
    *(("event", word) for word in dict.fromkeys(WHAT.values())),
    *(("map", words) for *_, words in MAP_STEPS),
    *(("read", word) for word in READ),
    *(("end", word) for word in ("low", "high", "central")),
)
"""Words of tables that are no registry, with the context in which they are said."""

SPEAKS = re.compile(r"\bVoice\b|voice_of|\btold\(")
READ_ON_THE_ROUND = (
    "dashboard/round/", "dashboard/plan/answers.py", "dashboard/plan/beds.py", "dashboard/words.py",
    "spread/commands/", "spread/decisions/", "spread/plan/", "spread/records/", "spread/session.py",
    *(f"spread/report/{name}" for name in (
        "calendar.py", "chance_map.py", "followup_text.py", "held.py", "month.py", "notices.py",
        "proposal.py", "proposal_programmes.py", "residents.py", "room_text.py", "round_text.py",
        "sheets.py", "text.py", "treat_text.py", "week.py",
    )),
)  # fmt: skip
"""Modules outside ``spread/words`` that a technician or a resident reads; all others speak to the office."""


@dataclass(frozen=True)
class Message:
    """A message: its context, its English, and its English for many, as far as it has them."""

    text: str
    many: str = ""
    context: str = ""

    @property
    def key(self) -> str | tuple[str, str]:
        return (self.text, self.many) if self.many else self.text


def said_in(path: Path) -> list[Message]:
    """Return the messages of a module, in their order, once each."""
    found: dict[Message, None] = {}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute | ast.Name):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id
        words = [
            one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str)
        ]
        if name in ("text", "told") and len(words) == 1:
            found[Message(words[0])] = None
        elif name == "many" and len(words) == 2:
            found[Message(*words)] = None
        elif name == "term" and len(words) == 2:
            found[Message(words[1], context=words[0])] = None
    return list(found)


def placeholders(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


def catalogue_of(path: Path, language: str) -> Catalog:
    if not path.exists():
        return Catalog(locale=language)
    with path.open("rb") as file:
        return read_po(file, locale=language)


def translated(language: str) -> dict[tuple[str, str], tuple[str, ...]]:
    """Return every translation by context and English; what is empty or unsure is left out."""
    found = {}
    for path in sorted((LOCALE / language).glob("*.po")):
        for message in catalogue_of(path, language):
            words = message.string if isinstance(message.string, (tuple, list)) else (message.string,)
            english = message.id[0] if isinstance(message.id, (tuple, list)) else message.id
            if english and all(words) and not message.fuzzy:
                found[message.context or "", english] = tuple(words)
    return found


def parts() -> Iterator[tuple[str, list[Message]]]:
    """Yield each part that speaks and its messages; a message belongs to the first that says it."""
    from spread.words.terms import registry_terms
    from spread.words.treatment import plan_terms

    seen: set[tuple[str, str]] = set()

    def fresh(messages: list[Message]) -> list[Message]:
        new = {(one.context, one.text): one for one in reversed(messages) if one.text}
        found = [one for key, one in reversed(new.items()) if key not in seen]
        seen.update(new)
        return found

    words, tables = [*registry_terms(), *TABLES], {"treatment": list(plan_terms())}
    yield "registry", fresh([Message(text, context=context) for context, text in words])
    for path in sorted((ROOT / "spread/words").glob("*.py")):
        own = [Message(text, context=context) for context, text in tables.get(path.stem, ())]
        yield path.stem, fresh([*said_in(path), *own])
    rest = [path for folder in ("spread", "dashboard") for path in sorted((ROOT / folder).rglob("*.py"))]
    rest = [path for path in rest if path.parent.name != "words" and SPEAKS.search(path.read_text("utf-8"))]
    read = [path for path in rest if path.relative_to(ROOT).as_posix().startswith(READ_ON_THE_ROUND)]
    for name, paths in (("outside", read), ("elsewhere", [path for path in rest if path not in read])):
        yield name, fresh([one for path in paths for one in said_in(path)])


def update(language: str, more: Mapping[tuple[str, str], Sequence[str]] = MappingProxyType({})) -> None:
    """Bring the catalogues of a language in line with what is said; translations that stand are kept.

    ``more`` are translations by context and English, one form or two; they fill what is not translated yet.
    """
    had = dict(more) | translated(language)
    for part, messages in parts():
        made = Catalog(locale=language)
        made._num_plurals, made._plural_expr = 2, "(n != 1)"  # as the headers of the files say
        for one in messages:
            words = tuple(had.get((one.context, one.text), ()))
            if len(words) != (2 if one.many else 1):
                words = ("", "") if one.many else ("",)
            made.add(one.key, words if one.many else words[0], context=one.context or None)
        path = LOCALE / language / f"{part}.po"
        if not len(made):
            path.unlink(missing_ok=True)
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        body = io.BytesIO()
        write_po(body, made, omit_header=True, width=100)
        path.write_bytes(HEADER.format(language=language).encode() + body.getvalue())


if __name__ == "__main__":
    for wanted in sys.argv[1:] or LANGUAGES:
        update(wanted)
