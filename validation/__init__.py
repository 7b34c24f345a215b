"""The trial ground: simulated cars whose truth is known, against which every interval of the package is held.

Nothing in here is part of the installed package, and the simulation shares no code and no assumption with the
analysis it tries. Reading order: `air` and `cars` say what is simulated, `simulate` how, `scatter` and `changes`
what differs between pulls, `loggers` what a logger makes of it, `truth` what the right answer is, `designs` which
comparisons are drawn, `runner` and `statistics` how the answers are judged, `report` what is printed.
"""
