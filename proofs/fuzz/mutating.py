"""Changing bytes, tables, JSON and TOML by chance, with a liking for what has tripped programs before."""

from __future__ import annotations

import io
import json
import random
import zipfile
from typing import Any

UNSEEN = ("\x00", "\x1b[31m", "\u202e", "\u2066", "\u200b", "\ufeff", "\u2028", "\x7f", "\x85", "\ufffe")
TEXTS = (
    *UNSEEN, "", " ", "0", "-1", "1e999", "NaN", "inf", "9" * 400, "9" * 5000, "=1+1", "@x", "+1", "'", '"',
    '""', ",", ";", "\t", "\n", "\r", "../..", "/etc/passwd", "con", "%00", "%", "{0}", "${x}", "<script>",
    "\\", "a" * 5000,
    "é", "İ", "ß", "𝟙", "٣", "1.5", "0x1f", "2026-02-30", "0000-00-00", "9999-99-99", "2026-11-20", "101",
    "true", "null", "[]", "{}", "😀", "e\u0301" * 50,
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 1.5, -0.0, 1e308, 2**31, 2**63, 2**64, 10**30, 10**400, float("nan"),
    float("inf"),
    [], {}, [[]], [{}], {"": ""}, [None], "101", ["101"], {"unit": "101"}, [1, "a", None], "\ud800",
)  # fmt: skip
PIECES = (*(text.encode() for text in TEXTS), b"\xff", b"\xfe\xff", b"\xef\xbb\xbf", b"\xc3", b"\xed\xa0\x80")


def deep(rng: random.Random) -> Any:
    """Return something nested deep, or a value of another kind than was meant."""
    if rng.random() < 0.06:
        nested: Any = "x"
        for _ in range(rng.choice((20, 60, 200, 900))):
            nested = [nested] if rng.random() < 0.5 else {"a": nested}
        return nested
    return rng.choice((*VALUES, *TEXTS))


def of_bytes(data: bytes, rng: random.Random) -> bytes:
    """Change some bytes: turn, cut, double, put in, swap."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 16))):
        if not out:
            return bytes(rng.choice(PIECES))
        at, to = rng.randrange(len(out)), rng.randrange(len(out))
        at, to = min(at, to), max(at, to)
        way = rng.randrange(6)
        if way == 0:
            out[at] ^= 1 << rng.randrange(8)
        elif way == 1:
            del out[at:to]
        elif way == 2:
            out[at:at] = out[at : min(to, at + 2000)]
        elif way == 3:
            out[at:at] = rng.choice(PIECES)
        elif way == 4:
            out[at : at + rng.randrange(1, 9)] = rng.choice(PIECES)
        else:
            del out[to:]
    return bytes(out)


def of_table(data: bytes, rng: random.Random, separator: str = ",") -> bytes:
    """Change cells, rows and columns of a table of text."""
    rows = [line.split(separator) for line in data.decode("utf-8", "replace").split("\n")]
    for _ in range(rng.choice((1, 1, 2, 3, 8))):
        row = rng.randrange(len(rows))
        cell = rng.randrange(len(rows[row]))
        way = rng.randrange(7)
        if way <= 2:
            rows[row][cell] = rng.choice(TEXTS)
        elif way == 3:
            rows.insert(row, list(rows[rng.randrange(len(rows))]))
        elif way == 4 and len(rows) > 1:
            del rows[row]
        elif way == 5:
            rows[row].insert(cell, rng.choice(TEXTS))
        else:
            rows[row][cell] += rng.choice(TEXTS)
    joined = rng.choice((separator, separator, separator, ";", "\t"))
    end = rng.choice(("\n", "\n", "\n", "\r\n", "\r"))
    return end.join(joined.join(row) for row in rows).encode("utf-8", "surrogatepass")


def of_json(value: Any, rng: random.Random) -> Any:
    """Change one part of JSON data, somewhere."""
    if isinstance(value, dict) and value and rng.random() < 0.9:
        key = rng.choice(list(value))
        way = rng.random()
        changed = value | ({rng.choice(TEXTS): deep(rng)} if way < 0.04 else {key: of_json(value[key], rng)})
        return {name: part for name, part in changed.items() if name != key or way < 0.94}
    if isinstance(value, list) and value and rng.random() < 0.9:
        at = rng.randrange(len(value))
        way = rng.random()
        there = [] if way < 0.06 else [value[at]] * 2 if way < 0.12 else [of_json(value[at], rng)]
        return [*value[:at], *there, *value[at + 1 :]]
    return deep(rng)


def json_bytes(value: Any) -> bytes:
    """Return data as JSON, however odd; what Python cannot write that way is left to other changes."""
    try:
        return json.dumps(value).encode()
    except (RecursionError, ValueError):
        return b"[" * 100_000


def of_toml(data: bytes, rng: random.Random) -> bytes:
    """Change values, keys and lines of TOML."""
    lines = data.decode().split("\n")
    for _ in range(rng.choice((1, 1, 2, 3))):
        at = rng.randrange(len(lines))
        key, equals, _ = lines[at].partition("=")
        way = rng.randrange(6)
        if way <= 2 and equals:
            value = deep(rng)
            text = json.dumps(value) if not isinstance(value, dict | type(None)) else '{ a = "b" }'
            lines[at] = f"{key}= {text}"
        elif way == 3:
            lines.insert(at, lines[rng.randrange(len(lines))])
        elif way == 4:
            lines[at] = rng.choice(TEXTS) + lines[at]
        else:
            del lines[at]
            lines = lines or [""]
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def of_zip(data: bytes, rng: random.Random) -> bytes:
    """Change one part inside a workbook and pack it again, or change the pack itself."""
    if rng.random() < 0.4:
        return of_bytes(data, rng)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        names = source.namelist()
        chosen = rng.choice(names)
        for name in names:
            part = source.read(name)
            if name == chosen:
                if rng.random() < 0.1:
                    continue
                part = of_bytes(part, rng)
            made.writestr(name, part)
    return out.getvalue()


def of_file(name: str, data: bytes, rng: random.Random) -> bytes:
    """Change a file in a way that fits its kind, or its bytes."""
    if rng.random() < 0.35:
        return of_bytes(data, rng)
    if name.endswith(".csv"):
        return of_table(data, rng)
    if name.endswith(".toml"):
        return of_toml(data, rng)
    if name.endswith(".xlsx"):
        return of_zip(data, rng)
    try:
        value = json.loads(data)
    except ValueError:
        return of_bytes(data, rng)
    for _ in range(rng.choice((1, 1, 2, 4))):
        value = of_json(value, rng)
    return json_bytes(value)
