"""The run card: one page to print and take along, with boxes to fill in, stop criteria and cautions.

The same plain data make the PDF (set by typst) and the HTML page. What is filled in on it is what the conditions file
asks for, so that nothing has to be remembered in the evening.
"""

import datetime
import importlib.resources
import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import matplotlib
import typst
from jinja2 import Environment, PackageLoader, StrictUndefined

from pullproof.analysis.plan import Option, Plan, Run
from pullproof.car import Car
from pullproof.errors import WrongUse
from pullproof.report.evidence import made_with
from pullproof.report.plan_sections import stop_lines
from pullproof.report.wording import capitalised, measure_name, typographic
from pullproof.report.writing import check_report_path, replace_file

__all__ = ["CardRow", "RunCard", "card_html", "card_pdf", "check_card_path", "run_card", "write_run_card"]

SUFFIXES: Final = (".pdf", ".html")

FIELDS: Final = (
    "Date",
    "Place",
    "Driver",
    "Second person, minds the screen",
    "Fuel, octane or blend",
    "Logger, file names",
)

COLUMNS: Final = (
    "Time", "Air °C", "Pressure kPa", "Humidity %", "Fuel level", "Aboard", "Tyres kPa", "Charge °C at start",
    "Start rpm", "Gear", "Out / back", "Log file, notes",
)  # fmt: skip
"""To be filled in for every pull."""

BEFORE: Final = (
    "Closed course or dynamometer; nobody else on it; both ends watched.",
    "Second person aboard or at the screen, who calls the stop.",
    "Tyre pressures set warm; fuel level as for the other state; same load aboard.",
    "Oil, coolant and hoses looked at after every change of the part; no leak, nothing loose.",
    "Coolant and oil up to temperature; one pull that does not count.",
    "Logger runs, all channels there, clock right; weather read at the place, pressure not reduced to sea level.",
)

EACH_PULL: Final = (
    "Same gear, same stretch, full pedal at the same engine speed, flat until the end; then lift, do not brake hard.",
    "Drive gently until charge, coolant and oil temperature are back where the first pull began.",
    "Pull spoilt by traffic, wheel spin or a lift: note it, do not count it, drive it again.",
)


FEW_DAYS: Final = 3
"""Test days that have a line of their own."""


@dataclass(frozen=True, slots=True)
class CardRow:
    """One line of the table: a pull, or (without a number) something to do between two pulls."""

    number: str
    what: str


@dataclass(frozen=True, slots=True)
class RunCard:
    """Everything on the card, worded."""

    title: str
    answer: str
    fields: tuple[str, ...]
    columns: tuple[str, ...]
    rows: tuple[CardRow, ...]
    before: tuple[str, ...]
    each_pull: tuple[str, ...]
    stops: tuple[str, ...]
    cautions: tuple[str, ...]
    footer: str


def run_card(plan: Plan, car: Car, made_at: datetime.datetime) -> RunCard:
    """The card for what the plan recommends, or for what comes nearest where nothing is enough."""
    option = plan.recommended or max(
        plan.options, key=lambda option: (option.fits, option.chance, -option.minutes)
    )  # fmt: skip
    chance = f"{100.0 * min(option.chance, 0.99):.0f} %"
    nearest = "" if plan.recommended else "not enough by itself; "
    answer = (
        f"{option.pulls_before} pulls before and {option.pulls_after} after; order: {option.label}; {nearest}chance of "
        f"a clear answer {chance}, about {option.minutes:.0f} min."
    )
    return RunCard(
        title=f"Run card: {car.name}, {measure_name(plan.question.measure)}",
        answer=typographic(answer),
        fields=FIELDS,
        columns=COLUMNS,
        rows=_rows(option),
        before=BEFORE,
        each_pull=EACH_PULL,
        stops=stop_lines(plan),
        cautions=plan.cautions,
        footer=f"{made_with(made_at)} Limits are common practice where they are not the car sheet's.",
    )


def _rows(option: Option) -> tuple[CardRow, ...]:
    """Pulls in their order, with what is to be done between them; many days stand beside the state to save lines."""
    rows: list[CardRow] = []
    beside = option.days > FEW_DAYS
    if beside:
        rows.append(CardRow("", "Every test day: warm up; one pull that does not count."))
    last: Run | None = None
    for number, run in enumerate(option.runs, 1):
        new_day = last is not None and run.day != last.day
        if last is not None and run.state != last.state:
            between = "Between the days: " if new_day else ""
            what = "fit the part" if run.state == "after" else "take the part off again"
            rows.append(CardRow("", f"{capitalised(between + what)}; look it over."))
        if 1 < option.days <= FEW_DAYS and (last is None or new_day):
            rows.append(CardRow("", f"Test day {run.day}: warm up; one pull that does not count."))
        rows.append(CardRow(str(number), f"{run.state}, day {run.day}" if beside else run.state))
        last = run
    return tuple(rows)


def check_card_path(path: str | Path) -> Path:
    """The path, if a run card can be written there.

    Raises
    ------
    WrongUse
        The name ends in none of `SUFFIXES`, or the folder is missing.
    """
    path = Path(path)
    if path.suffix.lower() not in SUFFIXES:
        raise WrongUse(
            f'a run card cannot be written as "{path.suffix or path.name}"',
            where=str(path),
            advice=f"End the name in {' or '.join(SUFFIXES)}.",
        )
    return check_report_path(path)


def write_run_card(plan: Plan, car: Car, made_at: datetime.datetime, path: str | Path) -> None:
    """Write the card as the end of the file's name says.

    Raises
    ------
    WrongUse
        As `check_card_path`, or the file cannot be written.
    """
    path = check_card_path(path)
    card = run_card(plan, car, made_at)
    replace_file(path, card_pdf(card) if path.suffix.lower() == ".pdf" else card_html(card).encode())


def card_pdf(card: RunCard) -> bytes:
    """One page, A4 across, as a tagged PDF."""
    source = importlib.resources.files("pullproof.report").joinpath("templates", "card.typ").read_bytes()
    fonts = typst.Fonts(include_system_fonts=False, font_paths=[str(Path(matplotlib.get_data_path(), "fonts", "ttf"))])
    return typst.compile(
        source,
        font_paths=fonts,
        ignore_system_fonts=True,
        sys_inputs={"card": json.dumps(asdict(card))},
        format="pdf",
        pdf_standards="ua-1",
    )


_TEMPLATES: Final = Environment(
    loader=PackageLoader("pullproof.report", "templates"), autoescape=True, undefined=StrictUndefined,
    trim_blocks=True, lstrip_blocks=True,
)  # fmt: skip


def card_html(card: RunCard) -> str:
    """The same card as one page of HTML that prints on one sheet."""
    return _TEMPLATES.get_template("card.html").render(card=card)
