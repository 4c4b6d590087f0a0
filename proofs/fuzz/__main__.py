"""Run the whole number: ``python -m proofs.fuzz --files 10000 --requests 5000 --phones 30``."""

from __future__ import annotations

import argparse
import functools
import sys
import time
from dataclasses import asdict

from proofs.crash import STORES
from proofs.fuzz import files, phones, requests
from proofs.fuzz.files import Met

tell = functools.partial(print, flush=True)


def main() -> int:
    """Run what is asked for; return 1 where anything was met that must not be."""
    parser = argparse.ArgumentParser(prog="python -m proofs.fuzz", description=__doc__)
    parser.add_argument("--files", type=int, default=0, help="changed files of a building")
    parser.add_argument("--requests", type=int, default=0, help="changed requests to every address")
    parser.add_argument("--phones", type=int, default=0, help="phones that give twenty answers each")
    parser.add_argument("--store", nargs="+", choices=STORES, default=STORES, help="of the phones' building")
    parser.add_argument("--loss", type=float, default=0.3, help="share of the replies that are lost")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    bad = 0
    for name, count, run in (("files", asked.files, files.run), ("requests", asked.requests, requests.run)):
        if count:
            began = time.monotonic()
            met = run(count, asked.seed, tell)
            report(name, count, met, time.monotonic() - began)
            bad += len(met.bad)
    if asked.phones:
        for store in asked.store:
            line = phones.run(asked.phones, 20, asked.loss, asked.seed, store)
            tell(f"phones, {store}:", asdict(line))
            bad += line.missing + line.doubled + line.refused + line.waiting + len(line.faults)
    return bool(bad)


def report(name: str, count: int, met: Met, seconds: float) -> None:
    """Say what a run has met."""
    tell(f"{count} {name} in {seconds:.0f} s, slowest {met.slowest:.1f} s, bad {len(met.bad)}")
    for outcome, times in sorted(met.outcomes.items()):
        tell(f"  {times:6d}  {outcome}")
    for one in met.bad[:20]:
        tell(f"\n{one}")


if __name__ == "__main__":
    sys.exit(main())
