"""Numbers and moments from the fields of a form, and a sentence where a field holds something else."""

import datetime
import math

from pullproof.errors import WrongUse
from pullproof.web.routing import Form

__all__ = ["date_in", "moment_in", "number_in"]


def number_in(form: Form, name: str, label: str, low: float, high: float) -> float | None:
    """A number between two limits; None where the field is empty. A decimal comma will do.

    Raises
    ------
    WrongUse
        It is no number, or beyond the limits.
    """
    text = form.text(name)
    if not text:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise WrongUse(f'{label} is "{text}"', advice=f"Give a number from {low:g} to {high:g}, or leave it empty.")
    return value


def date_in(form: Form, name: str, label: str) -> datetime.date | None:
    """A date; None where the field is empty.

    Raises
    ------
    WrongUse
        It is no date.
    """
    text = form.text(name)
    try:
        return datetime.date.fromisoformat(text) if text else None
    except ValueError:
        raise WrongUse(f'{label} is "{text}"', advice="Give a date such as 2026-10-03.") from None


def moment_in(form: Form, name: str, label: str) -> datetime.datetime | None:
    """A date, with or without the time of day on the wall clock; None where the field is empty.

    Raises
    ------
    WrongUse
        It is neither.
    """
    text = form.text(name)
    try:
        moment = datetime.datetime.fromisoformat(text) if text else None
    except ValueError:
        moment = None
    if text and (moment is None or moment.tzinfo is not None):
        raise WrongUse(f'{label} is "{text}"', advice="Give a date such as 2026-10-03, and a time such as 16:20.")
    return moment
