"""The languages of printed pages: their few fixed words, and days as people write them."""

from __future__ import annotations

import datetime as dt
from typing import Literal

Language = Literal["en", "es"]
LANGUAGES: tuple[Language, ...] = ("en", "es")

WORDS: dict[Language, dict[str, str]] = {
    "en": {"caution": "Caution", "sources": "Sources", "page": "Page", "of": "of", "tick": "Done"},
    "es": {"caution": "Precaución", "sources": "Fuentes", "page": "Página", "of": "de", "tick": "Hecho"},
}
"""The few words that the writers themselves set."""

_WEEKDAYS = {
    "en": ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"),
    "es": ("lunes", "martes", "miércoles", "jueves", "viernes", "sábado", "domingo"),
}
_MONTHS = {
    "en": (
        "January", "February", "March", "April", "May", "June",
        "July", "August", "September", "October", "November", "December",
    ),
    "es": (
        "enero", "febrero", "marzo", "abril", "mayo", "junio",
        "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre",
    ),
}  # fmt: skip


def day_in_words(day: dt.date, language: Language) -> str:
    """Return a day as a person writes it: ``Monday 30 November 2026``, ``lunes 30 de noviembre de 2026``."""
    weekday, month = _WEEKDAYS[language][day.weekday()], _MONTHS[language][day.month - 1]
    of = " de " if language == "es" else " "
    return f"{weekday} {day.day}{of}{month}{of}{day.year}"
