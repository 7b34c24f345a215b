"""Solve one monotonic equation for every element of an array."""

from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import elementwise

from pullproof.arrays import Array, Numbers

__all__ = ["bracketed_root"]


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
