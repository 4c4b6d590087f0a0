"""Which right each address asks for. What stands in no line here is shut to everybody who signs in."""

from __future__ import annotations

from spread.people.roles import (
    ACCEPT,
    AUDIT,
    BUILDINGS,
    CORRECT,
    EXPORT,
    FIGURES,
    GUARD,
    PEOPLE,
    RECORD,
    SET_UP,
    SIMULATE,
    UNITS,
)

ANYBODY = "anybody"
"""Whoever is signed in: scripts, styles, the way out, one's own pass phrase."""

ADDRESSES: tuple[tuple[str, str, str], ...] = (
    # method, address or its beginning (with a slash at its end), right
    ("GET", "/files/", ANYBODY),
    ("GET", "/_dash-component-suites/", ANYBODY),
    ("GET", "/_dash-dependencies", ANYBODY),
    ("GET", "/_favicon.ico", ANYBODY),
    ("GET", "/_reload-hash", ANYBODY),
    ("GET", "/assets/", ANYBODY),
    ("GET", "/_dash-layout", ANYBODY),  # what it lays out asks for the page's own right
    ("POST", "/_dash-update-component", ANYBODY),  # a callback asks for the right of its page
    ("GET", "/sign-out", ANYBODY),
    ("POST", "/sign-out", ANYBODY),
    ("GET", "/phrase", ANYBODY),
    ("POST", "/phrase", ANYBODY),
    ("GET", "/guard/now", FIGURES),
    ("POST", "/guard/", GUARD),
    ("GET", "/", UNITS),
    ("GET", "/round", UNITS),
    ("GET", "/round/", UNITS),
    ("POST", "/round/answers", UNITS),  # it is how a phone asks, too; what is recorded asks for more
    ("POST", "/round/now", UNITS),  # taking a door asks for more
    ("GET", "/photographs/", UNITS),
    ("POST", "/photographs/", UNITS),  # keeping one asks for more
    ("GET", "/room/", UNITS),
    ("GET", "/week", UNITS),
    ("GET", "/week/export/", EXPORT),
    ("GET", "/week/", UNITS),
    ("GET", "/month", FIGURES),
    ("GET", "/month/", FIGURES),
    ("GET", "/cases", UNITS),
    ("POST", "/cases/", RECORD),
    ("GET", "/revisits", UNITS),
    ("POST", "/calendar/", EXPORT),  # the feed itself asks for a key
    ("GET", "/records", UNITS),
    ("GET", "/records/", EXPORT),
    ("POST", "/records/", RECORD),  # somebody else's row asks for more
    ("GET", "/duties", UNITS),
    ("GET", "/duties/", UNITS),
    ("POST", "/duties/", RECORD),
    ("POST", "/week/notices", RECORD),
    ("POST", "/week/move", CORRECT),
    ("GET", "/past", FIGURES),
    ("GET", "/past/", FIGURES),
    ("GET", "/grades", FIGURES),
    ("GET", "/programmes", FIGURES),
    ("GET", "/programmes/", FIGURES),
    ("POST", "/programmes/now", FIGURES),
    ("POST", "/programmes/prices", FIGURES),
    ("POST", "/programmes/accept", ACCEPT),
    ("POST", "/programmes/", SIMULATE),
    ("GET", "/import", CORRECT),
    ("POST", "/import/", CORRECT),
    ("GET", "/change", CORRECT),
    ("GET", "/change/", CORRECT),
    ("POST", "/change/", CORRECT),
    ("GET", "/setup", SET_UP),
    ("GET", "/setup/", SET_UP),
    ("POST", "/setup/", SET_UP),
    ("GET", "/trace", SET_UP),
    ("POST", "/trace/", SET_UP),
    ("GET", "/people", PEOPLE),
    ("POST", "/people/", PEOPLE),
    ("GET", "/audit", AUDIT),
)
OPENING = "/opening"
"""Of an office: how far a building is that is being opened, below it by its key."""
FRONT: tuple[tuple[str, str, str], ...] = (
    ("GET", "/", ANYBODY),  # the buildings that one works for
    ("GET", f"{OPENING}/", ANYBODY),  # who works for the building
    ("POST", f"{OPENING}/", ANYBODY),
    ("GET", "/setup", BUILDINGS),
    ("GET", "/setup/", BUILDINGS),
    ("POST", "/setup/", BUILDINGS),
    ("GET", "/trace", BUILDINGS),
    ("POST", "/trace/", BUILDINGS),
    *(
        line
        for line in ADDRESSES
        if line[1].split("/")[1] in ("files", "sign-out", "phrase", "people", "audit")
    ),
)
"""The addresses of an office itself, before those of its buildings."""


def right_for(method: str, path: str, addresses: tuple[tuple[str, str, str], ...] = ADDRESSES) -> str | None:
    """Return the right that a request asks for; None where no line names it.

    Parameters
    ----------
    method, path
        Of the request. HEAD and OPTIONS ask as GET does.
    addresses
        The table; its first line that fits decides.
    """
    asked = "GET" if method in ("HEAD", "OPTIONS") else method
    bare = path if path == "/" else path.rstrip("/")
    for wanted, address, right in addresses:
        whole = address == "/" or not address.endswith("/")
        if wanted == asked and (bare == address if whole else path.startswith(address)):
            return right
    return None
