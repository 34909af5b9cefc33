"""How kernels are compiled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numba
from numba.core.caching import FunctionCache

if TYPE_CHECKING:
    from collections.abc import Callable


def compiled(function: Callable[..., Any]) -> Any:  # noqa: ANN401 - numba has no types of its own
    """Return a function compiled to machine code when it is first called.

    Parameters
    ----------
    function : callable
        Of numbers and one-dimensional arrays.

    Returns
    -------
    callable
        What was compiled is kept beside the source, or where ``NUMBA_CACHE_DIR`` says; where neither can be written,
        as in a service that is installed read-only, it is compiled anew by each process (some seconds).
    """
    options: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract"}, "nogil": True}
    try:
        FunctionCache(function)  # type: ignore[no-untyped-call]
    except RuntimeError:  # no place to keep it
        return numba.njit(**options)(function)
    return numba.njit(cache=True, **options)(function)
