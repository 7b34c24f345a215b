"""The invented pulls of the comparison's tests serve here too."""

from tests.analysis.comparison.conftest import car, pull, pulls

__all__ = ["car", "pull", "pulls"]
