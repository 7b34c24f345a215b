"""What is compared, as it stands in the address of a page: `before=d3,l7&after=d5&out=12@34.5&window=4000-6500`.

`d3` is test day 3, `l7` log 7, and `12@34.5` the pull of log 12 that begins at 34.5 s, left out. So a comparison can be
bookmarked, sent on, and gone back to, without anything being kept.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, Self

from starlette.datastructures import QueryParams

from pullproof.errors import WrongUse
from pullproof.library.catalogue import Selection
from pullproof.library.schema import ComparisonRow, LogRow
from pullproof.measures import MEASURES
from pullproof.web.rendering import link

__all__ = ["LEVELS", "Asked", "Side"]

Side = Literal["before", "after"]
LEVELS: Final = (0.8, 0.9, 0.95, 0.99)
_TOKEN = re.compile(r"([dl])(\d{1,9})")
_PULL = re.compile(r"(\d{1,9})@(\d{1,7}(?:\.\d{1,6})?)")
_WINDOW = re.compile(r"(\d{2,5}(?:\.\d)?)-(\d{2,5}(?:\.\d)?)")


@dataclass(frozen=True, slots=True)
class Asked:
    """Two sides, what is left out of them, and how they are compared."""

    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    out: tuple[tuple[int, float], ...] = ()
    """Pulls left out: log, and where in it the pull begins [s]."""
    window: tuple[float, float] | None = None
    main: str | None = None
    level: float = 0.95

    @classmethod
    def in_address(cls, said: QueryParams) -> Self:
        """What an address asks for.

        It may also name a side for each day and log (`d3=before&l7=after`), as a form without script sends it.

        Raises
        ------
        WrongUse
            A part of it makes no sense.
        """
        sides: dict[str, list[str]] = {
            "before": _tokens(said.get("before", "")),
            "after": _tokens(said.get("after", "")),
        }
        for name, value in said.items():
            if _TOKEN.fullmatch(name) and value in sides:
                sides[value].append(name)
        return cls(
            before=tuple(dict.fromkeys(sides["before"])),
            after=tuple(dict.fromkeys(sides["after"])),
            out=tuple((int(log), float(start)) for log, start in _PULL.findall(said.get("out", ""))),
            window=_window(said),
            main=_main(said.get("main", "")),
            level=_level(said.get("level", "")),
        )

    @classmethod
    def kept(cls, row: ComparisonRow) -> Self:
        """What a comparison that was kept asks for."""
        sides = [Selection.from_json(side) for side in (row.before, row.after)]
        low, high = row.window_low_rpm, row.window_high_rpm
        return cls(
            before=_of_selection(sides[0]),
            after=_of_selection(sides[1]),
            out=tuple(pull for side in sides for pull in side.left_out),
            window=(low, high) if low is not None and high is not None else None,
            main=row.main,
            level=row.level,
        )

    @property
    def is_whole(self) -> bool:
        """Whether both sides are there."""
        return bool(self.before and self.after)

    def address(self, path: str) -> str:
        """The address that asks for this."""
        return link(
            path,
            before=",".join(self.before),
            after=",".join(self.after),
            out=",".join(f"{log}@{start:.3f}" for log, start in self.out),
            window="" if self.window is None else f"{self.window[0]:.0f}-{self.window[1]:.0f}",
            main=self.main,
            level="" if self.level == 0.95 else f"{self.level:g}",
        )

    def toggled(self, log: int, start: float) -> Self:
        """With one pull more, or one less, left out."""
        mine = [(log, at) for out, at in self.out if out == log and abs(at - start) < 0.05]
        if mine:
            return replace(self, out=tuple(pull for pull in self.out if pull not in mine))
        return replace(self, out=(*self.out, (log, round(start, 3))))

    def leaves_out(self, log: int, start: float) -> bool:
        """Whether a pull was clicked out."""
        return any(out == log and abs(at - start) < 0.05 for out, at in self.out)

    def selection(self, side: Side, logs: Sequence[LogRow]) -> Selection:
        """One side as the library takes it.

        A log that is named on one side does not come with its day on the other: so a day on which the part was changed
        can be divided.
        """
        mine, others = (self.before, self.after) if side == "before" else (self.after, self.before)
        named = {int(token[1:]) for token in others if token[0] == "l"}
        chosen = [row.id for row in logs if _holds(mine, row) and (f"l{row.id}" in mine or row.id not in named)]
        return Selection(logs=tuple(chosen), left_out=tuple(pull for pull in self.out if pull[0] in chosen))


def _holds(tokens: Iterable[str], row: LogRow) -> bool:
    return f"l{row.id}" in tokens or f"d{row.day_id}" in tokens


def _tokens(said: str) -> list[str]:
    found = [token for token in said.split(",") if token]
    for token in found:
        if not _TOKEN.fullmatch(token):
            raise WrongUse(f'"{token}" is no test day or log', advice="Choose the two sides anew.")
    return found


def _of_selection(side: Selection) -> tuple[str, ...]:
    return (*(f"d{day}" for day in side.days), *(f"l{log}" for log in side.logs))


def _window(said: Mapping[str, str]) -> tuple[float, float] | None:
    low, high = said.get("low", ""), said.get("high", "")
    text = f"{low}-{high}" if low and high else said.get("window", "")
    if not text:
        return None
    found = _WINDOW.fullmatch(text.replace(" ", ""))
    if not found or float(found[1]) >= float(found[2]):
        raise WrongUse(f'"{text}" is no window', advice="Give the lower and the higher engine speed in rpm.")
    return float(found[1]), float(found[2])


def _main(said: str) -> str | None:
    if said and said not in MEASURES:
        raise WrongUse(f'there is no measure "{said}"', advice="Choose one of the list.")
    return said or None


def _level(said: str) -> float:
    if not said:
        return 0.95
    try:
        value = float(said)
    except ValueError:
        value = 0.0
    if not 0.5 <= value < 1.0:
        raise WrongUse(f'"{said}" is no level', advice="Give a probability from 0.5 to below 1, such as 0.95.")
    return value
