"""The air's way through the engine as logs tell it, and whether some of it gets lost."""

from pullproof.analysis.air_system.fitted import Filling, Fitted, LossPoint, Tap
from pullproof.analysis.air_system.result import REFERENCE, AirSystem, Curve, Missing, Peak
from pullproof.analysis.air_system.system import air_system

__all__ = ["REFERENCE", "AirSystem", "Curve", "Filling", "Fitted", "LossPoint", "Missing", "Peak", "Tap", "air_system"]
