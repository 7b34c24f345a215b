"""The air's way through the engine as logs tell it, and whether some of it gets lost.

In reading order: `result` is what comes out; `assumptions` what is taken for granted; `doubt` how intervals arise;
`scene`, `states`, `flow` and `heat` read one pull, and `system` puts them together. `learning` and `meter` compare air
meter and speed-density. `map_file`, `compressor_map` and `operating_line` lay a pull over a compressor map. `leak` asks
whether duty rose for the same flow and boost, `drift` whether it creeps up from day to day. `scatter` holds what is
believed of each quantity beforehand, `before_after` gives its difference, and `comparing` puts all of it together.
"""

from pullproof.analysis.air_system.before_after import AirDifference, NotCompared
from pullproof.analysis.air_system.comparing import AirComparison, compare_air
from pullproof.analysis.air_system.compressor_map import CompressorMap, MapPosition, SpeedLine
from pullproof.analysis.air_system.drift import DutyDrift, duty_drift
from pullproof.analysis.air_system.fitted import Filling, Fitted, LossPoint, Tap
from pullproof.analysis.air_system.leak import LeakSuspicion, leak_suspicion
from pullproof.analysis.air_system.leak_size import LeakSize
from pullproof.analysis.air_system.learning import fitted_from, learn_volumetric_efficiency
from pullproof.analysis.air_system.map_file import load_compressor_map
from pullproof.analysis.air_system.meter import MeterCheck, meter_check
from pullproof.analysis.air_system.operating_line import OperatingLine, operating_line
from pullproof.analysis.air_system.result import REFERENCE, AirSystem, Curve, Missing, Peak
from pullproof.analysis.air_system.system import air_system

__all__ = [
    "REFERENCE",
    "AirComparison",
    "AirDifference",
    "AirSystem",
    "CompressorMap",
    "Curve",
    "DutyDrift",
    "Filling",
    "Fitted",
    "LeakSize",
    "LeakSuspicion",
    "LossPoint",
    "MapPosition",
    "MeterCheck",
    "Missing",
    "NotCompared",
    "OperatingLine",
    "Peak",
    "SpeedLine",
    "Tap",
    "air_system",
    "compare_air",
    "duty_drift",
    "fitted_from",
    "leak_suspicion",
    "learn_volumetric_efficiency",
    "load_compressor_map",
    "meter_check",
    "operating_line",
]
