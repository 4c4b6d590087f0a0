"""How the functions of the sampler are compiled, kept on disk, and free of the interpreter lock.

A function that Python calls needs a wrapper that takes every array out of its tuples; compiling that is a
good part of a first fit, so only what is called from Python has one, and none has one for C.
"""

from __future__ import annotations

from typing import Any

CALLED: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True}
"""Options of a function that Python calls as well."""
INNER: dict[str, Any] = CALLED | {"no_cpython_wrapper": True}
"""Options of one that only compiled functions call: from Python it cannot be called."""
BARE: dict[str, Any] = {"_nrt": False}
"""Further option of one that makes no array: it need not count references to those it is given, which takes
as long as a good part of a unit's turn."""
