"""The gettext catalogues, read from their ``.po`` files: nothing is compiled, nothing goes stale."""

from __future__ import annotations

import io
from functools import cache
from gettext import NullTranslations
from pathlib import Path

LOCALE = Path(__file__).parent / "locale"


@cache
def catalogue(language: str) -> NullTranslations:
    """Return the messages of a language; English is in the code, so that its catalogue is empty.

    A message that a catalogue lacks is said in English. All ``locale/<language>/*.po`` are one catalogue,
    a file a part of the product.
    """
    files = sorted((LOCALE / language).glob("*.po"))
    if not files:
        return NullTranslations()
    from babel.messages.mofile import write_mo  # noqa: PLC0415 - English starts without it
    from babel.messages.pofile import read_po  # noqa: PLC0415
    from babel.support import Translations  # noqa: PLC0415

    whole: Translations | None = None
    for file in files:
        with file.open("rb") as lines:
            messages = read_po(lines, locale=language)
        binary = io.BytesIO()
        write_mo(binary, messages)
        binary.seek(0)
        part = Translations(binary)
        whole = part if whole is None else whole.merge(part)
    assert whole is not None
    return whole
