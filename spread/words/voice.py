"""A voice: the language and the measure in which facts are said to one person."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from babel import Locale
from babel.dates import format_date
from babel.lists import format_list
from babel.numbers import format_decimal
from babel.units import format_unit

from spread.words.catalogue import catalogue

Language = Literal["en", "es", "fr", "vi"]
Measure = Literal["metres", "feet"]
LANGUAGES: tuple[Language, ...] = ("en", "es")  #: Of all that people of the trade read
NOTICE_LANGUAGES: tuple[Language, ...] = ("en", "es", "fr", "vi")  #: Of notices to residents
NAMES: dict[Language, str] = {"en": "English", "es": "Español", "fr": "Français", "vi": "Tiếng Việt"}
"""Languages as those who speak them write them."""
MEASURES: tuple[Measure, ...] = ("metres", "feet")
METRES_A_FOOT = 0.3048
FEET_REGIONS = ("US", "LR", "MM")
"""Regions whose readers measure in feet."""
_LISTS = {"en": "en_GB"}
"""Locale of lists where it is not the language's own: ``a, b and c`` without a third comma."""
_DAY = "EEE d MMM y"
_SHORT = "d MMM"
_MONTH = "MMM y"
_LONG = {
    "en": "EEEE d MMMM y",
    "es": "EEEE d 'de' MMMM 'de' y",
    "fr": "EEEE d MMMM y",
    "vi": "EEEE, d MMMM, y",
}
_PER_CENT = re.compile(r"(?<=[\d}])[ \N{NO-BREAK SPACE}]?%")
_FIGURES = 10
"""Whole numbers up to this one may be said as words."""


