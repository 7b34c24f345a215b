"""A change: what was done, when, where in the air path, what it cost, photos, and whether it is still to be undone."""

import datetime
from decimal import Decimal, InvalidOperation

from starlette.requests import Request
from starlette.responses import FileResponse, Response

from pullproof.errors import WrongUse
from pullproof.library import catalogue
from pullproof.library.files import original_path
from pullproof.library.schema import CarRow, ChangeRow, PhotoRow
from pullproof.web.desk import desk_of
from pullproof.web.fields import moment_in
from pullproof.web.finding import car_in, found
from pullproof.web.photos import MEDIA_TYPES, keep_photos
from pullproof.web.rendering import render
from pullproof.web.routing import Form, action, go_to, page

__all__ = ["KINDS", "PLACES", "ROUTES"]

KINDS = ("part", "calibration", "hole cut", "repair", "temporary fix", "other")
PLACES = (
    "before the turbocharger",
    "turbocharger",
    "between turbocharger and cooler",
    "charge cooler",
    "between cooler and throttle",
    "throttle and manifold",
    "exhaust",
)
"""Places in the air path that are offered; any other can be typed."""


def add(request: Request, form: Form) -> Response:
    """Something was done to the car."""
    car = car_in(request)
    row = ChangeRow(car_id=car.id, what="", fitted=datetime.datetime.min)  # noqa: DTZ901  set below
    _fill(row, form)
    with desk_of(request).library.transaction() as session:
        catalogue.add(session, row)
    return go_to(request, f"/changes/{row.id}" if form.has("more") else f"/cars/{car.id}/timeline")


def show(request: Request) -> Response:
    """One change with all that is known of it."""
    with desk_of(request).library.reading() as session:
        row = found(session, ChangeRow, request.path_params["change"])
        car = found(session, CarRow, row.car_id)
        photos = catalogue.photos(session, row.id)
    return render(request, "change.html", car=car, row=row, photos=photos, kinds=KINDS, places=PLACES)


def edit(request: Request, form: Form) -> Response:
    """Say more of it, or something else."""
    with desk_of(request).library.transaction() as session:
        row = found(session, ChangeRow, request.path_params["change"])
        _fill(row, form)
        catalogue.add(session, row)
    return go_to(request, f"/changes/{row.id}", saved="yes")


def _fill(row: ChangeRow, form: Form) -> None:
    what, fitted = form.text("what"), moment_in(form, "fitted", "Fitted")
    if not what or fitted is None:
        raise WrongUse("a change needs a name and the day it was fitted", advice="Say what was done, and when.")
    row.what, row.fitted, row.removed = what, fitted, moment_in(form, "removed", "Removed")
    if row.removed is not None and row.removed < row.fitted:
        raise WrongUse("it was removed before it was fitted", advice="Put the two moments in order.")
    row.kind, row.place, row.dimensions = form.text("kind") or "part", form.text("place"), form.text("dimensions")
    row.notes, row.temporary = form.text("notes"), form.has("temporary")
    row.cost, row.currency = _money(form.text("cost")), form.text("currency").upper()[:3] or None


def _money(text: str) -> Decimal | None:
    if not text:
        return None
    try:
        cost = Decimal(text.replace(",", ".")).quantize(Decimal("0.01"))
    except InvalidOperation:
        cost = Decimal(-1)
    if not 0 <= cost < 10**9:
        raise WrongUse(f'the cost is "{text}"', advice="Give an amount such as 190 or 189.90.")
    return cost


def remove(request: Request, form: Form) -> Response:
    """It is off the car again."""
    with desk_of(request).library.transaction() as session:
        row = found(session, ChangeRow, request.path_params["change"])
        row.removed = moment_in(form, "removed", "Removed") or datetime.datetime.now()  # noqa: DTZ005  on the wall
        catalogue.add(session, row)
    return go_to(request, f"/cars/{row.car_id}/timeline")


def delete(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Delete it; it can be taken back."""
    with desk_of(request).library.transaction() as session:
        row = found(session, ChangeRow, request.path_params["change"])
        catalogue.delete(session, row)
    return go_to(request, f"/cars/{row.car_id}/timeline", gone=f"change-{row.id}")


def upload_photos(request: Request, form: Form) -> Response:
    """Photos of it."""
    library = desk_of(request).library
    with library.reading() as session:
        row = found(session, ChangeRow, request.path_params["change"])
    keep_photos(library, row.id, form.files("photos"))
    return go_to(request, f"/changes/{row.id}")


def photo(request: Request) -> Response:
    """A photo, as the kind of picture that it is and nothing else."""
    library = desk_of(request).library
    with library.reading() as session:
        row = found(session, PhotoRow, request.path_params["photo"])
    media = row.media_type if row.media_type in MEDIA_TYPES else "application/octet-stream"
    headers = {"content-security-policy": "default-src 'none'; sandbox", "cache-control": "private, max-age=86400"}
    return FileResponse(original_path(library.folder, row.hash), media_type=media, headers=headers)


def delete_photo(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Delete a photo; it can be taken back."""
    with desk_of(request).library.transaction() as session:
        row = found(session, PhotoRow, request.path_params["photo"])
        catalogue.delete(session, row)
    return go_to(request, f"/changes/{row.change_id}", gone=f"photo-{row.id}")


ROUTES = [
    action("/cars/{car:int}/changes", add),
    page("/changes/{change:int}", show),
    action("/changes/{change:int}", edit),
    action("/changes/{change:int}/remove", remove),
    action("/changes/{change:int}/delete", delete),
    action("/changes/{change:int}/photos/upload", upload_photos),
    page("/photos/{photo:int}", photo),
    action("/photos/{photo:int}/delete", delete_photo),
]
