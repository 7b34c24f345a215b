"""The fixed words of the report."""

__all__ = ["ABOUT", "DEFINITIONS", "LIMITS", "REASONS_DATA", "REASONS_POWER", "REASONS_WEATHER", "REASONS_WIDTH"]

ABOUT = """
Turbocharged cars are simulated, logged as real loggers log, changed in a known way or not at all, and handed to the
analysis, which knows nothing of the simulation. The simulation shares no code and no assumption with the analysis:
filter, compressor with an efficiency island, pipes with loss and volume, cooler with heat soak, throttle, cylinders
with knock-limited ignition, turbine, wastegate, shaft, a boost controller whose duty is an outcome, vehicle, driver,
road and wind. Every car has its own scatter between runs and between days; on a third of them the runs have heavy
tails. Weather runs from -10 to 38 degC and from sea level to 1500 m.

A figure outside its target by more than two Monte Carlo errors carries the word **missed**.
Seeds for development and for this page are kept apart; the cars below were never used to mend the model.
"""

DEFINITIONS = """
## What is meant

- **Truth**: the simulator is run once with the car before and once with the car after the change, in the mean
  conditions of all the pulls compared (air, start, heat, grade, wind), with no day effect, no run effect, no gust and
  no noise. Truth is the measure after less the measure before, over the window that the comparison used. Boost
  achieved counts among the conditions, as in the contract: every measure but boost itself is taken at equal mean
  boost; where the gate is shut and boost cannot move, that truth does not exist and the comparison does not count.
  Where nothing was changed the truth is zero.
- **Like weather**: the sets differ by about 3 K or less. **Unlike**: by 8 K or more.
- **Oracle**: knows this car's scatter between runs and between days, of the measure as its logger shows it, from
  36 repeats on 12 days, and knows the effect of the weather exactly. Its interval is the normal one of generalised
  least squares for the same design. Nobody who has to learn the scatter from the pulls at hand can be as narrow.
- **± figures** are one Monte Carlo standard error, taken between cars.
- Pooled tables leave out measures that the analysis itself calls censored, and the changes named in
  "Changes that alter what is held equal".
"""

LIMITS = """
## What this cannot show

- The simulated scatter is what the trade calls usual (common practice, no source). A real car may scatter more, in
  ways nobody has thought of: a loose sensor, a sticking actuator, a different driver.
- Logs are handed over as in-memory objects in the large trial and through real files in the trial of reading.
- A car whose simulation runs away takes its chunk of four cars out of the trial; the run names it.
- Nothing here says that an engine is safe. Full-load pulls belong on a closed course or a dynamometer, with a second
  person minding the screen; stop on knock, lean mixture or over-temperature.
"""

REASONS_WIDTH = """**Width in like weather.** The oracle knows this car's scatter. Somebody who knows how cars
scatter, and nothing yet of this one, has to be wider. Cars differ in it by a standard deviation of {spread:.2f} of its
natural logarithm (median measure). Then an interval that holds the truth 95 times in 100 cannot be narrower on average
than this many times the oracle's, weather and all else known: {bounds} degrees of
freedom for the scatter at hand. One pull a side has none, three a side on one day have four, and the scatter between
days has one or none in most designs. The rest is the doubt in what was recorded to differ: starts, heat, boost
achieved, the place in the session.
Where single measures lie clearly outside 93 to 97 % they lie above: their intervals could be narrower.
"""

REASONS_WEATHER = """
**Width in unlike weather.** The oracle knows what the weather does to this car. Nobody else does: in the simulation
10 K of warmer air moves peak duty by between -2 and +4 points from car to car, at equal boost, and ignition and knock
by what the fuel and the control unit make of it. That doubt stays however many pulls are made on the same two days,
and it is most of the interval in the designs with many pulls.
"""

REASONS_POWER = """
**Power for 1.5 points of peak duty.** With three pulls a side on one day the standard error is 0.82 times the scatter
between runs. An answer that is clear four times in five then needs a car that scatters by 0.66 points at the most,
and the oracle's knowledge of it. Six pulls alone do not tell a calm car from a usual one, and what the session's heat,
the starts and the boost achieved may have done adds to the interval. For effects of 1 to 2 points:

"""

REASONS_DATA = """

**What would reach it.** Ten to twenty earlier pulls with nothing changed, on four or more days in different weather,
as a season in the library holds them: they give the ten and more degrees of freedom of the list above, and the car's
own answer to the weather. On one day, six pulls a side instead of three. The plan command says it for a given car.
"""
