"""What makes a folder a library: a small file that says so, which library it is, and where its catalogue is."""

import json
import uuid
from contextlib import suppress
from pathlib import Path

from pullproof.errors import CannotRead
from pullproof.library.durable import make_folder, write_durably

__all__ = ["FOLDERS", "MARKER", "enter", "too_new", "write_marker"]

MARKER = "library.json"
FOLDERS = ("originals", "samples", "computed", "incoming")
FORMAT = 1


def enter(place: Path) -> tuple[str, str | None]:
    """Identity of the library, and the remembered address of its catalogue; the folder is made when need be.

    Raises
    ------
    CannotRead
        The folder holds something else, cannot be used, or is a library of a newer version.
    """
    marker = place / MARKER
    try:
        make_folder(place.absolute())
        if not marker.exists():
            strangers = [entry.name for entry in place.iterdir() if not entry.name.startswith("new-")]
            if strangers and not marker.exists():  # another process may have made it at this moment
                raise CannotRead(
                    f"the folder is no library: it holds {sorted(strangers)[0]} and no {MARKER}",
                    where=str(place),
                    advice="Name a library, or an empty folder for a new one.",
                )
            with suppress(FileExistsError):
                write_marker(place, str(uuid.uuid4()), None, new=True)
        said = json.loads(marker.read_text(encoding="utf-8"))
        for name in FOLDERS:
            make_folder((place / name).absolute())
    except OSError as error:
        raise CannotRead(
            f"the library cannot be opened ({error.strerror})", where=str(place), advice="Check path and permissions."
        ) from error
    except ValueError:
        said = None
    if not isinstance(said, dict) or not isinstance(said.get("id"), str) or not isinstance(said.get("format"), int):
        raise CannotRead(f"{MARKER} is damaged", where=str(marker), advice="Restore the library from a backup.")
    if said["format"] > FORMAT:
        raise too_new(str(place))
    return said["id"], said.get("catalogue")


def write_marker(place: Path, identity: str, catalogue: str | None, *, new: bool = False) -> None:
    """Write the marker; with `new`, only where there is none (else FileExistsError)."""
    said = {"what": "pullproof library", "format": FORMAT, "id": identity, "catalogue": catalogue}
    write_durably(place / MARKER, (json.dumps(said, indent=2) + "\n").encode(), new=new)


def too_new(where: str) -> CannotRead:
    """The sentence for what a newer version wrote."""
    return CannotRead(
        "it was written by a newer version of pullproof",
        where=where,
        advice="Update pullproof; this one leaves it alone.",
    )