@dataclass(frozen=True, slots=True)
class Voice:
    """How facts are said to one person; it is chosen by the person, not by the building.

    ``language``: one of :data:`LANGUAGES`, or for a notice of :data:`NOTICE_LANGUAGES`. ``measure``:
    ``metres`` or ``feet``.
    """

    language: Language = "en"
    measure: Measure = "metres"

    def text(self, message: str, /, **values: object) -> str:
        """Return a message in the language, with ``{names}`` of values filled in.

        ``message`` is a literal in the code, so that it can be gathered for the catalogues.
        """
        told = self._signed(catalogue(self.language).gettext(message))
        return told.format(**values) if values else told

    def many(self, one: str, more: str, number: int, /, **values: object) -> str:
        """Return the form for a number; ``{number}`` stands for it."""
        told = self._signed(catalogue(self.language).ngettext(one, more, number))
        return told.format(number=self.number(number), **values)

    def term(self, context: str, word: str) -> str:
        """Return a word of a registry in the language; the context says what it names, such as ``method``."""
        return catalogue(self.language).pgettext(context, word)

    def number(self, value: float, digits: int = 0) -> str:
        """Return a number with so many digits after the point, grouped as the language does."""
        form = "#,##0" + ("." + "0" * digits if digits else "")
        return format_decimal(value, format=form, locale=_locale(self.language))

    def significant(self, value: float, digits: int) -> str:
        """Return a number with at most so many significant digits.

        Examples
        --------
        >>> ENGLISH.significant(0.512, 2), Voice("es").significant(0.512, 2), ENGLISH.significant(1.0, 2)
        ('0.51', '0,51', '1')
        """
        form = "@" + "#" * (digits - 1)
        return format_decimal(value, format=form, locale=_locale(self.language))

    def count(self, number: int) -> str:
        """Return a small whole number as a word, a larger one in figures."""
        words = {
            0: self.text("no"), 1: self.text("one"), 2: self.text("two"), 3: self.text("three"),
            4: self.text("four"), 5: self.text("five"), 6: self.text("six"), 7: self.text("seven"),
            8: self.text("eight"), 9: self.text("nine"), 10: self.text("ten"),
        }  # fmt: skip
        return words[number] if 0 <= number <= _FIGURES else self.number(number)

    def percent(self, chance: float, digits: int = 0) -> str:
        """Return a chance as a percentage; never 0% or 100%, which nobody can know.

        Examples
        --------
        >>> ENGLISH.percent(0.337), ENGLISH.percent(0.0004), ENGLISH.percent(0.9996)
        ('34%', '<1%', '>99%')
        >>> ENGLISH.percent(0.0004, 1), ENGLISH.percent(0.337, 1)
        ('<0.1%', '33.7%')
        """
        least = 10.0**-digits
        shown = round(100.0 * chance, digits)
        if shown < least:
            return self.per_cent(f"<{self.number(least, digits)}")
        if shown > 100.0 - least:
            return self.per_cent(f">{self.number(100.0 - least, digits)}")
        return self.per_cent(self.number(shown, digits))

    def per_cent(self, number: str) -> str:
        """Return a number with the sign of a percentage as the language writes it: ``34%``, ``34 %``."""
        return number + _per_cent(self.language)

    def _signed(self, message: str) -> str:
        """Return a message with each percentage as the language writes it, however the code does."""
        return _PER_CENT.sub(_per_cent(self.language), message) if "%" in message else message

    def distance(self, metres: float, digits: int = 0) -> str:
        """Return a length in the person's measure: the one rule for every page, sheet and phone.

        ``digits``: digits after the point in metres. Feet are whole from 3 m on and have one digit under that
        where metres have any.
        """
        unit, value = "length-meter", metres
        if self.measure == "feet":
            unit, value = "length-foot", metres / METRES_A_FOOT
            digits = min(digits, 1) if metres < 3 else 0
        form = "#,##0" + ("." + "0" * digits if digits else "")
        return format_unit(value, unit, length="short", format=form, locale=_locale(self.language))

    def day(self, day: dt.date) -> str:
        """Return a date as people read it, such as ``Wed 25 Nov 2026``."""
        return format_date(day, _DAY, locale=_locale(self.language))

    def short_day(self, day: dt.date) -> str:
        """Return a date without weekday and year, such as ``25 Nov``."""
        return format_date(day, _SHORT, locale=_locale(self.language))

    def month(self, day: dt.date) -> str:
        """Return the month of a date, such as ``Nov 2026``."""
        return format_date(day, _MONTH, locale=_locale(self.language))

    def long_day(self, day: dt.date) -> str:
        """Return a date in full, such as ``Monday 30 November 2026``."""
        return format_date(day, _LONG[self.language], locale=_locale(self.language))

    def ago(self, days: int) -> str:
        """Return how long ago: ``today``, ``12 days ago``, ``5 months ago``."""
        if days <= 0:
            return self.text("today")
        if days == 1:
            return self.text("yesterday")
        if days < 21:
            return self.many("{number} day ago", "{number} days ago", days)
        if days < 70:
            return self.many("{number} week ago", "{number} weeks ago", round(days / 7))
        if days < 700:
            return self.many("{number} month ago", "{number} months ago", round(days / 30.44))
        return self.many("{number} year ago", "{number} years ago", round(days / 365.25))

    def joined(self, parts: Sequence[str]) -> str:
        """Return ``a``, ``a and b`` or ``a, b and c``."""
        return format_list(list(parts), locale=_LISTS.get(self.language, self.language))

    def either(self, parts: Sequence[str]) -> str:
        """Return ``a``, ``a or b`` or ``a, b or c``."""
        return format_list(list(parts), style="or", locale=_LISTS.get(self.language, self.language))


ENGLISH = Voice()
"""What is said where nobody chose: English and metres."""


def voice_for(accepted: str = "", language: str = "", measure: str = "") -> Voice:
    """Return the voice for one person.

    ``accepted``: the browser's languages in the form of an ``Accept-Language`` header, best first; what is
    not chosen below is taken from its first language that we speak, and from the region of its first.
    ``language``, ``measure``: what the person chose; anything unknown counts as not chosen.
    """
    tags = [part.split(";")[0].strip() for part in accepted.split(",")]
    spoken = next((tag[:2].lower() for tag in tags if tag[:2].lower() in LANGUAGES), "en")
    region = tags[0].partition("-")[2].upper()
    chosen = language if language in LANGUAGES else spoken
    measured = measure if measure in MEASURES else "feet" if region in FEET_REGIONS else "metres"
    return Voice(chosen, measured)  # type: ignore[arg-type]


@cache
def _locale(language: str) -> Locale:
    return Locale.parse(language)


@cache
def _per_cent(language: str) -> str:
    """Return what a language writes behind the number of a percentage, by the CLDR."""
    return str(_locale(language).percent_formats[None].pattern).rpartition("0")[2]


def upper(words: str) -> str:
    """Return words with a capital at the beginning, to open a sentence."""
    return words[:1].upper() + words[1:]
