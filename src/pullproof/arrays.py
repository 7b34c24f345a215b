"""The one array type that the package passes around."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["Array", "Numbers"]

Array: TypeAlias = NDArray[np.float64]
"""Double precision values; shape and unit stand in the docstring that uses it."""

Numbers: TypeAlias = float | Array
"""What physics functions take: one number or an array of them, broadcast as numpy does."""
