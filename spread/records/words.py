"""What methods and signs are called."""

from __future__ import annotations

from spread.trade.registry import LOOKING, TREATMENTS

METHOD_WORDS = {
    **{key: row.name for key, row in LOOKING.items()},
    **{key: row.name for key, row in TREATMENTS.items()},
    "moved-out": "Moved out",
    "moved-in": "Moved in",
    "nobody-home": "Nobody home",
    "refused": "Refused",
    "acknowledged": "Report acknowledged",
    "contact": "Talked to the resident",
    "agent": "Firm engaged",
    "written-report": "Inspector's written report",
    "entry-notice": "Notice of entry given",
    "result-notice": "Notice of the result given",
    "order": "Order received",
    "traps-set": "Traps set",
    "traps-taken-up": "Traps taken up",
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
