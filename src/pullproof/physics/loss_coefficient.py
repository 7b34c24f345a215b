"""Velocity heads lost, with the area that they belong to and the doubt that they carry."""

from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import positive
from pullproof.physics.sections import round_bore

__all__ = ["FITTING_DOUBT", "LossCoefficient", "fitting", "in_series"]

FITTING_DOUBT = 0.15
"""Relative standard uncertainty of a handbook coefficient [1]: 30 % for 95 % [common practice, no source]."""


@dataclass(frozen=True, slots=True)
class LossCoefficient:
    """Velocity heads lost, on one named area.

    Attributes
    ----------
    value : Array
        Loss of total pressure over rho V^2/2. [1]
    area : Array
        The area that V belongs to. [m2]
    doubt : Array
        Relative standard uncertainty of the value. [1]
    """

    value: Array
    area: Array
    doubt: Array

    def on(self, area: Numbers) -> "LossCoefficient":
        """The same loss in velocity heads of another area.

        Parameters
        ----------
        area : broadcastable
            New basis. [m2]
        """
        basis = positive("area", area)
        return LossCoefficient(self.value * (basis / self.area) ** 2, basis, self.doubt)


def in_series(first: LossCoefficient, *others: LossCoefficient) -> LossCoefficient:
    """Sum of coefficients on the area of the first; their doubts are taken to err together.

    Parameters
    ----------
    first, others : LossCoefficient
        Coefficients on any areas.

    Returns
    -------
    LossCoefficient
        On the area of `first`.

    Range: elements far enough apart not to disturb one another.
    Source: [Crane TP-410] eq. (2-12) for the change of basis.
    """
    parts = [first, *(other.on(first.area) for other in others)]
    total = sum((part.value for part in parts), start=np.zeros(()))
    spread = sum((part.value * part.doubt for part in parts), start=np.zeros(()))
    return LossCoefficient(total, first.area, spread / np.where(total > 0.0, total, 1.0))


def fitting(value: Numbers, diameter: Numbers, doubt: Numbers = FITTING_DOUBT) -> LossCoefficient:
    """A coefficient on a round bore."""
    area = round_bore(diameter).area
    return LossCoefficient(np.where(np.isnan(area), np.nan, value)[()], area, np.asarray(doubt, dtype=np.float64))
