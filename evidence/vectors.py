"""Simulated vectors as they are kept: ``evidence/vectors.npz``, by ``evidence.posterior --pack``.

``evidence.posterior`` reads such a file as one of ``evidence.fit``: nobody has to simulate them again. The
first vector is kept to the last digit, so that code which simulates it otherwise is refused.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from evidence.targets import load


def pack(header: dict[str, Any], rows: Sequence[dict[str, Any]], out: Path) -> None:
    """Write vectors, means and deviations of their summaries, and where they are from."""
    keys = list(rows[0]["summaries"])
    table = np.array([[row["summaries"][key] for key in keys] for row in rows], dtype=np.float32)
    luck = [key for k, key in enumerate(keys) if np.any(table[:, k, 1])]
    told = {**header, "first": rows[0], "keys": keys, "with_luck": luck}
    np.savez_compressed(
        out,
        header=np.array(json.dumps(told)),
        u=np.array([row["u"] for row in rows], dtype=np.float32),
        mean=table[:, :, 0],
        sd=table[:, [keys.index(key) for key in luck], 1],
    )


def unpacked(place: Path) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return header and rows of a file, the likelihood of each figure worked out again."""
    with np.load(place) as kept:
        header, u, mean, sd = json.loads(str(kept["header"])), kept["u"], kept["mean"], kept["sd"]
    whole = dict.fromkeys(header["keys"], np.zeros(len(u)))
    whole.update(zip(header["with_luck"], sd.T.astype(float), strict=True))
    both = {key: (mean[:, k].astype(float), whole[key]) for k, key in enumerate(header["keys"])}
    likely = {t.key: t.logliks(*both[t.key]) for t in load() if t.key in both}
    rows = [
        {
            "u": u[k].astype(float).tolist(),
            "summaries": {key: [float(m[k]), float(s[k])] for key, (m, s) in both.items()},
            "loglik": {key: float(values[k]) for key, values in likely.items()},
        }
        for k in range(len(u))
    ]
    return header, rows
