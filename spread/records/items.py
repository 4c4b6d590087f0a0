"""What was seen item by item, as one cell: short enough to type, strict enough to trust.

``headboard: live+stains, 12, nymphs, 0.4 m, photo 304/IMG_1.jpg, at bed 1; nightstand: nothing``

Semicolons part the items and commas the words about one. The item comes first, before a colon,
then what was seen there (signs joined by ``+``, or ``nothing``), then in any order the count, the
stage, the distance from the bed, a photo, the state and the place. Where only a state is to be told,
it may come first: ``encasement: intact``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from spread.errors import told
from spread.records.kinds import EVIDENCE, STAGES, STATES, Finding
from spread.records.sense import COUNT_LIMIT, Wrong, guess, shown

ITEM_LIMIT = 200  #: Most items in one row
CELL_LIMIT = 20_000  #: Longest cell, in characters
PHOTO_LIMIT = 120  #: Longest name of a photo file, in characters
PLACE_LIMIT = 60  #: Longest place, in characters
METRES_LIMIT = 30.0
"""Farthest from the bed, in metres; farther off is another home or a slip of the keyboard."""

NOTHING = "nothing"  #: What is written where an item was looked at and nothing was seen

ITEM_CODE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_CODE_LIMIT = 40
_WHOLE = re.compile(r"[0-9]{1,9}")
_AWAY = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,2})?) *(m|ft)")
_METRES_PER_FOOT = 0.3048
_PHOTO_PART = re.compile(r"[\w(][\w .()-]*")
_PLACE = re.compile(r"[^,;:\x00-\x1f\x7f\x85\u2028\u2029\ud800-\udfff]+")
_EXAMPLE = "headboard: live+stains, 12, nymphs, 0.4 m, at bed 1"


def items_text(items: Sequence[Finding]) -> str:
    """Return items as the text of their cell; :func:`read_items` gives the same items back."""
    return "; ".join(_text_of(one) for one in items)


def _text_of(one: Finding) -> str:
    said = [sign for sign in EVIDENCE if sign in one.evidence]
    said += sorted(one.evidence.difference(EVIDENCE))
    parts = ["+".join(said) or NOTHING]
    if one.count is not None:
        parts.append(str(one.count))
    parts += [one.stage] if one.stage else []
    if one.metres is not None:
        parts.append(f"{round(one.metres, 2):.2f}".rstrip("0").rstrip(".") + " m")
    parts += [f"photo {one.photo}"] if one.photo else []
    parts += [one.state] if one.state else []
    parts += [f"at {one.place}"] if one.place else []
    return f"{one.item}: {', '.join(parts)}"


def read_items(text: str) -> tuple[Finding, ...] | list[Wrong]:
    """Return the items of a cell, or all that is wrong with them.

    Parameters
    ----------
    text : The cell; empty for none. Spaces around a word do not matter.
    """
    if not text.strip():
        return ()
    if len(text) > CELL_LIMIT:
        what = f"the text has {len(text)} characters, more than {CELL_LIMIT}"
        return [("items", what, "say the rest in a row of its own")]
    pieces = text.split(";")
    if not pieces[-1].strip():
        pieces.pop()  # a last semicolon ends the list as well as it parts it
    if len(pieces) > ITEM_LIMIT:
        what = f"{len(pieces)} items are listed, more than {ITEM_LIMIT}"
        return [("items", what, "say the rest in a row of its own")]
    found: list[Finding] = []
    wrong: list[Wrong] = []
    for number, piece in enumerate(pieces, start=1):
        one = _Item(number)
        finding = one.read(piece)
        wrong += one.wrong
        if finding is not None:
            found.append(finding)
    return wrong or tuple(found)


def finding_problems(items: Sequence[Finding]) -> list[Wrong]:
    """Return what is wrong with items made in code: what their cell would not give back."""
    read = read_items(items_text(items))
    if isinstance(read, list):
        return read
    rounded = [one if one.metres is None else replace(one, metres=round(one.metres, 2)) for one in items]
    if tuple(rounded) != read:
        return [("items", "a word of it holds a mark that parts items", f"write it as {_EXAMPLE}")]
    return []


def signs_of(items: Sequence[Finding]) -> frozenset[str]:
    """Return every sign that was seen at any item."""
    return frozenset().union(*(one.evidence for one in items))


def bugs_counted(items: Sequence[Finding]) -> int | None:
    """Return the live bugs counted at all items together; None where none were counted.

    Eggs, skins, stains and dead bugs are counted at their item and not here: the classes of a
    level are of live bugs.
    """
    counts = [one.count for one in items if _counts_live(one) and one.count is not None]
    return sum(counts) if counts else None


def _counts_live(one: Finding) -> bool:
    return "live" in one.evidence and one.stage != "eggs"


class _Item:
    """Reads one item and gathers what is wrong with it."""

    def __init__(self, number: int) -> None:
        self.number = number
        self.name = told("item {number}", number=number)
        self.wrong: list[Wrong] = []

    def fail(self, what: str, fix: str) -> None:
        self.wrong.append(("items", told("{item}: {what}", item=self.name, what=what), fix))

    def read(self, piece: str) -> Finding | None:
        head, colon, rest = piece.partition(":")
        code = head.strip()
        if not code and not rest.strip():
            self.fail("nothing stands between two semicolons", "take one of them out")
            return None
        if not colon:
            self.fail(f"{shown(code)} has no colon", f"write the item, a colon and what was seen: {_EXAMPLE}")
            return None
        if len(code) > _CODE_LIMIT or not ITEM_CODE.fullmatch(code):
            self.fail(f"{shown(code)} is not a code of the room sheet", "use small letters, digits and -")
        else:
            self.name = told("item {number} ({code})", number=self.number, code=code)
        words = [word.strip() for word in rest.split(",")]
        if words[0] in STATES:
            words.insert(0, NOTHING)
        evidence = self._evidence(words[0])
        said: dict[str, object] = {}
        for word in words[1:]:
            self._word(word, said)
        self._together(evidence, said)
        if self.wrong:
            return None
        return Finding(code, evidence, **said)  # type: ignore[arg-type]

    def _evidence(self, word: str) -> frozenset[str]:
        if word == NOTHING:
            return frozenset()
        if not word:
            self.fail("what was seen is missing", f"write {NOTHING} or signs such as live+stains")
            return frozenset()
        signs = [sign.strip() for sign in word.split("+")]
        for sign in signs:
            if not sign:
                self.fail(f"a sign is missing in {shown(word)}", "write signs joined by one +")
            elif sign not in EVIDENCE:
                self.fail(f"unknown sign {shown(sign)}", guess(sign, (*EVIDENCE, NOTHING)))
        return frozenset(signs)

    def _word(self, word: str, said: dict[str, object]) -> None:
        name = ""
        value: object = None
        if not word:
            self.fail("nothing stands between two commas", "take one of them out")
        elif word in STAGES:
            name, value = "stage", word
        elif word in STATES:
            name, value = "state", word
        elif word.startswith("photo "):
            name, value = "photo", self._photo(word[6:].strip())
        elif word.startswith("at "):
            name, value = "place", self._place(" ".join(word[3:].split()))
        elif word[0].isdigit() or word[0] in "-.":
            name, value = self._number(word)
        else:
            known = ("photo FILE", "at PLACE", *STAGES, *STATES)
            self.fail(f"{shown(word)} is not understood", guess(word, known, _expected()))
        if name in said:
            self.fail(f"its {name} is given twice", "leave one of them out")
        elif name:
            said[name] = value

    def _number(self, word: str) -> tuple[str, object]:
        if _WHOLE.fullmatch(word):
            if not 1 <= int(word) <= COUNT_LIMIT:
                self.fail(
                    told("count {number} is not from 1 to {most}", number=word, most=COUNT_LIMIT),
                    told("count the bugs, or leave it out"),
                )
            return "count", int(word)
        away = _AWAY.fullmatch(word)
        if not away:
            self.fail(
                told("{word} is neither a count nor a distance", word=shown(word)),
                told("write a count as 12 and a distance as 0.4 m or 2 ft"),
            )
            return "", None
        metres = float(away[1]) if away[2] == "m" else round(float(away[1]) * _METRES_PER_FOOT, 2)
        if metres > METRES_LIMIT:
            self.fail(
                told(
                    "{distance} from the bed is farther than {most} m",
                    distance=word,
                    most=f"{METRES_LIMIT:g}",
                ),
                told("check the distance"),
            )
        return "metres", metres

    def _photo(self, name: str) -> str:
        parts = name.split("/")
        fix = told("name a file of the building's folder, such as photos/IMG_1.jpg")
        photo = shown(name)
        if not name or len(name) > PHOTO_LIMIT:
            self.fail(told("a photo's file name has 1 to {most} characters", most=PHOTO_LIMIT), fix)
        elif ":" in name:
            self.fail(
                told("photo {photo} is an address, not a file of the building's folder", photo=photo), fix
            )
        elif name.startswith(("/", "~")) or ".." in parts or "\\" in name:
            self.fail(told("photo {photo} leads out of the building's folder", photo=photo), fix)
        elif not all(_PHOTO_PART.fullmatch(part) and not part.endswith((" ", ".")) for part in parts):
            self.fail(told("photo {photo} is not a plain file name", photo=photo), fix)
        return name

    def _place(self, words: str) -> str:
        if not words or len(words) > PLACE_LIMIT or not _PLACE.fullmatch(words):
            self.fail(
                told("a place has 1 to {most} characters and no colon", most=PLACE_LIMIT),
                told("name the bed or room, such as at bed 1"),
            )
        return words

    def _together(self, evidence: frozenset[str], said: dict[str, object]) -> None:
        """Refuse what cannot stand together."""
        if self.wrong or evidence:
            return
        if "count" in said:
            what = told("{number} are counted and nothing seen", number=said["count"])
            self.fail(what, told("write live, eggs, skins or dead"))
        elif "stage" in said:
            self.fail(told("a stage is given and nothing seen"), told("write live, eggs, skins or dead"))


def _expected() -> str:
    return (
        f"use a count, a stage ({', '.join(STAGES)}), a distance such as 0.4 m, photo FILE, "
        f"a state ({', '.join(STATES)}) or at PLACE"
    )
