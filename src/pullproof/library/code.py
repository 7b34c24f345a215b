"""Which code it was: a cache that other code wrote must not be taken for what this code would say."""

import functools
import hashlib
import importlib.metadata
from pathlib import Path

__all__ = ["computing_code", "reading_code", "version"]

_PACKAGE = Path(__file__).parents[1]
_READING = ("arrays", "car", "channels", "pulls", "reading", "sheets", "timebase", "units")
_COMPUTING = (*_READING, "computed_channels", "conditions", "physics", "stats", "tractive_power")


def version() -> str:
    """Version of the package."""
    return importlib.metadata.version("pullproof")


@functools.cache
def reading_code() -> str:
    """Fingerprint of all that makes a log and its pulls of a file."""
    return _fingerprint(_READING)


@functools.cache
def computing_code() -> str:
    """Fingerprint of all that makes a recorded pull of a log."""
    return _fingerprint(_COMPUTING)


def _fingerprint(parts: tuple[str, ...]) -> str:
    """SHA-256 of the source of these modules and packages, data files with it, and of the version."""
    digest = hashlib.sha256(version().encode())
    for part in parts:
        inside = _PACKAGE / part
        files = sorted(inside.rglob("*")) if inside.is_dir() else [inside.with_suffix(".py")]
        for file in files:
            if file.suffix in (".py", ".toml"):
                digest.update(file.relative_to(_PACKAGE).as_posix().encode())
                digest.update(file.read_bytes())
    return digest.hexdigest()
