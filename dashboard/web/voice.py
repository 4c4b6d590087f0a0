"""In which language and measure to speak to whoever asks: each person chooses, the building does not."""

from __future__ import annotations

from dataclasses import replace

from flask import has_request_context, request

from spread.words.voice import ENGLISH, Voice, voice_for

LANGUAGE, MEASURES = "spread-language", "spread-measures"
"""Cookies of the switches (``dashboard/web/switch.js``)."""


def asked_voice() -> Voice:
    """Return the voice of the request: what was chosen in this browser, else what the browser speaks."""
    if not has_request_context():
        return ENGLISH
    kept = request.cookies
    accepted = request.headers.get("Accept-Language", "")
    return voice_for(accepted, kept.get(LANGUAGE, ""), kept.get(MEASURES, ""))


def desk_voice() -> Voice:
    """Return the voice of a desk page: the person's measure, in English, which all of these pages are in."""
    return replace(asked_voice(), language="en")
