"""Keys of a building's calendar feed: whoever has one reads visits and duties, and nothing else.

A key is shown once, when it is made. What is kept beside the log is its fingerprint, from which nobody gets
the key back, with the day it was made and by whom.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import json
import secrets
from dataclasses import asdict, dataclass

from spread.records.store import Store

FEED_FILE = "calendar-keys.json"
MOST = 20
"""Keys that a building may have at once: more are a mistake."""
_BYTES = 32


@dataclass(frozen=True, slots=True)
class FeedKey:
    """A key that opens the feed: a short name, its fingerprint, the day it was made, and by whom."""

    name: str
    fingerprint: str
    made: str
    by: str = ""


def feed_keys(data: bytes) -> tuple[FeedKey, ...]:
    """Return the keys that a file holds; none for a file that is no list of keys, which opens nothing."""
    try:
        told = json.loads(data or b"[]")
        return tuple(FeedKey(**{name: str(value) for name, value in one.items()}) for one in told)
    except (ValueError, TypeError, AttributeError):
        return ()


def make_key(store: Store, on: dt.date, by: str = "") -> str:
    """Make a key and keep its fingerprint; return the key, which is kept nowhere.

    The oldest is dropped where there are :data:`MOST` already.
    """
    key = secrets.token_urlsafe(_BYTES)
    print_ = _fingerprint(key)
    known = feed_keys(store.beside(FEED_FILE))
    _keep(store, (*known, FeedKey(print_[:8], print_, on.isoformat(), by))[-MOST:])
    return key


def revoke_key(store: Store, name: str) -> bool:
    """Revoke a key by its short name; return whether there was one."""
    known = feed_keys(store.beside(FEED_FILE))
    left = tuple(one for one in known if one.name != name)
    if len(left) < len(known):
        _keep(store, left)
    return len(left) < len(known)


def opens(data: bytes, key: str) -> bool:
    """Say whether a key is one of those that a file holds; it takes as long for any wrong one."""
    asked, right = _fingerprint(key), False
    for one in feed_keys(data):
        right |= hmac.compare_digest(one.fingerprint, asked)
    return right


def _fingerprint(key: str) -> str:
    return hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()


def _keep(store: Store, keys: tuple[FeedKey, ...]) -> None:
    store.keep_beside(FEED_FILE, json.dumps([asdict(one) for one in keys], indent=1) + "\n")
