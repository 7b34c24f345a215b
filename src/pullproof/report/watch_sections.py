"""A watch as a report: what passed its limit first, how near everything came, and what nobody could see."""

import datetime
from collections.abc import Sequence

from pullproof.analysis.watch import Event, Limit, NotWatched, Place, Trend, Watch, Watched
from pullproof.car import Car
from pullproof.report.evidence import ESTIMATES, as_sentence, car_data, cautions_section, made_with, moment
from pullproof.report.model import (
    Cell,
    Column,
    Fact,
    Facts,
    Headline,
    Paragraph,
    Plate,
    Points,
    Report,
    Row,
    Section,
    Table,
)
from pullproof.report.rounding import NBSP, Rounding, significant
from pullproof.report.watch_drawable import event_drawing
from pullproof.report.wording import capitalised, count, difference_unit, level_text, listed, unit_text

__all__ = [
    "STATUS",
    "event_cells",
    "limit_text",
    "place_text",
    "status_text",
    "trend_cells",
    "unwatched_lines",
    "value_text",
    "watch_report",
    "watched_cells",
]

STATUS = {"passed the limit": ("✗", "fail"), "touched it": ("!", "warn"), "within": ("✓", "plain")}
"""Sign and tone of a status."""

MOST_PLATES = 6

NOT_LOGGED = " is not logged"

KINDS = {"sustained": "", "brief": "brief", "single sample": "one sample alone: length unknown"}


PLACES = {"1": 3, "V": 1, "deg": 1, "rpm": 0, "kPa": 0, "degC": 0, "%": 1}
"""Decimal places that a limit in a unit deserves."""


def value_text(value: float, limit: Limit) -> str:
    """A reading in the limit's unit."""
    return Rounding(PLACES[limit.unit], unit_text(limit.unit, _quantity(limit.unit))).plain(value)


def _quantity(unit: str) -> str:
    """What is counted in a unit, as far as it changes how the unit is printed."""
    return "lambda" if unit == "1" else ""


def limit_text(limit: Limit) -> str:
    """`at most 4.0°`."""
    return f"at {'most' if limit.side == 'above' else 'least'} {value_text(limit.value, limit)}"


def place_text(place: Place) -> str:
    """`before-1.csv, 38.2 s, 5210 rpm, pull 2`."""
    parts = [place.log, Rounding(1, "s").plain(place.at_s)]
    parts += [Rounding(-1, "rpm").plain(place.rpm)] if place.rpm is not None else []
    parts += [f"pull{NBSP}{place.pull}"] if place.pull is not None else ["in no pull"]
    return ", ".join(parts)


def status_text(entry: Watched) -> str:
    """`✗ passed the limit`."""
    return f"{STATUS[entry.status][0]} {entry.status}"


def watched_cells(entry: Watched) -> tuple[str, ...]:
    """Quantity, worst reading, limit, margin, where, status."""
    unit = difference_unit(entry.limit.unit, _quantity(entry.limit.unit))
    return (
        capitalised(entry.label),
        value_text(entry.worst, entry.limit),
        limit_text(entry.limit),
        Rounding(PLACES[entry.limit.unit], unit).signed(entry.margin),
        place_text(entry.place),
        status_text(entry),
    )


def event_cells(event: Event) -> tuple[str, ...]:
    """Quantity, worst reading against its limit, where, how long."""
    channel = "" if event.channel.rpartition("_")[2].isalpha() else f", cylinder {event.channel.rpartition('_')[2]}"
    return (
        capitalised(event.label) + channel,
        f"{value_text(event.worst, event.limit)}, {limit_text(event.limit)}",
        place_text(event.place),
        _lasting(event),
    )


def _lasting(event: Event) -> str:
    """`0.4 to 0.6 s, 5 samples`; one sample alone has no length."""
    if event.kind == "single sample":
        return KINDS[event.kind]
    seconds = Rounding(1 if event.at_least_s < 20.0 else 0, "s")
    span = f"{seconds.plain(event.at_least_s)} or more"
    if event.at_most_s is not None:
        span = f"{seconds.bare(event.at_least_s)} to {seconds.plain(event.at_most_s)}"
    times = f" in {event.passages} passages" if event.passages > 1 else ""
    return f"{span}, {count(event.samples, 'sample')}{times}" + (f"; {KINDS[event.kind]}" if KINDS[event.kind] else "")


