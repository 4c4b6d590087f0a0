"""1 - exp(-u) without a branch, so that a loop over weeks or events is done several at a time.

The exponential of the C library is a call, which no compiler does four at a time. Here the argument is split
into ``k ln 2 + r``; the series of ``exp(-r) - 1`` to the twelfth power is cut below the last digit, and the
power of two is written as bits. Nothing is lost near zero, where most hazards are.
"""

from __future__ import annotations

from typing import Any

import numba as nb
from llvmlite import ir
from numba.extending import intrinsic

from spread.posterior.compiling import CALLED

SMALL = 0.34657359027997264
"""Half of ln 2: below this no power of two is taken out."""
LITTLE = 0.15
"""Up to here a short series is as good (:func:`lost_little`)."""
_LARGEST = (
    700.0  # exp(-700) is the last power of two that can be written as bits; nothing is left of it anyway
)
_PER_LN2 = 1.4426950408889634
_LN2, _LN2_REST = 0.693147180369123816490, 1.90821492927058770002e-10
_ROUND = 6755399441055744.0  # 1.5 x 2**52: added to a number, it leaves the nearest whole in the lowest bits
_ROUND_BITS = 0x4338000000000000
_ONE_EXPONENT = 1023


@intrinsic
def _bits(_context: Any, value: Any) -> Any:
    """Return the bits of a float as a whole number."""
    return nb.int64(nb.float64), lambda _, builder, __, args: builder.bitcast(args[0], ir.IntType(64))


@intrinsic
def _float(_context: Any, value: Any) -> Any:
    """Return the float that has these bits."""
    return nb.float64(nb.int64), lambda _, builder, __, args: builder.bitcast(args[0], ir.DoubleType())


@nb.njit(**CALLED, fastmath={"contract"})
def lost(u: float) -> float:
    """Return 1 - exp(-u) for u >= 0, without loss of digits near zero."""
    u = min(u, _LARGEST)
    shifted = u * _PER_LN2 + _ROUND
    whole = shifted - _ROUND
    power = _float((_ONE_EXPONENT + _ROUND_BITS - _bits(shifted)) << 52)
    r = (u - whole * _LN2) - whole * _LN2_REST
    # The series in three parts that need not wait for one another.
    r2 = r * r
    r4 = r2 * r2
    low = (1.0 - r * (1.0 / 2.0)) + r2 * (1.0 / 6.0 - r * (1.0 / 24.0))
    middle = (1.0 / 120.0 - r * (1.0 / 720.0)) + r2 * (1.0 / 5040.0 - r * (1.0 / 40320.0))
    high = (1.0 / 362880.0 - r * (1.0 / 3628800.0)) + r2 * (1.0 / 39916800.0 - r * (1.0 / 479001600.0))
    inner = r * (low + r4 * middle + r4 * r4 * high)  # 1 - exp(-r)
    return (1.0 - power) + power * inner


@nb.njit(**CALLED, fastmath={"contract"})
def lost_little(u: float) -> float:
    """Return the same for u from 0 to :data:`LITTLE`, in half the time."""
    u2 = u * u
    u4 = u2 * u2
    low = (1.0 - u * (1.0 / 2.0)) + u2 * (1.0 / 6.0 - u * (1.0 / 24.0))
    high = (1.0 / 120.0 - u * (1.0 / 720.0)) + u2 * (1.0 / 5040.0 - u * (1.0 / 40320.0))
    return u * (low + u4 * (high + u4 * (1.0 / 362880.0)))
