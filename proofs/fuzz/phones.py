"""Phones on a bad line: the real queue of the round page in node, a real server, and lost replies."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import dashboard
from proofs.crash import ON, made
from proofs.fuzz.requests import Served, listening

HERE = Path(__file__).parent
QUEUE = Path(dashboard.__file__).parent / "round" / "queue.js"


@dataclass(frozen=True, slots=True)
class Line:
    """What came of it: answers given, kept once, lost, doubled or refused; requests, and replies lost."""

    given: int
    kept: int
    missing: int
    doubled: int
    refused: int
    waiting: int
    requests: int
    replies_lost: int
    requests_lost: int
    faults: tuple[str, ...] = ()  #: What a fresh reader of the store finds wrong besides


def run(phones: int, answers: int, loss: float, seed: int, store: str = "folder") -> Line:
    """Let so many phones give so many answers each, while a share of the replies is lost.

    A third as many requests are lost on their way to the server besides. The building lies in a store of a
    kind of :data:`proofs.crash.STORES`.
    """
    node = shutil.which("node")
    if node is None:
        raise RuntimeError("node is not installed (20 or later)")
    home = Path(tempfile.mkdtemp(prefix="spread-phones-"))
    try:
        home.chmod(0o755)  # PostgreSQL is another user
        with made(store, home) as place, listening() as heard, Served(place.address) as served:
            told = subprocess.run(
                [node, str(HERE / "phones.mjs")], capture_output=True, text=True, timeout=600, check=True,
                env=os.environ | {
                    "PORT": str(served.port), "PHONES": str(phones), "ANSWERS": str(answers),
                    "LOSS": str(loss), "SEED": str(seed), "DAY": ON.isoformat(),
                    "UNITS": json.dumps(list(served.session.plan.units)), "QUEUE": QUEUE.as_uri(),
                },
            )  # fmt: skip
            served.session.wait()
            if heard.told:
                raise RuntimeError(heard.told[0])
            ends = json.loads(told.stdout)
            given = [one["id"] for phone in ends for one in phone["given"]]
            place.told |= set(given)
            times = Counter(place.kept())
            faults = place.faults()
        return Line(
            given=len(given),
            kept=sum(times[id_] == 1 for id_ in given),
            missing=sum(times[id_] == 0 for id_ in given),
            doubled=sum(count > 1 for count in times.values()) + len(times.keys() - set(given)),
            refused=sum(len(phone["refused"]) for phone in ends),
            waiting=sum(phone["waiting"] for phone in ends),
            requests=sum(phone["sent"] for phone in ends),
            replies_lost=sum(phone["lost"] for phone in ends),
            requests_lost=sum(phone["unsent"] for phone in ends),
            faults=tuple(faults),
        )
    finally:
        shutil.rmtree(home, ignore_errors=True)
