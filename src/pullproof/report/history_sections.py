"""A car's season for a report: what each change did, what cannot be told, how the car repeats and ages."""

import datetime
from collections.abc import Sequence

from pullproof.analysis.history import ChangeEffect, Estimate, History, MeasureHistory, Rank, Scatter, SeasonChange
from pullproof.analysis.history.wording import what
from pullproof.car import Car
from pullproof.report.evidence import ESTIMATES, as_sentence, car_data, cautions_section, made_with, moment
from pullproof.report.history_drawables import effects_drawing, numbered_changes, season_drawing
from pullproof.report.model import (
    Block,
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
from pullproof.report.rounding import NBSP, Rounding, significant, with_unit
from pullproof.report.wording import (
    VERDICT_WORDS,
    capitalised,
    count,
    difference_unit,
    level_text,
    measure_name,
    typographic,
)

__all__ = ["changes_listed", "effect_text", "history_report", "rank_text", "step_text"]

MEANING = (
    "An effect is what a change did at the mean conditions of the season, weather and other recorded differences taken "
    "out."
)
SHOWN = "Small circles: pulls as driven. Squares: means at the season's mean conditions, and what that day alone says."

PERHAPS = 0.4
"""Probability from which a step that is not named is not called unseen either."""

KEY = (
    "Diamond: the effect at equal boost.",
    "Open square: with the boost that the change brought.",
    "Cross: the difference as driven.",
    "Shaded: smaller than is worth having.",
)


def history_report(history: History, *, car: Car, made_at: datetime.datetime) -> Report:
    """A report on a season.

    Parameters
    ----------
    history : History
    car : Car
        Its name and main data head the report.
    made_at : datetime
        Printed as it is.
    """
    main = history.measure(history.main)
    others = [measure for measure in history.measures if measure.id != history.main]
    measures = [main, *others] if main is not None else others
    made = made_with(made_at)
    sections = (
        Section("The season", "", (Facts(_facts(history, car, made_at)), _changes(history))),
        *(_measure_section(history, measure, first=measure is main) for measure in measures),
        _apart_section(history, main),
        _money_section(main, others),
        _scatter_section(history),
        _ageing_section(history),
        _refused_section(history),
        _doubts_section(history),
        _method_section(history),
        cautions_section(history.cautions),
        _next_section(history),
    )
    return Report(
        title=f"{car.name}: {count(len(history.changes), 'change')} over {count(len(history.days), 'test day')}",
        headline=_headline(history, main),
        sections=tuple(section for section in sections if section is not None),
        footer=(made, ESTIMATES),
        picture_footer=(made, "A part of the record: all measures and days stand in the full report."),
        subject="Season",
    )


def _headline(history: History, main: MeasureHistory | None) -> Headline:
    worth = ""
    if main is not None:
        unit = difference_unit(main.unit, main.id)
        worth = f"The smallest difference worth having is {significant(main.smallest_worth_having, 2, unit)}."
    return Headline(
        sentence=typographic(history.sentence),
        sign="Δ",
        word=count(len(history.changes), "change"),
        measure="",
        number="",
        unit="",
        interval="",
        meaning=tuple(
            filter(
                None,
                (
                    f"The measure that speaks is {measure_name(history.main)}; the others describe.",
                    MEANING,
                    worth,
                ),
            )
        ),
        drawing=None,
        heading="What the season says",
    )


def _facts(history: History, car: Car, made_at: datetime.datetime) -> tuple[Fact, ...]:
    window = Rounding(-1, "rpm")
    low, high = history.window_rpm
    pulls = max((len(measure.pulls) for measure in history.measures), default=0)
    dates = [day.when for day in history.days if day.when is not None]
    span = f", {moment(_date(min(dates)))} to {moment(_date(max(dates)))}" if dates else ""
    return (
        Fact("Car", "; ".join([car.name, *car_data(car)])),
        Fact("Test days", f"{len(history.days)}{span}"),
        Fact("Pulls", f"{pulls} used, {len(history.refused)} refused"),
        Fact("Window", f"{window.bare(low)} to {window.plain(high)}"),
        Fact("Report made", moment(made_at)),
    )


def _date(when: datetime.datetime) -> datetime.datetime:
    return when.replace(hour=0, minute=0, second=0, microsecond=0)


def changes_listed(changes: Sequence[SeasonChange]) -> list[tuple[str, str, str, str]]:
    """Number, name with its kind, when, and cost of each change, in words."""
    listed = []
    for name, number in numbered_changes(changes).items():
        change = next(one for one in changes if one.name == name)
        when = moment(change.fitted) if change.fitted else "nobody wrote down when"
        when += f", until {moment(change.removed)}" if change.removed else ""
        for spell in change.again:
            when += f"; again {moment(spell.fitted)}" + (f", until {moment(spell.removed)}" if spell.removed else "")
        cost = with_unit(significant(change.cost, 6), change.currency) if change.cost is not None else "not stated"
        listed.append((str(number), name, when, cost))
    return listed


def _changes(history: History) -> Table:
    kinds = {change.name: ("temporary fix" if change.temporary else change.kind) for change in history.changes}
    return Table(
        "Changes, with the numbers that the pictures use",
        (
            Column("Change", 44),
            Column("Fitted", 38, "below"),
            Column("Cost", 18, "beside"),
        ),
        tuple(
            Row((Cell(f"{number}{NBSP}{NBSP}{name}", kinds[name]), Cell(when), Cell(cost)))
            for number, name, when, cost in changes_listed(history.changes)
        ),
    )


def _measure_section(history: History, measure: MeasureHistory, *, first: bool) -> Section:
    """One measure: the picture of its season, its effects beside each other, and the same as a table."""
    unit = difference_unit(measure.unit, measure.id)
    swing = Rounding.of(measure.weather_swing.interval, measure.weather_swing.value, unit)
    notes = [
        SHOWN,
        f"Line and band: each build by the whole season, {level_text(history.level)} interval. Upright lines: changes.",
    ]
    if any(measure.weather_swing.interval):
        notes.append(
            f"The weather alone moved it by {swing.plain(measure.weather_swing.value)} "
            f"({swing.interval(measure.weather_swing.interval)}) between {measure.weather_days[0]} and "
            f"{measure.weather_days[1]}."
        )
    name = capitalised(measure_name(measure.id))
    blocks: list[Block] = [Plate("Over the season", season_drawing(history, measure), tuple(notes), picture=first)]
    effects = effects_drawing(history, measure) if first else None
    if effects is not None:
        blocks.append(Plate("Effects", effects, KEY, picture=first))
    if measure.effects:
        blocks.append(_effects_table(history, measure))
    said = [*(_near(effect) for effect in measure.effects if effect.nearly_alike), *map(as_sentence, measure.doubts)]
    if measure.step is not None and measure.step.flagged:
        said.insert(0, step_text(measure, history.level))
    if said:
        blocks.append(Points(tuple(typographic(text) for text in said), picture=False))
    note = "The measure that speaks." if first else "Described, not tested."
    return Section(name, note, tuple(blocks), picture=first)


def _effects_table(history: History, measure: MeasureHistory) -> Table:
    whole = any(effect.whole is not None for effect in measure.effects)
    columns = [Column("Change", 30), Column("Effect", 22, "below")]
    columns += [Column("With the boost it brought", 20)] if whole else []
    columns += [Column("As driven", 14), Column("Made by the weather", 20)]
    rows = tuple(_effect_row(measure, effect, whole=whole) for effect in measure.effects)
    return Table(
        f"Effects on {measure_name(measure.id)}, {level_text(history.level)} intervals", tuple(columns), rows,
        picture=False,
    )  # fmt: skip


def _effect_row(measure: MeasureHistory, effect: ChangeEffect, *, whole: bool) -> Row:
    unit = difference_unit(measure.unit, measure.id)
    rounding = Rounding.of(effect.effect.interval, effect.effect.value, unit)
    sign, word = VERDICT_WORDS[effect.verdict]
    rests_on = (
        f"{count(effect.pulls_with, 'pull')} with it on {count(effect.days_with, 'day')}, "
        f"{effect.pulls_without} without"
    )
    weather = effect.explained.weather
    cells = [
        Cell(what(effect), " ".join([rests_on, *effect.doubts])),
        Cell(f"{sign} {rounding.signed(effect.effect.value)}", f"{_ends(rounding, effect.effect.interval)}, {word}"),
    ]
    if whole:
        cells.append(Cell("") if effect.whole is None else _estimate_cell(effect.whole, unit))
    cells += [
        Cell(Rounding(rounding.places, "").signed(effect.explained.raw)),
        _estimate_cell(weather, unit) if any(weather.interval) else Cell("none known"),
    ]
    return Row(tuple(cells))


def _estimate_cell(estimate: Estimate, unit: str) -> Cell:
    rounding = Rounding.of(estimate.interval, estimate.value, unit)
    return Cell(rounding.signed(estimate.value), _ends(rounding, estimate.interval))


def _ends(rounding: Rounding, interval: tuple[float, float]) -> str:
    """`−2.8 to −1.0`, without the unit, which stands beside: a narrow column would break it."""
    return Rounding(rounding.places, "").interval(interval)


def effect_text(measure: MeasureHistory, estimate: Estimate) -> str:
    """`−1.9 points (−2.8 to −1.0 points)`."""
    rounding = Rounding.of(estimate.interval, estimate.value, difference_unit(measure.unit, measure.id))
    return f"{rounding.signed(estimate.value)} ({rounding.interval(estimate.interval)})"


def _near(effect: ChangeEffect) -> str:
    names = ", ".join(
        f"{alike.name} (correlation {Rounding(2, '').bare(alike.correlation)})" for alike in effect.nearly_alike
    )
    return f"{capitalised(what(effect))} can hardly be told from {names}."


def _apart_section(history: History, main: MeasureHistory | None) -> Section | None:
    """What is not known alone, and why."""
    if main is None or not main.alone_unknown:
        return None
    reasons = tuple(f"{capitalised(one.change)}: {as_sentence(one.reason)}" for one in main.alone_unknown)
    note = f"For {measure_name(history.main)}; the same holds for every measure that the same pulls have."
    return Section("What cannot be told apart", note, (Points(reasons),))


def _money_section(main: MeasureHistory | None, others: Sequence[MeasureHistory]) -> Section | None:
    """Effect for money: the main measure as a table, the others in a line each."""
    if main is None or not main.ranking:
        return None
    order = {
        "more": "More counts as better.",
        "less": "Less counts as better.",
        None: "The larger effect stands first.",
    }
    currencies = sorted({entry.currency for entry in main.ranking})
    table = Table(
        f"{capitalised(measure_name(main.id))} for money",
        (Column("Change", 46), Column("Cost", 18), Column("For each hundred", 36, "below")),
        tuple(
            Row((Cell(" and ".join(entry.changes)), Cell(with_unit(significant(entry.cost, 6), entry.currency)),
                 Cell(*_rank_cells(main, entry))))
            for entry in main.ranking
        ),
    )  # fmt: skip
    lines = tuple(
        f"{capitalised(measure_name(measure.id))}: {rank_text(measure, measure.ranking[0])}."
        for measure in others
        if measure.ranking and measure.ranking[0].known and measure.better is not None
    )
    note = f"{order[main.better]} With the boost that a change brought. Costs in {' and '.join(currencies) or 'money'}."
    more: list[Block] = [
        Paragraph("Most for its money by the other measures, where the effect is sure:"),
        Points(lines),
    ]
    return Section("Effect for money", note, (table, *(more if lines else [])), picture=False)


def _rank_cells(measure: MeasureHistory, entry: Rank) -> tuple[str, str]:
    unit = difference_unit(measure.unit, measure.id)
    rounding = Rounding.of(entry.per_hundred.interval, entry.per_hundred.value, unit)
    sure = "" if entry.known else "; whether it did anything is not sure"
    return rounding.signed(entry.per_hundred.value), f"{_ends(rounding, entry.per_hundred.interval)}{sure}"


def rank_text(measure: MeasureHistory, entry: Rank) -> str:
    """`larger cooler, −1.3 K for each 100 EUR`."""
    value, _ = _rank_cells(measure, entry)
    hundred = with_unit("100", entry.currency)
    return f"{' and '.join(entry.changes)}, {value} for each {hundred}"


def _scatter_section(history: History) -> Section:
    table = Table(
        "Scatter of this car, and what is usual",
        (
            Column("Measure", 28),
            Column("Between pulls of a day", 20),
            Column("usual", 16),
            Column("Between days", 20),
            Column("usual", 16),
        ),
        tuple(
            Row((Cell(capitalised(measure_name(one.id))), *_scatter_cells(one, one.run_to_run),
                 *_scatter_cells(one, one.day_to_day)))
            for one in history.measures
        ),
    )  # fmt: skip
    note = (
        f"Standard deviations, weather taken out, with {level_text(history.level)} intervals. What is usual is common "
        "practice; the car's own repeats overrule it."
    )
    return Section("How the car repeats", note, (table,), picture=False)


def _scatter_cells(measure: MeasureHistory, scatter: Scatter) -> tuple[Cell, Cell]:
    unit = difference_unit(measure.unit, measure.id)
    rounding = Rounding.of(scatter.interval, scatter.value, unit)
    usual = Rounding.of(scatter.usual_interval, scatter.usual, unit)
    return (
        Cell(rounding.plain(scatter.value), _span(rounding, scatter.interval)),
        Cell(usual.plain(scatter.usual), _span(usual, scatter.usual_interval)),
    )


def _span(rounding: Rounding, interval: tuple[float, float]) -> str:
    return f"{rounding.bare(interval[0])}{NBSP}to{NBSP}{rounding.bare(interval[1])}"


def _ageing_section(history: History) -> Section | None:
    rows = [
        _ageing_row(measure) for measure in history.measures if measure.drift is not None or measure.step is not None
    ]
    if not rows:
        return None
    table = Table(
        "Slow trend, and steps without a change",
        (Column("Measure", 30), Column("Slow trend", 34), Column("Step that nobody wrote down", 36)),
        tuple(rows),
    )
    flagged = [step_text(one, history.level) for one in history.measures if one.step is not None and one.step.flagged]
    blocks: list[Block] = [Points(tuple(flagged))] if flagged else []
    note = (
        "A trend wears or clogs; a step is a leak, a slipped hose, another fuel, or a change that nobody wrote down. "
        "The trend is held small beforehand."
    )
    return Section("Ageing and leaks", note, (*blocks, table), picture=bool(flagged))


def _ageing_row(measure: MeasureHistory) -> Row:
    unit = difference_unit(measure.unit, measure.id)
    cells = [Cell(capitalised(measure_name(measure.id)))]
    if measure.drift is None:
        cells.append(Cell("too short a season"))
    else:
        rounding = Rounding.of(measure.drift.rate.interval, measure.drift.rate.value, unit)
        cells.append(
            Cell(
                f"{rounding.signed(measure.drift.rate.value)} in {measure.drift.per.replace(' ', NBSP)}",
                _ends(rounding, measure.drift.rate.interval),
            )
        )
    step = measure.step
    if step is None:
        cells.append(Cell("no gap between days that could tell"))
    else:
        chance = _chance(step.probability_anywhere)
        where = f"most likely between {step.after} and {step.before}" if step.probability_anywhere > 0.05 else ""
        seen = "found" if step.flagged else "perhaps" if step.probability_anywhere >= PERHAPS else "none seen"
        word = f"{seen}, probability {chance}"
        cells.append(Cell(word, where, tone="warn" if step.flagged else "plain"))
    return Row(tuple(cells))


def _chance(probability: float) -> str:
    return "below 0.01" if probability < 0.01 else "above 0.99" if probability > 0.99 else f"{probability:.2f}"


def step_text(measure: MeasureHistory, level: float) -> str:
    """Where a step was found, how large, and how sure; for a measure that has one."""
    step = measure.step
    if step is None:
        return ""
    return (
        f"{capitalised(measure_name(measure.id))} took a step between {step.after} and {step.before} that no recorded "
        f"change explains: {effect_text(measure, step.size)}, {level_text(level)} interval, probability "
        f"{_chance(step.probability)}."
    )


def _refused_section(history: History) -> Section | None:
    if not history.refused:
        return None
    seconds = Rounding(1, "s")
    lines = tuple(
        f"{pull.log}, {seconds.bare(pull.start_s)} to {seconds.plain(pull.end_s)}: "
        f"{as_sentence(pull.reason or 'refused')}"
        for pull in history.refused
    )
    return Section("Pulls refused", "Set aside by the same rules for all.", (Points(lines),), picture=False)


def _doubts_section(history: History) -> Section:
    left_out = [f"{capitalised(measure_name(left.measure))}: {as_sentence(left.reason)}" for left in history.left_out]
    blocks: list[Block] = [Points(tuple(as_sentence(doubt) for doubt in history.doubts))]
    if left_out:
        blocks += [Paragraph(f"{count(len(left_out), 'measure')} left out:"), Points(tuple(left_out))]
    return Section("Doubts and gaps", "What a sceptic would ask first.", tuple(blocks), picture=False)


def _method_section(history: History) -> Section:
    text = (
        "One model serves every change of the season: a level, each change that was on the car, what physics expects "
        "of weather and other recorded circumstances with its doubt, a slow trend that is held small, and scatter of "
        "days and of pulls that the car's own repeats teach. Each interval is made to hold the truth "
        f"{level_text(history.level)} of the time. Changes add up in this model: what a part does is taken to be the "
        "same on every build."
    )
    return Section("How the effects are made", "See docs/history.md.", (Paragraph(text),), picture=False)


def _next_section(history: History) -> Section | None:
    if not history.next_steps:
        return None
    steps = tuple(as_sentence(step) for step in history.next_steps)
    return Section("What to do next", "In this order.", (Points(steps, ordered=True),))
