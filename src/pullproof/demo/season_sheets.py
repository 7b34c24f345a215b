"""The season's sheets, as a person would type them."""

from collections.abc import Sequence

from pullproof.demo.season_story import PartChange, SeasonOuting, TrackDay

__all__ = ["season_conditions", "season_sheet"]

PLACE = "old airfield, runway 09"


def season_conditions(outings: Sequence[SeasonOuting], changes: Sequence[PartChange]) -> str:
    """TOML of when and in what air each log was recorded, and of the changes: what `compare` takes."""
    entries = [
        f"""\
[[log]]
file = "{outing.file}"
when = {outing.when.isoformat()}
day = "{outing.day}"
air_temperature_c = {outing.weather.temperature_c:.1f}
air_pressure_kpa = {outing.weather.pressure_kpa:.1f}           # at the place, not reduced to sea level
relative_humidity_pct = {outing.weather.humidity_pct:.0f}
direction = "out"
"""
        for outing in outings
    ]
    entries += [f'[[change]]\nwhat = "{change.name}"\nwhen = {change.fitted.isoformat()}\n' for change in changes]
    return "# Invented weather of an invented car.\n" + "\n".join(entries)


def season_sheet(changes: Sequence[PartChange], days: Sequence[TrackDay]) -> str:
    """TOML of the whole season: `pullproof history --season` takes it."""
    parts = ['# One summer of an invented car.\ncar = "car.toml"\nconditions = "conditions.toml"\n']
    parts += [_change(change) for change in changes]
    parts += [_day(day) for day in days]
    return "\n".join(parts)


def _change(change: PartChange) -> str:
    lines = [
        "[[change]]",
        f'what = "{change.name}"',
        f'kind = "{change.kind}"',
        f"fitted = {change.fitted.isoformat()}",
        f"cost = {change.cost:.2f}",
        'currency = "EUR"',
    ]
    if change.removed is not None:
        lines.append(f"removed = {change.removed.isoformat()}")
    if change.temporary:
        lines.append("temporary = true")
    lines += [
        f'{key} = "{text}"'
        for key, text in (("place", change.place), ("dimensions", change.dimensions), ("notes", change.notes))
        if text
    ]
    return "\n".join(lines) + "\n"


def _day(day: TrackDay) -> str:
    lines = ["[[day]]", f'label = "{day.label}"', f"date = {day.date.isoformat()}", f'place = "{PLACE}"']
    lines.append(f'fuel = "{day.fuel}"')
    if day.notes:
        lines.append(f'notes = "{day.notes}"')
    return "\n".join(lines) + "\n"