def trend_cells(trend: Trend) -> tuple[str, ...]:
    """Quantity, first and last day's mean, difference, interval, verdict."""
    unit = difference_unit(trend.unit, _quantity(trend.unit))
    rounding = Rounding.of(trend.interval, trend.difference, unit)
    means = Rounding(max(rounding.places, 0), unit_text(trend.unit, _quantity(trend.unit)))
    return (
        capitalised(trend.label),
        f"{means.plain(trend.day_means[0])} ({trend.days[0]})",
        f"{means.plain(trend.day_means[-1])} ({trend.days[-1]})",
        rounding.signed(trend.difference),
        rounding.interval(trend.interval),
        trend.verdict,
    )


def unwatched_lines(entries: Sequence[NotWatched], logs: Sequence[str]) -> tuple[str, ...]:
    """What is not logged anywhere in one sentence, then a sentence on each thing that fails for another reason."""
    nowhere = [entry for entry in entries if len(entry.logs) == len(logs) and entry.reason.endswith(NOT_LOGGED)]
    what = dict.fromkeys(entry.reason.removesuffix(NOT_LOGGED) for entry in nowhere)
    lines = [f"Not logged: {listed(list(what))}."] if what else []
    for entry in entries:
        if entry in nowhere:
            continue
        where = "" if len(entry.logs) == len(logs) else f" (in {listed(entry.logs)})"
        lines.append(f"{capitalised(entry.label)}{where}: {as_sentence(entry.reason)} {as_sentence(entry.advice)}")
    return tuple(lines)


def watch_report(watch: Watch, *, car: Car, made_at: datetime.datetime) -> Report:
    """A report on what was watched.

    Parameters
    ----------
    watch : Watch
        What was found.
    car : Car
        Its name and main data head the report.
    made_at : datetime
        Printed as it is.
    """
    made = made_with(made_at)
    sections = [
        _what(watch, car, made_at),
        _events(watch.events),
        _margins(watch.watched),
        _unseen(watch),
        _trends(watch.trends),
        _doubts(watch),
        cautions_section(watch.cautions),
    ]
    return Report(
        title=f"{car.name}: watch over the engine",
        headline=_headline(watch),
        sections=tuple(section for section in sections if section is not None),
        footer=(made, ESTIMATES),
        picture_footer=(made, "A part of the record: margins, sensors and doubts stand in the full report."),
        subject="Watch",
    )


def _headline(watch: Watch) -> Headline:
    passed = any(entry.status == "passed the limit" for entry in watch.watched)
    touched = any(entry.status == "touched it" for entry in watch.watched)
    sign, word = ("✗", "limit passed") if passed else ("!", "limit touched") if touched else ("○", "no limit passed")
    return Headline(
        sentence=watch.sentence,
        sign=sign,
        word=word,
        measure="",
        number="",
        unit="",
        interval="",
        meaning=(
            "A limit is where people who drive such runs would lift and look, no border between whole and broken.",
            "What is not logged, or logged too seldom, was not seen.",
        ),
        drawing=None,
        heading="What was seen",
    )


def _what(watch: Watch, car: Car, made_at: datetime.datetime) -> Section:
    facts = Facts(
        (
            Fact("Car", "; ".join([car.name, *car_data(car)])),
            Fact("Logs", ", ".join(watch.logs)),
            Fact("Pulls", f"{count(len(watch.pulls), 'pull')}, refused ones included"),
            Fact("Report made", moment(made_at)),
        )
    )
    return Section("What was looked at", "", (facts,), picture=False)


def _events(events: Sequence[Event]) -> Section:
    if not events:
        return Section("Limits passed", "", (Paragraph("None in what could be watched."),))
    columns = (
        Column("What", 24),
        Column("Worst, and limit", 24, "beside"),
        Column("Where", 28, "below"),
        Column("How long", 24, "below"),
    )
    rows = tuple(_event_row(event) for event in sorted(events, key=lambda event: _KIND_ORDER[event.kind]))
    note = "A sample is an instant. How long it lasted lies between the first and last sample and their neighbours."
    return Section("Limits passed", note, (Table("Sustained ones first", columns, rows), *_plates(events)))


