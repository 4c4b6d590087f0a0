"""Facts into sentences: the only place with prose.

A :class:`~spread.words.voice.Voice` is a language and a measure. :func:`~spread.words.saying.say` says one
fact in it; each module here says the facts of one part of ``spread/decisions`` or ``spread/programmes``.
English stands in the code as the key of the message; other languages are gettext catalogues in ``locale/``.
"""

from spread.words.saying import say
from spread.words.voice import ENGLISH, LANGUAGES, MEASURES, Voice, voice_for

__all__ = ["ENGLISH", "LANGUAGES", "MEASURES", "Voice", "say", "voice_for"]
