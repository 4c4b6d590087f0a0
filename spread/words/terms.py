"""The words of the registries in a person's language: methods, levels, signs, kinds. One vocabulary for all."""

from __future__ import annotations

from spread.records.words import EVIDENCE_WORDS, METHOD_WORDS
from spread.words.voice import Voice


def method_name(method: str, voice: Voice) -> str:
    """Return what a method of looking or treating is called, such as ``Brief look``."""
    return voice.term("method", METHOD_WORDS.get(method, method))


def sign_name(sign: str, voice: Voice) -> str:
    """Return what a sign is called, such as ``cast skins``."""
    return voice.term("sign", EVIDENCE_WORDS.get(sign, sign))


def level_name(level: str, voice: Voice) -> str:
    """Return what a level of infestation is called, such as ``moderate``."""
    return voice.term("level", level)
