"""What methods and signs are called."""

from __future__ import annotations

METHOD_WORDS = {
    "brief-visual": "Brief look",
    "thorough-visual": "Thorough look",
    "dog": "Dog",
    "interview": "Interview",
    "interceptors": "Interceptors",
    "monitors-few": "A few monitors",
    "lure-trap": "Lure trap",
    "steam-dust-encase": "Steam, dust and encasement treatment",
    "spray": "Spray treatment",
    "whole-room-heat": "Whole-room heat treatment",
    "combined": "Combined treatment",
    "moved-out": "Moved out",
    "moved-in": "Moved in",
    "nobody-home": "Nobody home",
    "refused": "Refused",
}
"""What each method is called on screens and in lists."""

EVIDENCE_WORDS = {
    "live": "live",
    "eggs": "eggs",
    "skins": "cast skins",
    "stains": "stains",
    "dead": "dead bugs",
    "alert": "alert",
    "bites": "bites",
}
"""What each sign is called."""
