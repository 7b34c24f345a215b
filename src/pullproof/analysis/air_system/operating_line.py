"""A pull laid over a compressor map: where the wheel runs, how well, and how far from its limits."""

from dataclasses import dataclass

import numpy as np

from pullproof.analysis.air_system.compressor_map import CHOKE, INSIDE, PLACES, SURGE, CompressorMap, MapPosition, Place
from pullproof.analysis.air_system.doubt import spread
from pullproof.analysis.air_system.result import AirSystem, Curve, Missing
from pullproof.analysis.air_system.scene import RPM, ZERO_CELSIUS
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer
from pullproof.physics import compressor

__all__ = ["OperatingLine", "operating_line"]

MAP_EFFICIENCY = 0.02
"""Half width of an efficiency that is read from a map: heat from the turbine side, and the next wheel of the same kind.
Common practice, no source. [1]"""

SPEED_DIFFERS = 0.05
"""A logged shaft speed further from the map's speed than this says that flow, pressure ratio or map is off. [1]"""


@dataclass(frozen=True, slots=True)
class OperatingLine:
    """A pull on a map; arrays and curves are over `rpm`, (m,). Plot `corrected_flow` against `pressure_ratio`."""

    map: CompressorMap
    rpm: Array
    corrected_flow: Curve
    """[g/s] In the map's own reference."""
    pressure_ratio: Curve
    places: tuple[Place, ...]
    """Where each point lies; only a point that is `inside` has numbers from the map."""
    corrected_speed: Curve | Missing
    """[rpm] That the map has at this flow and pressure ratio."""
    efficiency: Curve | Missing
    """[1] Of the map; the car's own is `AirSystem.isentropic_efficiency`."""
    surge_margin: Curve | Missing
    """[1] (flow - flow at which the same corrected speed surges) / flow."""
    choke_share: Curve | Missing
    """[1] Flow over the largest flow that the map shows at the same corrected speed."""
    doubts: tuple[str, ...]


def operating_line(system: AirSystem, compressor_map: CompressorMap) -> OperatingLine:
    """Lay a pull over a compressor map.

    Parameters
    ----------
    system : AirSystem
        From `air_system`.
    compressor_map : CompressorMap
        From `load_compressor_map`.

    Raises
    ------
    CannotAnswer
        Flow or pressure ratio is not known; the reason is the one that `air_system` gives.
    """
    flow = _known(system.corrected_flow_at(compressor_map.reference), system)
    ratio = _known(system.pressure_ratio, system)
    reader = _reader(compressor_map, flow, ratio)
    places = tuple(PLACES[index] for index in reader.found.place[0])
    efficiency = reader.curve("efficiency", "compressor efficiency of the map", "1", {})
    if isinstance(efficiency, Curve):
        efficiency = _in_doubt(efficiency)
    speed = reader.curve("speed", "corrected shaft speed of the map", "rpm", {})
    return OperatingLine(
        map=compressor_map,
        rpm=system.rpm,
        corrected_flow=flow,
        pressure_ratio=ratio,
        places=places,
        corrected_speed=speed,
        efficiency=efficiency,
        surge_margin=reader.curve("surge_margin", "surge margin", "1", {SURGE: 0.0}),
        choke_share=reader.curve("choke_share", "share of the largest flow", "1", {CHOKE: 1.0}),
        doubts=tuple(
            dict.fromkeys((*flow.doubts, *ratio.doubts, *_outside(places), *_speed_doubts(system, speed, reader)))
        ),
    )


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads one quantity after another along the same line.

    `found` holds the line itself, then the line with flow and with pressure ratio moved to the ends of their
    intervals: arrays (5, m).
    """

    map: CompressorMap
    rpm: Array
    found: MapPosition

    def curve(self, name: str, label: str, unit: str, at_the_limit: dict[int, float]) -> Curve | Missing:
        """A quantity of the map with its interval, which stops at the limits named: beyond them the map ends.

        Where the interval reaches beyond another limit, it is NaN: how far nobody can say.
        """
        inside = self.found.place[0] == INSIDE
        rows = np.asarray(getattr(self.found, name))
        value = rows[0]
        if not np.any(np.isfinite(value)):
            no_column = name == "efficiency" and not self.map.has_efficiency
            reason = "the map has no efficiencies" if no_column else "no point of the pull lies inside the map"
            return Missing(name, label, reason, "" if no_column else "Check that the map is that of the wheel fitted.")
        for place, limit in at_the_limit.items():
            rows = np.where(self.found.place == place, limit, rows)
        lower, upper = (
            np.where(inside, end, np.nan) for end in spread(value, [(rows[1], rows[2]), (rows[3], rows[4])])
        )
        open_ended = int(np.count_nonzero(inside & ~np.isfinite(lower)))
        doubts = (f"at {open_ended} engine speeds the interval reaches past the map, so none is given",)
        return Curve(name, label, unit, self.rpm, value, lower, upper, "computed", doubts if open_ended else ())


def _reader(mapped: CompressorMap, flow: Curve, ratio: Curve) -> _Reader:
    flows = np.stack([flow.value, flow.lower, flow.upper, flow.value, flow.value])
    ratios = np.stack([ratio.value, ratio.value, ratio.value, ratio.lower, ratio.upper])
    return _Reader(mapped, flow.rpm, mapped.locate(flows, ratios))


def _known(part: Curve | Missing, system: AirSystem) -> Curve:
    if isinstance(part, Missing):
        raise CannotAnswer(f"{part.label} is not known: {part.reason}", where=system.pull.log, advice=part.advice)
    return part


def _in_doubt(curve: Curve) -> Curve:
    """The map itself is in doubt, besides where on it the point lies."""
    less, more = (np.hypot(MAP_EFFICIENCY, curve.value - end) for end in (curve.lower, curve.upper))
    return Curve(
        curve.name, curve.label, curve.unit, curve.rpm, curve.value, curve.value - less, curve.value + more,
        curve.source, curve.doubts,
    )  # fmt: skip


def _outside(places: tuple[Place, ...]) -> list[str]:
    return [
        f"{places.count(place)} of {len(places)} points lie {place} of the map: nothing is read there"
        for place in dict.fromkeys(places)
        if place not in ("inside", "unknown")
    ]


def _speed_doubts(system: AirSystem, speed: Curve | Missing, reader: _Reader) -> list[str]:
    """A logged shaft speed is a witness: flow, pressure ratio and map have to agree with it."""
    warm = system.inlet_temperature
    if isinstance(system.turbo_speed, Missing) or isinstance(speed, Missing) or isinstance(warm, Missing):
        return []
    logged = compressor.corrected_speed(
        np.maximum(system.turbo_speed.value, 0.0) * RPM, warm.value + ZERO_CELSIUS, reader.map.reference
    )
    ratio = logged.value / RPM / speed.value
    if not np.any(np.isfinite(ratio)):
        return []
    off = float(np.nanmedian(ratio)) - 1.0
    if abs(off) <= SPEED_DIFFERS:
        return [f"the logged shaft speed agrees with the map within {100.0 * abs(off):.1f} %"]
    way = "above" if off > 0.0 else "below"
    said = f"the logged shaft speed is {100.0 * abs(off):.0f} % {way} the map's at this flow and pressure ratio"
    return [f"{said}: one of the three, or the map, is off"]
