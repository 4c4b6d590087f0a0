"""Numbers of the trade as arrays; apart from :mod:`spread.trade.sources`, which every command loads."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from spread.trade.sources import Sourced

FloatArray = npt.NDArray[np.float64]


def centrals(values: Iterable[Sourced]) -> FloatArray:
    """Return the central values as a new array, shape (number of values,)."""
    return np.array([value.central for value in values], dtype=np.float64)
