"""From an original to what the catalogue keeps of it: the log, its logger's fingerprint, and the pulls.

Nothing here knows the catalogue, so that it can run in a process of its own.
"""

import dataclasses
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from pullproof.car import Car, ColumnRule
from pullproof.errors import CannotAnswer, PullproofError
from pullproof.library.code import reading_code
from pullproof.library.files import arranged
from pullproof.pulls import Pull, find_pulls
from pullproof.reading import read_log
from pullproof.reading.log import Log

__all__ = [
    "Decisions",
    "ReadOriginal",
    "companions_of",
    "found_in",
    "pulls_key",
    "read_original",
    "reading_key",
    "signature_of",
    "with_decisions",
]

Decisions = Mapping[str, Mapping[str, ColumnRule]]
"""Signature of a logger to header to what was decided of that column."""


@dataclass(frozen=True, slots=True)
class ReadOriginal:
    """A log as it was read with all that the owner says of its columns; `pulls` is empty where it shows no engine."""

    log: Log
    pulls: tuple[Pull, ...]
    signature: str
    reading_key: str
    pulls_key: str


def signature_of(log: Log) -> str:
    """Fingerprint of a logger as it is set up: the headers of its columns, in any order."""
    said = json.dumps(sorted(column.header for column in log.columns))
    return hashlib.sha256(said.encode()).hexdigest()


def reading_key(car: Car) -> str:
    """Fingerprint of everything beside the file that a reading depends on."""
    rules = {header: [rule.channel, rule.unit] for header, rule in car.columns.items()}
    return _fingerprint([reading_code(), rules, car.decimal, car.boost.wastegate_duty_closed, car.engine.fuel])


def pulls_key(car: Car) -> str:
    """Fingerprint of everything that the search for pulls depends on."""
    said = {
        field.name: getattr(car, field.name)
        for field in dataclasses.fields(car)
        if field.name in ("tyre", "gear_ratios", "final_drive")
    }
    return _fingerprint([reading_key(car), said, car.engine.redline_rpm])


def with_decisions(car: Car, decided: Mapping[str, ColumnRule]) -> Car:
    """The car with what was decided of its logger's columns; the car sheet's own word goes before that."""
    return dataclasses.replace(car, columns=MappingProxyType({**decided, **car.columns}))


def companions_of(path: Path) -> tuple[Path, ...]:
    """Files beside a log without which it cannot be read: the databases (.dbc) of an MDF recording."""
    if path.suffix.lower() not in (".mf4", ".mdf", ".dat"):
        return ()
    beside = sorted(path.parent.glob("*.[dD][bB][cC]"))
    own = [other for other in beside if other.stem == path.stem]
    return tuple(own or beside)


def read_original(
    folder: Path, original: Path, name: str, companions: Mapping[str, str], car: Car, decisions: Decisions
) -> ReadOriginal:
    """Read an original as a log of this name.

    Parameters
    ----------
    folder : Path
        The library.
    original : Path
        The file among the originals.
    name : str
        What the log is called.
    companions : mapping
        Files that have to lie beside it: name to hash.
    car : Car
        From its sheet alone.
    decisions : mapping
        What was decided of the columns of every logger.

    Raises
    ------
    CannotRead, WrongUse
        As `read_log`; the sentence names the log, not its place in the library.
    """
    with arranged(folder, original, name, dict(companions)) as path:
        try:
            log = read_log(path, car)
            signature = signature_of(log)
            decided = with_decisions(car, decisions.get(signature, {}))
            if decided.columns != car.columns:
                log = read_log(path, decided)
        except PullproofError as error:
            raise type(error)(
                error.what.replace(str(path), name), where=error.where.replace(str(path), name), advice=error.advice
            ) from error
    return found_in(dataclasses.replace(log, file=name), decided)


def found_in(log: Log, car: Car) -> ReadOriginal:
    """A log that was read with this car (decisions included), with the pulls in it."""
    try:
        pulls = find_pulls(log, car)
    except CannotAnswer:
        pulls = ()
    return ReadOriginal(log, pulls, signature_of(log), reading_key(car), pulls_key(car))


def _fingerprint(said: object) -> str:
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()
