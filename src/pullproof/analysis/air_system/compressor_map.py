"""A compressor map between its speed lines: where a point lies, how efficient the wheel is, how far to the limits.

A speed line runs from its lowest flow, where the wheel surges, to its highest, where the map ends. Places on a line are
counted from 0 to 1 between the two. Between two lines every place is mixed by speed, which is exact on the lines and at
the points they are made of. To place a point, the speed is sought at which a line passes through it. Outside the lines
nothing is said: which limit was passed, and no number.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from pullproof.arrays import Array, Numbers
from pullproof.errors import WrongUse
from pullproof.physics.compressor import ReferenceState
from pullproof.physics.elementwise import bracketed_root

__all__ = ["CompressorMap", "MapPosition", "Place", "SpeedLine"]

Place = Literal[
    "inside", "left of the surge line", "beyond the end of the speed lines", "above the fastest line",
    "below the slowest line", "unknown",
]  # fmt: skip

INSIDE, SURGE, CHOKE, FAST, SLOW, UNKNOWN = range(6)
PLACES: tuple[Place, ...] = (
    "inside", "left of the surge line", "beyond the end of the speed lines", "above the fastest line",
    "below the slowest line", "unknown",
)  # fmt: skip

CHECKED = 41
"""Places and steps between lines at which a map is checked for folds."""
ON_THE_LINE = 1e-9
"""A point that is this near to a limit, as a share of it, is on it: rounding must not put a node outside."""


@dataclass(frozen=True, slots=True)
class SpeedLine:
    """One line of equal corrected speed; arrays are (k,), flow rising. The lowest flow is the surge limit."""

    speed: float
    """Corrected shaft speed. [rpm]"""
    flow: Array
    """Corrected flow. [g/s]"""
    pressure_ratio: Array
    efficiency: Array
    """Isentropic. [1] NaN throughout where the map has none."""
    _through: Mapping[str, Callable[[Array], Array]] = field(init=False, repr=False, compare=False)
    """Pressure ratio and efficiency over places: through every point, and never beyond two neighbours."""

    def __post_init__(self) -> None:
        known = {name: getattr(self, name) for name in ("pressure_ratio", "efficiency")}
        through = {
            name: PchipInterpolator(self.along, values) for name, values in known.items() if np.isfinite(values).all()
        }
        object.__setattr__(self, "_through", MappingProxyType(through))

    def at(self, quantity: str, place: Array) -> Array:
        """`pressure_ratio` or `efficiency` at places along the line, 0 at surge and 1 at the end; NaN without data."""
        if quantity not in self._through:
            return np.full(np.shape(place), np.nan)
        return np.asarray(self._through[quantity](place))

    @property
    def along(self) -> Array:
        """How far along the line each point lies, 0 at surge and 1 at the end. [1]"""
        return np.asarray((self.flow - self.flow[0]) / (self.flow[-1] - self.flow[0]))


@dataclass(frozen=True, slots=True)
class MapPosition:
    """Where points lie on a map; arrays have the shape of the points, NaN where the map says nothing."""

    place: NDArray[np.intp]
    """Index into `pullproof.analysis.air_system.compressor_map.PLACES`; 0 is inside."""
    speed: Array
    """Corrected shaft speed. [rpm]"""
    efficiency: Array
    """[1]"""
    surge_margin: Array
    """Flow above that at which the same corrected speed surges, as a share of the flow. [1]"""
    choke_share: Array
    """Flow over the largest flow of the same corrected speed. [1]"""

    @property
    def places(self) -> tuple[Place, ...]:
        """Where each point lies, in words."""
        return tuple(PLACES[index] for index in np.ravel(self.place))


@dataclass(frozen=True, slots=True)
class CompressorMap:
    """Speed lines of one wheel, slowest first, referred to one state.

    Raises
    ------
    WrongUse
        The lines fold or cross, so that one point would lie at two speeds.
    """

    name: str
    reference: ReferenceState
    lines: tuple[SpeedLine, ...]
    origin: str = ""
    """Who measured or invented it."""
    file: str = ""

    def __post_init__(self) -> None:
        if len(self.lines) < 2:
            raise WrongUse("a map needs two speed lines or more", where=self.file, advice="Add the missing lines.")
        for slow, fast in zip(self.lines, self.lines[1:], strict=False):
            _check_neighbours(slow, fast, self.file)

    @property
    def has_efficiency(self) -> bool:
        """Whether the map tells efficiencies."""
        return all(np.isfinite(line.efficiency).all() for line in self.lines)

    @property
    def surge_line(self) -> tuple[Array, Array]:
        """Corrected flow [g/s] and pressure ratio of the surge limit, slowest line first; both (lines,)."""
        return _ends(self, 0)

    @property
    def end_line(self) -> tuple[Array, Array]:
        """Corrected flow [g/s] and pressure ratio where the speed lines end, slowest line first; both (lines,)."""
        return _ends(self, -1)

    def point(self, speed: Numbers, place: Numbers) -> tuple[Array, Array]:
        """Corrected flow [g/s] and pressure ratio at corrected speeds [rpm] and places along the line, 0 to 1.

        NaN outside the map.
        """
        surge, end = (self._limit(speed, which) for which in (0, -1))
        inside = (np.asarray(place) >= 0.0) & (np.asarray(place) <= 1.0)
        flow = np.where(inside, surge + place * (end - surge), np.nan)
        return flow, np.where(inside, self._mixed("pressure_ratio", speed, place), np.nan)

    def locate(self, corrected_flow: Numbers, pressure_ratio: Numbers) -> MapPosition:
        """Where points lie.

        Parameters
        ----------
        corrected_flow : broadcastable
            Referred to the map's own `reference`. [g/s]
        pressure_ratio : broadcastable
            [1]
        """
        flow, ratio = np.broadcast_arrays(
            np.asarray(corrected_flow, dtype=np.float64), np.asarray(pressure_ratio, dtype=np.float64)
        )
        slowest, fastest = self._reach(flow)
        place = self._place(flow, ratio, slowest, fastest)

        def excess(speed: Array, flow: Array, ratio: Array) -> Array:
            return self._ratio_at(speed, flow) - ratio

        speed = bracketed_root(excess, slowest, fastest, flow, ratio)
        # On a limiting line rounding can leave both ends on one side; the nearer end is the answer there.
        ends = np.stack([slowest, fastest])
        off = np.abs(np.stack([excess(end, flow, ratio) for end in ends]))
        nearer = np.where(off[0] <= off[1], ends[0], ends[1])
        speed = np.where(place == INSIDE, np.where(np.isfinite(speed), speed, nearer), np.nan)
        surge, end = (self._limit(speed, which) for which in (0, -1))
        along = np.clip((flow - surge) / (end - surge), 0.0, 1.0)
        return MapPosition(
            place=place,
            speed=speed,
            efficiency=self._mixed("efficiency", speed, along),
            surge_margin=(flow - surge) / flow,
            choke_share=flow / end,
        )

    @property
    def _speeds(self) -> Array:
        return np.array([line.speed for line in self.lines])

    def _limit(self, speed: Numbers, which: int) -> Array:
        """Lowest (0) or highest (-1) flow of the line of a speed. [g/s]"""
        flow, _ = _ends(self, which)
        return np.asarray(np.interp(speed, self._speeds, flow, left=np.nan, right=np.nan))

    def _reach(self, flow: Array) -> tuple[Array, Array]:
        """Slowest and fastest speed whose line passes a flow. [rpm] NaN where none does."""
        speeds = self._speeds
        surge, end = (_ends(self, which)[0] for which in (0, -1))
        slowest = np.interp(flow, end, speeds, left=speeds[0], right=np.nan)
        fastest = np.interp(flow, surge, speeds, left=np.nan, right=speeds[-1])
        return slowest, fastest

    def _place(self, flow: Array, ratio: Array, slowest: Array, fastest: Array) -> NDArray[np.intp]:
        (surge, surge_ratio), (end, end_ratio) = self.surge_line, self.end_line
        low, high = (self._ratio_at(speed, flow) for speed in (slowest, fastest))
        under, over = ratio < low * (1.0 - ON_THE_LINE), ratio > high * (1.0 + ON_THE_LINE)
        found = np.full(flow.shape, INSIDE, dtype=np.intp)
        found = np.where(under, np.where(flow > end[0], CHOKE, SLOW), found)
        found = np.where(over, np.where(flow < surge[-1], SURGE, FAST), found)
        found = np.where(flow < surge[0], np.where(ratio < surge_ratio[0], SLOW, SURGE), found)
        found = np.where(flow > end[-1], np.where(ratio > end_ratio[-1], FAST, CHOKE), found)
        return np.where(np.isfinite(flow) & np.isfinite(ratio), found, UNKNOWN)

    def _ratio_at(self, speed: Array, flow: Array) -> Array:
        """Pressure ratio of the line of a speed, at a flow."""
        surge, end = (self._limit(speed, which) for which in (0, -1))
        return self._mixed("pressure_ratio", speed, np.clip((flow - surge) / (end - surge), 0.0, 1.0))

    def _mixed(self, quantity: str, speed: Numbers, place: Numbers) -> Array:
        """A quantity at a place along the line of a speed, mixed from the lines to both sides."""
        speeds = self._speeds
        speed, place = np.broadcast_arrays(np.asarray(speed, dtype=np.float64), np.asarray(place, dtype=np.float64))
        on_lines = np.stack([line.at(quantity, place) for line in self.lines])
        speed = np.where((speed >= speeds[0]) & (speed <= speeds[-1]), speed, np.nan)
        below = np.clip(np.searchsorted(speeds, speed, "right") - 1, 0, speeds.size - 2)
        share = (speed - speeds[below]) / (speeds[below + 1] - speeds[below])
        lower, upper = (np.take_along_axis(on_lines, (below + one)[None], axis=0)[0] for one in (0, 1))
        return np.asarray((1.0 - share) * lower + share * upper)


def _ends(mapped: CompressorMap, which: int) -> tuple[Array, Array]:
    ends = [(line.flow[which], line.pressure_ratio[which]) for line in mapped.lines]
    flow, ratio = np.array(ends, dtype=np.float64).T
    return flow, ratio


def _check_neighbours(slow: SpeedLine, fast: SpeedLine, file: str) -> None:
    """A faster line lies to the right at both ends, and at every flow that both lines share, above."""
    names = f"the speed lines {slow.speed:g} and {fast.speed:g} rpm"
    for which, what in ((0, "lowest (surge)"), (-1, "highest")):
        if not fast.flow[which] > slow.flow[which]:
            raise WrongUse(
                f"{names}: the {what} flow does not rise with speed, {slow.flow[which]:g} and {fast.flow[which]:g} g/s",
                where=file,
                advice="Check these rows: a faster line begins and ends at more flow.",
            )
    places, mix = np.linspace(0.0, 1.0, CHECKED), np.linspace(0.0, 1.0, CHECKED)[:, None]
    below, above = (line.at("pressure_ratio", places) for line in (slow, fast))
    rows = (1.0 - mix) * below + mix * above
    left, right = (line.flow[0] + places * np.ptp(line.flow) for line in (slow, fast))
    flows = (1.0 - mix) * left + mix * right
    # A patch folds where its Jacobian changes sign.
    along = np.diff(flows, axis=1)[:-1] * np.diff(rows, axis=0)[:, :-1]
    across = np.diff(rows, axis=1)[:-1] * np.diff(flows, axis=0)[:, :-1]
    if np.any(along - across <= 0.0):
        raise WrongUse(
            f"{names} cross or fold, so that one point would lie at two speeds",
            where=file,
            advice="Check these rows: at equal flow the faster line has the higher pressure ratio.",
        )
