"""Power that the tyres deliver to the road plus what goes into the rotating parts, through one pull.

`(m_eff a + rolling + drag + grade) v`. In reading order: `motion` makes speed and acceleration from engine or road
speed; `road` finds the slope of the road; `given` gathers the numbers of car and air with their doubts; `power` puts
them together.
"""

from pullproof.tractive_power.given import Given
from pullproof.tractive_power.power import TractivePower, tractive_power, wheel_power_trace

__all__ = ["Given", "TractivePower", "tractive_power", "wheel_power_trace"]
