"""How functions are compiled that only read and write arrays which a run lends them.

Numba counts, at every call, who holds each array of the arguments. Inside a run that took a third of the
time: a visit hands on some twenty arrays. A function that makes no array and returns none needs no count,
for its caller holds them all.
"""

from __future__ import annotations

from numba.core.options import DefaultOptions

COMPILED = {"cache": True, "nogil": True, "error_model": "numpy"}
#: Numba's own functions use this option; where a release has it no more, the counts are kept.
BORROWS = {**COMPILED, **({"_nrt": False} if hasattr(DefaultOptions, "_nrt") else {})}
