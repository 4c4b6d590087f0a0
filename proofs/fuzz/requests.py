"""Requests to every address of a server, changed by chance and sent as raw bytes to a real waitress.

Every one is answered in time, and none with a 5xx: what is odd is refused with a sentence.
"""

from __future__ import annotations

import json
import logging
import random
import re
import shutil
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import waitress

from dashboard import create_app
from dashboard.server import THREADS
from proofs.fuzz.files import ON, Met, make_folder
from proofs.fuzz.gated import FORMS, Staff, form
from proofs.fuzz.mutating import TEXTS, deep, json_bytes, of_bytes, of_json
from spread.posterior.fit import FitSettings
from spread.session import Session

LONGEST = 30.0
"""Seconds for an answer; the longest honest one is a printed page or a comparison of programmes."""
SHORT = FitSettings(chains=2, warmup=30, sweeps=60, most_sweeps=60)
METHODS = (
    "GET",
    "POST",
    "POST",
    "POST",
    "HEAD",
    "OPTIONS",
    "PUT",
    "DELETE",
    "PATCH",
    "TRACE",
    "get",
    "X" * 300,
)
SKIP = ("/setup/create",)
"""Addresses that write folders; they get every tenth of their share."""
SIGNED_OUT = 401
WIDE = (501, 505)
"""What waitress itself says of a method or a version that it has not."""


class Served:
    """A building served by waitress on a free port, in threads of this process.

    With staff it is one that people sign in to, and somebody who may nearly everything is signed in.
    """

    def __init__(self, place: str | Path, *, gated: bool = False) -> None:
        self.session = Session.open(place, on=ON, settings=SHORT)
        self.staff = Staff(Path(place)) if gated else None
        self.cookie = ""
        self.app = create_app(self.session)
        self.app.server.test_client().get("/")  # Dash lays its callbacks out with the first request
        self.server = waitress.create_server(self.app.server, host="127.0.0.1", port=0, threads=THREADS)
        self.port = int(self.server.effective_port)
        self._thread = threading.Thread(target=self.server.run, daemon=True)

    def sign_in(self) -> None:
        """Sign the staff in, again where a request has ended it."""
        self.cookie = self.staff.cookie(self.app.server) if self.staff else ""

    def key(self) -> str:
        """Return the building's key for whoever is signed in."""
        headers = {"Cookie": self.cookie} if self.cookie else {}
        told = self.app.server.test_client(use_cookies=False).post(
            "/round/now", json={"building": ""}, headers=headers
        )
        return str((told.json or {}).get("building", {}).get("key", ""))

    def __enter__(self) -> Served:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.server.close()
        self._thread.join(5)
        self.session.wait()


def bodies(served: Served) -> dict[str, list[Any]]:
    """Return honest bodies by address, which are then changed."""
    key, session = served.key(), served.session
    unit = next(iter(session.plan.units))
    answer = {
        "id": "00000000-0000-4000-8000-000000000001",
        "unit": unit,
        "method": "brief-visual",
        "when": "2026-11-20",
    }
    finding = {
        "item": "headboard",
        "evidence": ["live"],
        "count": 3,
        "stage": "adults",
        "metres": 0.4,
        "place": "bed 1",
    }
    answers = [
        answer | {"answer": "clear"},
        answer | {"answer": "found", "level": "low", "evidence": ["live"], "note": "x"},
        answer | {"answer": "undo", "undoes": "r001"},
        answer | {"answer": "room", "level": "proposed", "items": [finding], "from": "r002"},
        answer | {"answer": "traps", "method": "interceptors", "days": 14, "caught": 2, "items": []},
        answer | {"answer": "treated", "method": "combined"},
    ]
    want = {"method": "dog", "minutes": 240, "begins": 540, "elapsed": 3, "at": unit, "order": "likeliest",
            "also": ["revisit"], "skipped": [unit], "unit": unit, "phone": "p1", "holds": [unit]}  # fmt: skip
    room = {"room": unit, "places": "bed, sofa", "items": [finding], "from": "r002"}
    calls = [
        {
            "output": output,
            "outputs": [_part(name) for name in output.strip(".").split("...")]
            if output.startswith("..")
            else _part(output),
            "inputs": [dict(part, value=unit) for part in callback["inputs"]],
            "state": [dict(part, value=unit) for part in callback["state"]],
            "changedPropIds": [f"{callback['inputs'][0]['id']}.{callback['inputs'][0]['property']}"],
        }
        for output, callback in served.app.callback_map.items()
        if callback["inputs"]
    ]
    prices = {"name": "prices.toml", "text": 'currency = "EUR"\n'}
    setup = {"list": "unit,floor\n101,1\n102,1\n", "name": "House", "layout": "", "edits": [],
             "slug": "house", "form": None, "hour": "50", "records": [],
             "rules": "good-practice"}  # fmt: skip
    return {
        "/round/answers": [
            *({"building": key, "answers": [one], "want": want} for one in answers),
            {"building": key, "answers": [], "want": room},
        ],
        "/round/now": [{"building": key, "phone": "p1", "holds": [unit]}],
        "/_dash-update-component": calls,
        "/programmes/start": [{"programmes": ["complaint"], "runs": 40, "weeks": 26}],
        "/programmes/now": [{"currency": "EUR", "hour": "50"}],
        "/programmes/drivers": [{"key": "complaint", "prices": {"hour": "50"}}],
        "/programmes/prices": [prices],
        "/setup/draw": [setup, setup | {"list": "", "form": {"floors": 3, "on_floor": 4, "first": 1}}],
        "/setup/create": [setup],
    }