def _plates(events: Sequence[Event]) -> tuple[Plate, ...]:
    """Figures of the events that lasted, the longest of each rule, as many as a reader looks at."""
    longest: dict[str, Event] = {}
    for event in events:
        known = longest.get(event.rule)
        if event.kind == "sustained" and (known is None or event.at_least_s > known.at_least_s):
            longest[event.rule] = event
    plates = []
    for event in longest.values():
        drawing = event_drawing(event)
        if drawing is not None:
            _, worst, where, lasting = event_cells(event)
            notes = (f"Worst {worst}: {where}.", f"{capitalised(lasting)}.", "Filled marks: samples past the limit.")
            plates.append(Plate(capitalised(event.label), drawing, notes))
    return tuple(plates[:MOST_PLATES])


_KIND_ORDER = {"sustained": 0, "brief": 1, "single sample": 2}


def _event_row(event: Event) -> Row:
    what, worst, where, lasting = event_cells(event)
    detail = as_sentence(event.detail) if event.detail else ""
    tone = Cell(worst, detail, tone="fail") if event.kind == "sustained" else Cell(worst, detail, tone="warn")
    return Row((Cell(what), tone, Cell(where), Cell(lasting)))


def _margins(watched: Sequence[Watched]) -> Section:
    columns = (
        Column("What", 22),
        Column("Worst reading", 13, "beside"),
        Column("Limit", 21, "below"),
        Column("Margin", 11, "below"),
        Column("Where", 19),
        Column("Result", 14),
    )
    rows = tuple(_margin_row(entry) for entry in watched)
    note = "How near each came, in all logs together. In small print: where the limit comes from."
    return Section("How near", note, (Table("Worst reading of everything that could be watched", columns, rows),))


def _margin_row(entry: Watched) -> Row:
    what, worst, limit, margin, where, status = watched_cells(entry)
    sees = f"What lasts less than {significant(entry.sees_s, 2, 's')} can pass unseen."
    tones = {"fail": Cell(status, tone="fail"), "warn": Cell(status, tone="warn"), "plain": Cell(status)}
    return Row(
        (
            Cell(what, sees),
            Cell(worst),
            Cell(limit, entry.limit.origin),
            Cell(margin),
            Cell(where),
            tones[STATUS[entry.status][1]],
        )
    )


def _unseen(watch: Watch) -> Section | None:
    if not watch.not_watched:
        return None
    lines = unwatched_lines(watch.not_watched, watch.logs)
    return Section("What could not be watched", "Nobody can say how these were.", (Points(lines),))


def _trends(trends: Sequence[Trend]) -> Section | None:
    if not trends:
        return None
    columns = (
        Column("Worst of each pull", 22),
        Column("First day", 20),
        Column("Last day", 20),
        Column("Change", 11, "beside"),
        Column("Interval", 15, "below"),
        Column("Result", 12, "below"),
    )
    rows = tuple(_trend_row(trend) for trend in trends)
    note = (
        f"Means as driven; the change is last day minus first with its {level_text(trends[0].level)} interval, "
        "scatter between days and between pulls included."
    )
    return Section("From day to day", note, (Table("Trends", columns, rows, picture=False),), picture=False)


def _trend_row(trend: Trend) -> Row:
    cells = trend_cells(trend)
    verdict = Cell(cells[-1], tone="warn") if trend.verdict == "worse" else Cell(cells[-1])
    return Row((Cell(cells[0], trend.detail), *(Cell(text) for text in cells[1:-1]), verdict))


def _doubts(watch: Watch) -> Section | None:
    lines = [f"{doubt.log}: {as_sentence(doubt.detail)}" for doubt in watch.sensors]
    lines += [f"{capitalised(entry.label)}: {as_sentence(doubt)}" for entry in watch.watched for doubt in entry.doubts]
    lines += [as_sentence(doubt) for doubt in watch.doubts]
    if not lines:
        return None
    return Section("Doubts and gaps", "What a sceptic would ask first.", (Points(tuple(lines)),), picture=False)
