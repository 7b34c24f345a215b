"""Is everything that the catalogue names still there, and still what it was?

Originals and photos cannot be made again: one that is missing or changed is damage. Samples can, and a file that no
row names is only clutter, such as a power cut leaves behind: those are put right by `repair`.
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from sqlalchemy import select, text

from pullproof.errors import CannotRead, PullproofError
from pullproof.library.files import clear_incoming, hash_file, original_path, samples_path
from pullproof.library.opening import Library
from pullproof.library.schema import LogRow, PhotoRow
from pullproof.library.shelf import make_samples_anew

__all__ = ["Check", "Finding", "check_library", "repair_library"]

Kind = Literal[
    "catalogue damaged",
    "original missing",
    "original changed",
    "samples missing",
    "samples changed",
    "file not named",
    "left in incoming",
]
DAMAGE: frozenset[Kind] = frozenset({"catalogue damaged", "original missing", "original changed"})
_SETTLED_S = 24 * 3600.0
"""A file that no row names may belong to an import that runs now; after this time it does not. [s]"""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as it should be."""

    kind: Kind
    file: str
    """Path within the library; empty where it is about the catalogue."""
    sentence: str
    log_id: int | None = None

    @property
    def damage(self) -> bool:
        """It cannot be made again from what the library holds."""
        return self.kind in DAMAGE


@dataclass(frozen=True, slots=True)
class Check:
    """What was looked at and what was found. Sound: no damage; clean: nothing to put right either."""

    logs: int
    photos: int
    files: int
    size: int
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        """Nothing is lost."""
        return not any(finding.damage for finding in self.findings)


def check_library(library: Library, progress: Callable[[int, int], None] | None = None) -> Check:
    """Hash every file of a library and compare with the catalogue; `progress` hears of files done and in all."""
    # Files first, rows second: a row that comes in between names a file that is there.
    present = sorted(
        path for name in ("originals", "samples") for path in (library.folder / name).rglob("*") if path.is_file()
    )
    with library.reading() as session:
        logs = list(session.scalars(select(LogRow).order_by(LogRow.id)))
        photos = list(session.scalars(select(PhotoRow).order_by(PhotoRow.id)))
    found = list(_catalogue(library))
    named = _named(library.folder, logs, photos)
    size = 0
    for done, (path, wanted) in enumerate(named.items(), 1):
        size += wanted.size
        finding = _compared(library.folder, path, wanted)
        if finding is not None:
            found.append(finding)
        if progress is not None:
            progress(done, len(named))
    found += (
        Finding("file not named", _within(library.folder, path), "No row of the catalogue names it.")
        for path in present
        if path not in named
    )
    found += (
        Finding("left in incoming", _within(library.folder, path), "An import runs, or was cut off.")
        for path in sorted((library.folder / "incoming").iterdir())
    )
    return Check(len(logs), len(photos), len(named), size, tuple(found))


def repair_library(library: Library, check: Check) -> tuple[str, ...]:
    """Make missing or changed samples anew and remove old clutter; a sentence on each that did not work."""
    failed = []
    for finding in check.findings:
        if finding.kind in ("samples missing", "samples changed") and finding.log_id is not None:
            try:
                make_samples_anew(library, finding.log_id)
            except PullproofError as error:
                failed.append(str(error))
        elif finding.kind == "file not named":
            path = library.folder / finding.file
            if time.time() - path.stat().st_mtime > _SETTLED_S:
                path.unlink()
    clear_incoming(library.folder)
    return tuple(failed)


@dataclass(frozen=True, slots=True)
class _Named:
    """A file that rows name."""

    kind: Literal["original", "samples"]
    hash: str
    size: int
    log_id: int | None
    called: str


def _named(folder: Path, logs: list[LogRow], photos: list[PhotoRow]) -> dict[Path, _Named]:
    named: dict[Path, _Named] = {}
    for log in logs:
        original = _Named("original", log.hash, log.size, log.id, log.name)
        named.setdefault(original_path(folder, log.hash), original)
        for entry in log.companions:
            beside = _Named("original", entry["hash"], entry["size"], log.id, entry["file"])
            named.setdefault(original_path(folder, entry["hash"]), beside)
        samples = _Named("samples", log.samples_hash, log.samples_size, log.id, log.name)
        named.setdefault(samples_path(folder, log.hash, log.reading_key), samples)
    for photo in photos:
        named.setdefault(
            original_path(folder, photo.hash), _Named("original", photo.hash, photo.size, None, photo.file)
        )
    return named


def _compared(folder: Path, path: Path, wanted: _Named) -> Finding | None:
    where = _within(folder, path)
    mend = (
        f"Restore a backup, or import {wanted.called} again."
        if wanted.kind == "original"
        else "It can be made again: pullproof library check --repair."
    )
    missing: Kind = "original missing" if wanted.kind == "original" else "samples missing"
    changed: Kind = "original changed" if wanted.kind == "original" else "samples changed"
    if not path.exists():
        return Finding(missing, where, f"{wanted.called}: the file is gone. {mend}", wanted.log_id)
    try:
        seen = hash_file(path)
    except CannotRead as error:
        return Finding(changed, where, f"{wanted.called}: {error.what}. {mend}", wanted.log_id)
    if seen.hash == wanted.hash:
        return None
    size = f"{seen.size} bytes instead of {wanted.size}" if seen.size != wanted.size else "other bytes than before"
    return Finding(changed, where, f"{wanted.called}: {size}. {mend}", wanted.log_id)


def _catalogue(library: Library) -> Iterator[Finding]:
    """What SQLite says of its own file; PostgreSQL looks after itself."""
    if library.engine.dialect.name != "sqlite":
        return
    with library.reading() as session:
        for (said,) in session.execute(text("PRAGMA integrity_check(20)")):
            if said != "ok":
                yield Finding("catalogue damaged", "", f"{said}. Restore a backup.")
        for table, *_ in session.execute(text("PRAGMA foreign_key_check")):
            yield Finding(
                "catalogue damaged", "", f"A row of {table} points to one that is not there. Restore a backup."
            )


def _within(folder: Path, path: Path) -> str:
    return path.relative_to(folder).as_posix()
