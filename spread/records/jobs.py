"""What was done at a treatment, as one cell: steps, products, how the home was found, who opened.

``done: mattress at bed 1 + box-spring at bed 1; left: sofa; prepared: partly; pets: away;
window: 09:00-12:00; opened: resident; signature: photos/k3f9a2b7c1.jpg; product: Dust, reg 1234-56;
room: 19.5 C; rooms: 1; heat: Mattress, 0 21.5, 2 22``

Semicolons part the parts, a plus the steps, and a comma a product from its registration number. A product
may come several times, and so may a probe of a heat treatment: where it lay, and pairs of minute and
degrees C. Nothing here says how much of it: the label does. Nobody is named.

Of a notice of entry the cell says which visit it announces, and nothing else: ``window: 09:00-12:00;
day: 2026-12-02``.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from spread.errors import told
from spread.plain import unseen
from spread.records.items import ITEM_CODE, ITEM_LIMIT, PLACE_LIMIT
from spread.records.kinds import OPENED, PETS, PREPARED, Done, Job, Probe, Product
from spread.records.photographs import is_name
from spread.records.sense import Wrong, guess, shown
from spread.trade.probes import COLDEST, HOTTEST

SAID = ("prepared", "pets", "window", "opened", "signature", "code")
"""Parts that are one word each, and may come once."""
PARTS = ("done", "left", *SAID, "product", "room", "rooms", "heat", "day")
JOB_LIMIT = 80_000  #: Longest cell, in characters
PRODUCT_LIMIT = 60  #: Longest name of a product, in characters
MOST_PRODUCTS = 8
MOST_ROOMS = 30
MOST_PROBES, MOST_READINGS = 60, 3000  #: Of one treatment

_CHOICES = {"prepared": PREPARED, "pets": PETS, "opened": OPENED}
_WINDOW = re.compile(r"([01]\d|2[0-3]):[0-5]\d-([01]\d|2[0-3]):[0-5]\d")
_NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9./-]{0,29}")
COLD_ROOM, HOT_ROOM = -20, 50  #: Degrees C of a room that nobody heats for a treatment
_WARMTH = re.compile(r"-?\d{1,2}(?:\.\d{1,6})? C", re.ASCII)
_CODE = re.compile(r"(?=[A-Z0-9-]*[0-9])[A-Z0-9][A-Z0-9-]{2,11}", re.ASCII)  # with a digit: no name has one
_PAIR = re.compile(r"\d{1,5}(?:\.\d{1,6})? -?\d{1,3}(?:\.\d{1,6})?", re.ASCII)
_NAME = re.compile(r"[^;,:+]+")
# An amount is what a label decides: a record of work names the product and leaves it there.
_AMOUNT = re.compile(
    r"\d\s*(?:%|ml\b|cl\b|dl\b|l\b|lit|g\b|gr\b|gram|kg\b|mg\b|oz\b|ounce|fl\b|gal|qt\b|pt\b|lbs?\b|ppm\b|pound)",
    re.IGNORECASE,
)


def job_text(job: Job | None) -> str:
    """Return a job as the text of its cell; :func:`read_job` gives the same job back."""
    if job is None:
        return ""
    parts = [(name, _steps_text(getattr(job, name))) for name in ("done", "left")]
    parts += [(name, getattr(job, name)) for name in SAID]
    parts += [("product", _product_text(one)) for one in job.products]
    parts += [("room", f"{_figure(job.celsius)} C")] if job.celsius is not None else []
    parts += [("rooms", str(job.rooms))] if job.rooms is not None else []
    parts += [("heat", _probe_text(one)) for one in job.heat]
    parts += [("day", job.day.isoformat())] if job.day else []
    return "; ".join(f"{name}: {text}" for name, text in parts if text)


def read_job(text: str) -> Job | list[Wrong] | None:
    """Return the job of a cell, None for an empty one, or all that is wrong with it."""
    if not text.strip():
        return None
    if len(text) > JOB_LIMIT:
        return [_wrong(f"the text has {len(text)} characters, more than {JOB_LIMIT}", "shorten it")]
    reader = _Reader()
    for piece in text.strip().rstrip(";").split(";"):
        reader.part(piece)
    return reader.wrong or reader.job()


def job_problems(job: Job | None) -> list[Wrong]:
    """Return what is wrong with a job made in code: what its cell would not give back."""
    read = read_job(job_text(job))
    if isinstance(read, list):
        return read
    same = read == (job or None)
    return [] if same else [_wrong("a word of it holds a mark that parts words", "take it out")]


def _steps_text(steps: Sequence[Done]) -> str:
    return " + ".join(f"{one.item} at {one.place}" if one.place else one.item for one in steps)


def _product_text(one: Product) -> str:
    return f"{one.name}, reg {one.registration}" if one.registration else one.name


def _probe_text(one: Probe) -> str:
    pairs = (f"{_figure(minute)} {_figure(celsius)}" for minute, celsius in one.readings)
    return ", ".join((one.place, *pairs))


def _figure(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")


class _Reader:
    """Reads the parts of a cell; each but the product may come once."""

    def __init__(self) -> None:
        self.wrong: list[Wrong] = []
        self._steps: dict[str, tuple[Done, ...]] = {}
        self._said: dict[str, str] = {}
        self._products: list[Product] = []
        self._celsius: float | None = None
        self._rooms: int | None = None
        self._heat: list[Probe] = []
        self._day: dt.date | None = None

    def part(self, piece: str) -> None:
        name, colon, told = (half.strip() for half in piece.partition(":"))
        if name not in PARTS or not colon:
            self.wrong.append(_wrong(f"{shown(piece.strip()[:40])} is no part of a job", guess(name, PARTS)))
        elif name in self._said or name in self._steps:
            self.wrong.append(_wrong(f"{name} is said twice", "say it once"))
        elif name in ("done", "left"):
            self._steps[name] = self._read_steps(told)
        elif name == "product":
            self._read_product(told)
        elif name == "heat":
            self._read_probe(told)
        elif name == "room":
            self._read_warmth(told)
        elif name == "rooms":
            self._read_rooms(told)
        elif name == "day":
            self._read_day(told)
        else:
            self._said[name] = self._choice(name, told)

    def job(self) -> Job:
        """Return what was read."""
        said: dict[str, Any] = {**self._steps, **self._said}
        products = tuple(self._products)
        return Job(
            **said,
            products=products,
            celsius=self._celsius,
            rooms=self._rooms,
            heat=tuple(self._heat),
            day=self._day,
        )

    def _read_steps(self, said: str) -> tuple[Done, ...]:
        steps = []
        for piece in said.split("+"):
            item, at, place = (half.strip() for half in piece.partition(" at "))
            if not ITEM_CODE.fullmatch(item) or bool(at) != bool(place) or len(place) > PLACE_LIMIT:
                what = f"{shown(piece.strip()[:40])} is no step"
                self.wrong.append(_wrong(what, "write an item of the room sheet, as in mattress at bed 1"))
            else:
                steps.append(Done(item, place))
        if len(steps) > ITEM_LIMIT:
            what = f"{len(steps)} steps are listed, more than {ITEM_LIMIT}"
            self.wrong.append(_wrong(what, "leave some out"))
        if len(set(steps)) < len(steps):
            self.wrong.append(_wrong("a step is listed twice", "list each once"))
        return tuple(steps)

    def _read_product(self, said: str) -> None:
        name, _, number = (half.strip() for half in said.partition(","))
        number = number.removeprefix("reg ").strip()
        if _AMOUNT.search(said):
            what = told("{said} says how much", said=shown(said[:40]))
            self.wrong.append(_wrong(what, told("name the product alone; how much is for the label to say")))
        elif not _NAME.fullmatch(name) or len(name) > PRODUCT_LIMIT or unseen(name):
            self.wrong.append(
                _wrong(
                    told("{said} is no name of a product", said=shown(name[:40])),
                    told("write the name on the label"),
                )
            )
        elif number and not _NUMBER.fullmatch(number):
            what = told("{said} is no registration number", said=shown(number[:40]))
            self.wrong.append(_wrong(what, told("write it as the label has it, as in 1234-56")))
        elif len(self._products) >= MOST_PRODUCTS:
            self.wrong.append(_wrong(f"more than {MOST_PRODUCTS} products are named", "leave some out"))
        else:
            self._products.append(Product(name, number))

    def _read_warmth(self, said: str) -> None:
        value = float(said[:-1]) if _WARMTH.fullmatch(said) else math.nan
        if self._celsius is not None or not COLD_ROOM <= value <= HOT_ROOM:
            what = told("{said} is no warmth of a room", said=shown(said[:40]))
            fix = told(
                "write degrees C once, {least} to {most}, as in 19.5 C", least=COLD_ROOM, most=HOT_ROOM
            )
            self.wrong.append(_wrong(what, fix))
        else:
            self._celsius = value

    def _read_rooms(self, said: str) -> None:
        number = int(said) if re.fullmatch(r"[0-9]{1,2}", said) else 0
        if self._rooms is not None or not 1 <= number <= MOST_ROOMS:
            what = f"rooms is {shown(said[:40])}"
            self.wrong.append(_wrong(what, f"write once how many rooms were heated, 1 to {MOST_ROOMS}"))
        else:
            self._rooms = number

    def _read_probe(self, said: str) -> None:
        place, *pairs = (half.strip() for half in said.split(","))
        readings = [reading for reading in map(_reading, pairs) if reading is not None]
        known = {one.place for one in self._heat}
        read = sum(len(one.readings) for one in self._heat) + len(pairs)
        if not _NAME.fullmatch(place) or len(place) > PLACE_LIMIT or unseen(place) or place in known:
            what = told("{said} is no place of a probe", said=shown(place[:40]))
            self.wrong.append(_wrong(what, told("say of each probe once where it lay, as in Mattress")))
        elif len(readings) < len(pairs) or not pairs or _backwards(readings):
            what = told("the readings of the probe at {place} cannot be read", place=shown(place))
            fix = told("write pairs of minute and degrees C in order of time, as in 0 21.5, 2 22")
            self.wrong.append(_wrong(what, fix))
        elif read > MOST_READINGS or len(known) >= MOST_PROBES:
            what = told("the probes have {number} readings in all", number=read)
            self.wrong.append(_wrong(what, told("keep {most} at most; thin them out", most=MOST_READINGS)))
        else:
            self._heat.append(Probe(place, tuple(readings)))

    def _read_day(self, said: str) -> None:
        try:
            self._day = dt.date.fromisoformat(said)
        except ValueError:
            what = told("{said} is no day", said=shown(said[:40]))
            self.wrong.append(_wrong(what, told("write it as 2026-12-02")))

    def _choice(self, name: str, said: str) -> str:
        if name == "window":
            if not _WINDOW.fullmatch(said) or said[:5] >= said[6:]:
                what = told("{said} is no window of hours", said=shown(said[:40]))
                self.wrong.append(_wrong(what, told("write it as 09:00-12:00")))
        elif name == "signature":
            if not is_name(said):
                what = told("{said} is no signature that was kept", said=shown(said[:40]))
                self.wrong.append(_wrong(what, told("name its photograph, as in photos/k3f9a2b7c1.jpg")))
        elif name == "code":
            if not _CODE.fullmatch(said):
                what = told("{said} is no code", said=shown(said[:40]))
                self.wrong.append(_wrong(what, told("write 3 to 12 digits or capital letters, never a name")))
        elif said not in _CHOICES[name]:
            self.wrong.append(_wrong(f"{name} is {shown(said[:40])}", guess(said, _CHOICES[name])))
        return said


def _reading(pair: str) -> tuple[float, float] | None:
    """Return minute and degrees C of a pair such as ``2 21.5``; None where it is none."""
    if not _PAIR.fullmatch(pair):
        return None
    minute, celsius = map(float, pair.split())
    return (minute, celsius) if COLDEST <= celsius <= HOTTEST else None


def _backwards(readings: Sequence[tuple[float, float]]) -> bool:
    return any(later <= earlier for (earlier, _), (later, _) in pairwise(readings))


def _wrong(what: str, fix: str) -> Wrong:
    return ("job", what, fix)
