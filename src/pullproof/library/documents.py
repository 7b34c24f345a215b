"""What the commands of the library say, as JSON."""

from collections.abc import Sequence
from typing import Any

from pullproof.library.backup import Backup
from pullproof.library.checking import Check
from pullproof.library.importing import FileOutcome
from pullproof.library.overview import CarOverview

__all__ = ["backup_document", "check_document", "import_document", "list_document"]

Document = dict[str, Any]


def list_document(folder: str, cars: Sequence[CarOverview]) -> Document:
    """`pullproof library list`."""
    return {
        "schema": "pullproof.library/1",
        "library": folder,
        "cars": [
            {
                "name": car.name,
                "changes": car.changes,
                "logs": car.logs,
                "pulls": car.pulls,
                "used": car.used,
                "days": [
                    {
                        "label": day.label,
                        "date": None if day.date is None else day.date.isoformat(),
                        "logs": day.logs,
                        "pulls": day.pulls,
                        "used": day.used,
                        "builds": [list(build) for build in day.builds],
                    }
                    for day in car.days
                ],
            }
            for car in cars
        ],
    }


def check_document(check: Check) -> Document:
    """`pullproof library check`."""
    return {
        "schema": "pullproof.library-check/1",
        "sound": check.sound,
        "logs": check.logs,
        "photos": check.photos,
        "files": check.files,
        "bytes": check.size,
        "findings": [
            {
                "kind": finding.kind,
                "damage": finding.damage,
                "file": finding.file or None,
                "log": finding.log_id,
                "sentence": finding.sentence,
            }
            for finding in check.findings
        ],
    }


def backup_document(backup: Backup) -> Document:
    """`pullproof library backup` and `restore`."""
    return {
        "schema": "pullproof.library-backup/1",
        "file": str(backup.path),
        "library": backup.library_id,
        "made_at": backup.made_at,
        "rows": backup.rows,
        "files": backup.files,
        "bytes": backup.size,
        "missing": list(backup.missing),
    }


def import_document(folder: str, car: str, outcomes: Sequence[FileOutcome], *, stopped: bool) -> Document:
    """`pullproof library import`."""
    count = {kind: sum(outcome.outcome == kind for outcome in outcomes) for kind in ("imported", "there", "failed")}
    return {
        "schema": "pullproof.library-import/1",
        "library": folder,
        "car": car,
        "stopped": stopped,
        **count,
        "files": [
            {
                "path": outcome.path,
                "outcome": outcome.outcome,
                "sentence": outcome.sentence or None,
                "log": outcome.log_id,
                "sha256": outcome.hash,
                "pulls": outcome.pulls,
                "used": outcome.used,
            }
            for outcome in outcomes
        ],
    }