def _part(name: str) -> dict[str, str]:
    of, _, which = name.partition(".")
    return {"id": of, "property": which}


def addresses(served: Served) -> list[str]:
    """Return every address of a server, its variable parts filled."""
    rules = [rule.rule for rule in served.app.server.url_map.iter_rules()]
    return sorted({re.sub(r"<[^>]+>", lambda _: "101", rule) for rule in rules})


def request(
    number: int, rng: random.Random, served: Served, known: dict[str, list[Any]], paths: list[str]
) -> bytes:
    """Return the bytes of one request."""
    forms = FORMS if served.staff else {}
    path = rng.choice((*paths, *known, *known, *forms))
    if path in SKIP and rng.random() < 0.9:
        path = "/setup/draw"
    usual = "POST" if path in known or path in forms else "GET"
    method = usual if rng.random() < 0.85 else rng.choice(METHODS)
    body, kind = b"", "application/json"
    if path in known:
        value = rng.choice(known[path])
        for _ in range(rng.choice((0, 1, 1, 1, 2, 4))):
            value = of_json(value, rng)
        if isinstance(value, dict) and rng.random() < 0.8:
            _own_id(value, number)
        body = json_bytes(value)
        if rng.random() < 0.08:
            body = of_bytes(body, rng)
    elif path in forms and method == "POST":
        body, kind = form(path, rng), "application/x-www-form-urlencoded"
    elif rng.random() < 0.3:
        body = of_bytes(b'{"a": 1}', rng)
    headers = {
        "Host": f"127.0.0.1:{served.port}",
        "Content-Type": kind,
        "Content-Length": str(len(body)),
        "Connection": "close",
        **({"Cookie": served.cookie} if served.cookie else {}),
    }
    odd_headers(headers, rng)
    path = odd_path(path, rng)
    version = "HTTP/1.1" if rng.random() < 0.97 else rng.choice(("HTTP/1.0", "HTTP/9.9", "HTTP", ""))
    lines = [f"{method} {path} {version}", *(f"{name}: {text}" for name, text in headers.items())]
    return "\r\n".join(lines).encode("utf-8", "surrogatepass") + b"\r\n\r\n" + body


def _own_id(value: dict[str, Any], number: int) -> None:
    answers = value.get("answers")
    if isinstance(answers, list) and answers and isinstance(answers[0], dict):
        answers[0] = answers[0] | {"id": f"00000000-0000-4000-8000-{number:012d}"}


def odd_headers(headers: dict[str, str], rng: random.Random) -> None:
    """Turn a header or two into something odd."""
    plain = [text.replace("\r", "").replace("\n", "") for text in TEXTS]
    odd: dict[str, tuple[str, ...]] = {
        "Host": (
            "",
            "evil.example",
            "[",
            "[::1",
            "127.0.0.1:99999999",
            "a@b",
            "localhost/x",
            "127.0.0.1\t",
            *plain,
        ),
        "Origin": ("null", "http://[", "http://evil.example", "https://[::1", "javascript:1", "", *plain),
        "Referer": ("http://[", "http://127.0.0.1/room/%ff", "", *plain),
        "Content-Type": (
            "text/plain",
            "",
            "application/json; charset=utf-7",
            "multipart/form-data",
            "a/b/c",
            *plain,
        ),
        "Content-Length": ("-1", "abc", "1e3", "", "99999999999", "0", "1", "+5", "٣"),
        "Transfer-Encoding": ("chunked", "gzip", "identity", "chunked, chunked"),
        "Accept-Language": ("es", "*", "xx-YY;q=abc", ";;;,,,", "en;q=99999999999999999999", *plain),
        "Accept-Encoding": ("gzip;q=x", "br, gzip, *;q=", ";;", *plain),
        "Cookie": (
            "spread-language=xx; spread-measures=\x01",
            "a=b; ; =; ;;",
            "spread-measures=" + "x" * 3000,
            *plain,
        ),
        "If-None-Match": ("*", 'W/"', '"' * 40, *plain),
        "If-Modified-Since": ("yesterday", "Mon, 99 Foo 9999 99:99:99 GMT", *plain),
        "Range": ("bytes=0-", "bytes=5-2", "bytes=-", "lines=1-2", "bytes=" + "0-1," * 500),
        "Sec-Fetch-Site": ("cross-site", "same-site", "x", "same-origin"),
        "X-Forwarded-For": plain,
        "X-Forwarded-Host": ("evil.example",),
        "Expect": ("100-continue", "200-ok"),
        "Connection": ("keep-alive", "upgrade", "close, close"),
        "X" * 200: ("y" * 9000,),
    }  # type: ignore[dict-item]
    for _ in range(rng.choice((0, 0, 0, 0, 1, 1, 2))):
        name = rng.choice(list(odd))
        headers[name] = rng.choice(odd[name])


