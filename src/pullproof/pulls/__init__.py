"""Find full-load runs through the revs, judge each, and give the reason.

In reading order: `drive` gathers what the log says of engine and road; `full_load` finds where the driver asks
for all there is; `revs` cuts that into runs of rising engine speed; `gearing` compares engine with road speed;
`judge` says whether a run may be used; `find` strings these together.
"""

from pullproof.pulls.find import find_pulls
from pullproof.pulls.pull import Pull

__all__ = ["Pull", "find_pulls"]
