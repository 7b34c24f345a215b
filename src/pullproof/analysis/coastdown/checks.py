"""The conditions that SAE J1263 and ISO 10521-1 set for a coast-down, as far as a log can tell.

Limits of [SAE J1263] are those of its 2010 edition as summarised in public; those marked so are from memory.
[ISO 10521-1] is within them or wider (from memory: wind below 5 m/s, slope below 1 %, air at 1 to 35 degC).
"""

from collections.abc import Sequence

from pullproof.analysis.coastdown.fit import Fit
from pullproof.analysis.coastdown.result import ConditionCheck
from pullproof.analysis.coastdown.runs import Run

__all__ = ["condition_checks"]

TEMPERATURE_C = (5.0, 35.0)
WIND_M_S = 16.0 / 3.6
GRADIENT = 0.005
RUNS_EACH_WAY = 5
SPEED_RANGE_KMH = (15.0, 115.0)

_J1263 = "SAE J1263"


def condition_checks(
    runs: Sequence[Run], ways: Sequence[int], fit: Fit, temperature_c: float | None
) -> tuple[ConditionCheck, ...]:
    """Every condition with what was found.

    Parameters
    ----------
    runs : sequence of Run
        Used ones.
    ways : sequence of int
        Of each run, 1 out, -1 back.
    fit : Fit
        What was fitted.
    temperature_c : float or None
        Of the ambient air. [degC]
    """
    out, back = sum(way > 0 for way in ways), sum(way < 0 for way in ways)
    lowest = max(3.6 * float(run.speed[-1]) for run in runs)
    highest = min(3.6 * float(run.speed[0]) for run in runs)
    checks = [
        _check("directions", out > 0 and back > 0, f"{out} runs out and {back} back", _J1263),
        _check(
            "number of runs",
            min(out, back) >= RUNS_EACH_WAY,
            f"{out} out and {back} back, {RUNS_EACH_WAY} each way wanted",
            f"{_J1263}, from memory",
        ),
        _check(
            "speed range",
            lowest <= SPEED_RANGE_KMH[0] and highest >= SPEED_RANGE_KMH[1],
            f"every run covers {highest:.0f} to {lowest:.0f} km/h, {SPEED_RANGE_KMH[1]:.0f} to "
            f"{SPEED_RANGE_KMH[0]:.0f} wanted",
            "SAE J2263",
        ),
    ]
    checks.append(
        ConditionCheck("air temperature", "not known", "neither conditions nor log tell", _J1263)
        if temperature_c is None
        else _check(
            "air temperature",
            TEMPERATURE_C[0] <= temperature_c <= TEMPERATURE_C[1],
            f"{temperature_c:.0f} degC, {TEMPERATURE_C[0]:.0f} to {TEMPERATURE_C[1]:.0f} wanted",
            _J1263,
        )
    )
    if not (out and back):
        one_way = "cannot be told from runs in one direction"
        checks += [ConditionCheck(name, "not known", one_way, _J1263) for name in ("wind", "gradient")]
    else:
        checks += [
            _check(
                "wind",
                abs(fit.wind) <= WIND_M_S,
                f"{abs(fit.wind):.1f} m/s along the road, {WIND_M_S:.1f} allowed; across the road not measured",
                _J1263,
            ),
            _check(
                "gradient",
                abs(fit.gradient) <= GRADIENT,
                f"{100 * abs(fit.gradient):.2f} % of slope, {100 * GRADIENT:.1f} allowed",
                _J1263,
            ),
        ]
    checks.append(
        ConditionCheck(
            "road and car",
            "not known",
            "dry, clean, straight road; car and tyres warm, tyres at their pressure, windows shut",
            _J1263,
        )
    )
    return tuple(checks)


def _check(name: str, holds: bool, detail: str, source: str) -> ConditionCheck:
    return ConditionCheck(name, "pass" if holds else "fail", detail, source)