def odd_path(path: str, rng: random.Random) -> str:
    """Turn an address into something odd, or give it odd questions."""
    if rng.random() < 0.8:
        return path
    text = rng.choice(TEXTS)[:3000].replace(" ", "%20").replace("\r", "%0D").replace("\n", "%0A")
    way = rng.randrange(5)
    if way == 0:
        asks = (
            "minutes",
            "technicians",
            "begins",
            "paper",
            "currency",
            "hour",
            "at",
            "path",
            "next",
            "m",
            "",
        )
        return f"{path}?{rng.choice(asks)}={text}&{rng.choice(asks)}={deep(rng)!s:.200}".replace(" ", "+")
    if way == 1:
        return path + text
    if way == 2:
        return path.replace("101", text)
    return path + rng.choice(
        ("/", "//", "/..", "/%2e%2e/%2e%2e/etc/passwd", "%00", "%ff%fe", "?%ff", "#x", ";a=b", "/\\..\\")
    )


def send(data: bytes, port: int) -> tuple[int, bytes]:
    """Send a request; return the status of its answer and the answer. Status 0: the connection was closed."""
    with socket.create_connection(("127.0.0.1", port), timeout=LONGEST) as line:
        line.settimeout(LONGEST)
        out = b""
        try:
            line.sendall(data)
            line.shutdown(socket.SHUT_WR)
            while piece := line.recv(1 << 16):
                out += piece
        except (ConnectionResetError, BrokenPipeError):
            pass
    found = re.match(rb"(?:HTTP/1\.[01] 100 .*?\r\n\r\n)?HTTP/1\.[01] (\d{3})", out, re.DOTALL)
    return int(found[1]) if found else 0, out


def run(count: int, seed: int, tell: Callable[[str], None] = lambda _: None) -> Met:
    """Send so many requests, a third of them where people sign in; after each hundred an honest one."""
    met = Met()
    part = count - count // 3
    for numbers, gated in ((range(part), False), (range(part, count), True)):
        home = Path(tempfile.mkdtemp(prefix="spread-fuzz-"))
        try:
            with listening() as heard, Served(make_folder(home), gated=gated) as served:
                send_all(numbers, seed, served, heard, met, tell)
        finally:
            shutil.rmtree(home, ignore_errors=True)
    return met


def send_all(
    numbers: range, seed: int, served: Served, heard: Tripped, met: Met, tell: Callable[[str], None]
) -> None:
    """Send the requests of some numbers to one server."""
    served.sign_in()
    known, paths = bodies(served), addresses(served)
    for number in numbers:
        rng = random.Random(f"{seed} request {number}")
        data = request(number, rng, served, known, paths)
        if case(number, data, served, met) == SIGNED_OUT:
            served.sign_in()
        met.bad += [f"request {number}, {data[:900]!r}: {told}" for told in heard.told]
        heard.told.clear()
        if number % 100 == 99:
            whole = b"GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
            case(number, whole, served, met, only=200)
        if number % 500 == 499:
            tell(f"{number + 1} requests, {len(met.bad)} bad, slowest {met.slowest:.1f} s")


def case(number: int, data: bytes, served: Served, met: Met, only: int = 0) -> int:
    """Send one request and weigh the answer; return its status."""
    began = time.monotonic()
    try:
        status, answer = send(data, served.port)
    except TimeoutError:
        status, answer = -1, b""
    met.note(str(status) if status > 0 else "closed" if status == 0 else "hangs", time.monotonic() - began)
    shown = f"request {number}: {data[:700]!r} -> {answer[:300]!r}"
    if status < 0 or (status >= 500 and status not in WIDE) or (only and status != only):
        met.bad.append(f"status {status}, {shown}")
    if b"Traceback (most recent call last)" in answer:
        met.bad.append(f"a traceback, {shown}")
    if status == 400 and b"Content-Type: application/json" in answer and not _has_words(answer):
        met.bad.append(f"400 without a sentence, {shown}")
    return status


def _has_words(answer: bytes) -> bool:
    try:
        told = json.loads(answer.rpartition(b"\r\n\r\n")[2])
    except ValueError:
        return False
    return isinstance(told, dict) and bool(told.get("words"))


class Tripped(logging.Handler):
    """Keeps what the server logs with a traceback: an odd request must not get that far."""

    def __init__(self) -> None:
        super().__init__()
        self.told: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep a record that has a traceback."""
        if record.exc_info:
            self.told.append(logging.Formatter().format(record))


@contextmanager
def listening() -> Iterator[Tripped]:
    """Hear all that is logged, and keep it from the terminal."""
    top, heard = logging.getLogger(), Tripped()
    before, top.handlers = top.handlers, [heard]
    try:
        yield heard
    finally:
        top.handlers = before


if __name__ == "__main__":
    found = run(int(sys.argv[1]), int(sys.argv[2]), print)
    print("\n\n".join(found.bad))
    print(found.outcomes)
