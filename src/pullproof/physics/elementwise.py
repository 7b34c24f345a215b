"""Element by element: solve one monotonic equation, or call a function that knows single numbers only."""

from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import elementwise

from pullproof.arrays import Array, Numbers

__all__ = ["bracketed_root", "each"]


def bracketed_root(function: Callable[..., Array], low: Numbers, high: Numbers, *arguments: Numbers) -> Array:
    """Root of a monotonic function between two bounds, element by element.

    Parameters
    ----------
    function : callable
        `function(x, *arguments)`, elementwise and monotonic in x.
    low, high : broadcastable
        Bounds, in the unit of the root.
    arguments : broadcastable
        Further arguments.

    Returns
    -------
    broadcast shape
        Root, to machine precision. NaN where there is none between the bounds, or an argument is NaN.

    Range: any.
    Source: Chandrupatla's bracketing method, `scipy.optimize.elementwise.find_root`.
    """
    find_root: Any = elementwise.find_root
    found = find_root(function, (low, high), args=arguments)
    return np.where(found.success, found.x, np.nan)[()]


def each(function: Callable[..., float], *arguments: Numbers) -> Array:
    """Call a function of single numbers for every element of the arguments.

    Parameters
    ----------
    function : callable
        Takes and returns single numbers, as the functions of `fluids` do.
    arguments : broadcastable
        Its arguments.

    Returns
    -------
    broadcast shape
        Results. NaN where an argument is NaN.

    Range: any.
    Source: a loop.
    """

    def guarded(*values: float) -> float:
        return float("nan") if any(np.isnan(values)) else float(function(*values))

    vectorised: Any = np.vectorize(guarded, otypes=[np.float64])
    return np.asarray(vectorised(*arguments))[()]
