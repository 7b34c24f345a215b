"""The factor of a standard for compression ignition, which needs more than the air: fuel per cycle and boost.

A diesel's fuel is metered, not its air, so thin air costs it power only as far as the fuel no longer burns well: the
atmospheric factor is raised to an engine factor that grows with the fuel per cycle over the boost ratio.
"""

from collections.abc import Callable

from pullproof.car import Car
from pullproof.errors import CannotAnswer
from pullproof.physics import corrections

__all__ = ["diesel_factor", "diesel_warnings"]

LIQUID: corrections.Induction = "turbocharged, liquid-cooled charge air"


def diesel_factor(name: str, car: Car, boost_ratio: float | None) -> Callable[[float, float], corrections.Correction]:
    """The formula with this engine's fuel, boost and cooling in it; ISO 1585 and SAE J1349 print the same one.

    Parameters
    ----------
    name : str
        Of the standard, for the message.
    car : Car
        `fuel_mg_per_l`, `aspiration`, `charge_cooling` and `boost_ratio` are used.
    boost_ratio : float, optional
        As logged; it goes before that of the car sheet. [1]

    Raises
    ------
    CannotAnswer
        The fuel per cycle, or how the engine is charged, is not known.
    """
    engine = car.engine
    if engine.fuel_mg_per_l is None:
        raise CannotAnswer(
            f"{name} corrects a diesel by the fuel burnt per cycle at full load, which the log does not give: add "
            "fuel_mg_per_l under [engine] of the car sheet, in mg per litre of displacement and working cycle, that is "
            "120000 times the fuel flow in g/s over displacement in l times engine speed in rpm"
        )
    if engine.aspiration is None:
        raise CannotAnswer(
            f'{name} corrects a diesel by how it is charged: add aspiration = "turbo" or "none" under [engine]'
        )
    ratio = 1.0 if engine.aspiration == "none" else boost_ratio or engine.boost_ratio
    if ratio is None:
        raise CannotAnswer(
            f"{name} corrects a diesel by its boost, and neither a log shows charge pressure with the air pressure nor "
            "the car sheet says boost_ratio under [engine]: absolute charge pressure over ambient pressure at full load"
        )
    charged: corrections.Induction = LIQUID if engine.charge_cooling == "liquid" else "turbocharged"
    induction: corrections.Induction = "naturally aspirated" if engine.aspiration == "none" else charged
    fuel = 1e-3 * engine.fuel_mg_per_l

    def factor(dry_pressure: float, kelvin: float) -> corrections.Correction:
        return corrections.iso_1585_compression_ignition(
            dry_pressure, kelvin, fuel, max(ratio, 1.0), induction=induction, edition="iso-1585"
        )

    return factor


def diesel_warnings(name: str, car: Car) -> tuple[str, ...]:
    """What to bear in mind of a diesel's factor."""
    lines = ["the factor of a diesel rests on the fuel per cycle of the car sheet; its formula is cited from memory"]
    if car.engine.aspiration == "turbo" and car.engine.charge_cooling is None:
        lines.append(
            'charge air is taken to be cooled by air or not at all: add charge_cooling = "liquid" if it is not'
        )
    if name == "SAE J1349":
        lines.append(
            "the committee behind SAE J1349 says of its diesel factors that they no longer suit most diesels with "
            "present control systems"
        )
    return tuple(lines)
