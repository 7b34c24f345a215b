"""Accounts and sessions, for an application that others on the network can reach.

They lie in a file of their own beside the library, so that no backup of a library carries passwords. Of a password
only its argon2 hash is kept, of a session only the hash of its secret: who reads the file cannot sign in with it.
"""

import hashlib
import hmac
import secrets
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from pullproof.errors import WrongUse

__all__ = ["Accounts", "Person", "TooManyAttempts"]

SHORTEST_PASSWORD: Final = 10
LONGEST_PASSWORD: Final = 200

IDLE_S: Final = 14 * 86_400
LONGEST_S: Final = 90 * 86_400
"""A session ends after so long without a request, and after so long in any case."""

ATTEMPTS_S: Final = 900
PER_PAIR: Final = 5
PER_PLACE: Final = 20
"""Failed attempts within that time from one place: for one name, and for all names."""

SEEN_EVERY_S: Final = 60

TABLES: Final = """
CREATE TABLE IF NOT EXISTS people (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    password TEXT NOT NULL, made_at REAL NOT NULL);
CREATE TABLE IF NOT EXISTS sessions (hash TEXT PRIMARY KEY, person INTEGER NOT NULL REFERENCES people(id)
    ON DELETE CASCADE, made_at REAL NOT NULL, seen_at REAL NOT NULL);
CREATE TABLE IF NOT EXISTS attempts (name TEXT NOT NULL, place TEXT NOT NULL, at REAL NOT NULL);
CREATE INDEX IF NOT EXISTS attempts_by_place ON attempts (place, at);
"""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who has an account."""

    id: int
    name: str


class TooManyAttempts(WrongUse):
    """Somebody tries passwords."""


class Accounts:
    """The accounts of one library. `first_key` is what lets somebody make the first account."""

    def __init__(
        self, file: Path, clock: Callable[[], float] = time.time, hasher: PasswordHasher | None = None
    ) -> None:
        self.file = file
        self.first_key = secrets.token_urlsafe(24)
        self._clock = clock
        self._hasher = hasher or PasswordHasher()
        # Hashing takes much memory on purpose: one at a time, or sign-in itself would bring the machine down.
        self._hashing = threading.Lock()
        self._nobody = self._hasher.hash(secrets.token_urlsafe(16))
        with self._open() as database:
            database.executescript(TABLES)
        file.chmod(0o600)

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        database = sqlite3.connect(self.file, timeout=10)
        try:
            database.execute("PRAGMA foreign_keys = ON")
            with database:
                yield database
        finally:
            database.close()

    def people(self) -> list[Person]:
        """Everybody with an account, by name."""
        with self._open() as database:
            return [Person(*row) for row in database.execute("SELECT id, name FROM people ORDER BY name")]

    def add(self, name: str, password: str) -> Person:
        """Make an account.

        Raises
        ------
        WrongUse
            The name is empty or taken, or the password is too short or too long.
        """
        name = name.strip()
        if not name or len(name) > 100 or not name.isprintable():
            raise WrongUse("a name is needed", advice="Give a name of up to 100 letters.")
        _check_password(password)
        with self._hashing:
            hashed = self._hasher.hash(password)
        try:
            with self._open() as database:
                made = database.execute(
                    "INSERT INTO people (name, password, made_at) VALUES (?, ?, ?)", (name, hashed, self._clock())
                )
        except sqlite3.IntegrityError:
            raise WrongUse(f'there is an account "{name}" already', advice="Choose another name.") from None
        return Person(int(made.lastrowid or 0), name)

    def add_first(self, key: str, name: str, password: str) -> Person:
        """Make the first account for whoever holds the key that the terminal printed.

        Raises
        ------
        WrongUse
            The key is wrong, somebody was faster, or as `add`.
        """
        if not hmac.compare_digest(key.encode(), self.first_key.encode()) or self.people():
            raise WrongUse(
                "this is not the way to the first account",
                advice="Open the whole address that `pullproof open` printed, or sign in.",
            )
        return self.add(name, password)

    def remove(self, person: int) -> None:
        """Take an account away, and with it its sessions."""
        with self._open() as database:
            database.execute("DELETE FROM people WHERE id = ?", (person,))

    def sign_in(self, name: str, password: str, place: str) -> str | None:
        """The secret of a new session, or None where name and password do not belong together.

        Raises
        ------
        TooManyAttempts
            Too many attempts have failed from `place`, the network address, of late.
        """
        name = name.strip().casefold()
        self._hold_off(name, place)
        with self._open() as database:
            row = database.execute("SELECT id, password FROM people WHERE name = ?", (name,)).fetchone()
        # An unknown name takes as long as a wrong password, so that nobody learns names from the clock.
        right = self._matches(row[1] if row else self._nobody, password[:LONGEST_PASSWORD]) and row is not None
        with self._open() as database:
            if not right:
                database.execute("INSERT INTO attempts VALUES (?, ?, ?)", (name, place, self._clock()))
                return None
            database.execute("DELETE FROM attempts WHERE name = ? AND place = ?", (name, place))
            secret = secrets.token_urlsafe(32)
            now = self._clock()
            database.execute("INSERT INTO sessions VALUES (?, ?, ?, ?)", (_hash(secret), row[0], now, now))
        return secret

    def who(self, secret: str) -> Person | None:
        """Whose session this is; None where it has ended or never was."""
        now = self._clock()
        with self._open() as database:
            row = database.execute(
                "SELECT people.id, people.name, seen_at FROM sessions JOIN people ON people.id = sessions.person "
                "WHERE hash = ? AND seen_at > ? AND sessions.made_at > ?",
                (_hash(secret), now - IDLE_S, now - LONGEST_S),
            ).fetchone()
            if row is None:
                return None
            if now - row[2] > SEEN_EVERY_S:
                database.execute("UPDATE sessions SET seen_at = ? WHERE hash = ?", (now, _hash(secret)))
        return Person(row[0], row[1])

    def sign_out(self, secret: str) -> None:
        """End a session, and clear away those that have ended of themselves."""
        now = self._clock()
        with self._open() as database:
            database.execute(
                "DELETE FROM sessions WHERE hash = ? OR seen_at < ? OR made_at < ?",
                (_hash(secret), now - IDLE_S, now - LONGEST_S),
            )

    def _hold_off(self, name: str, place: str) -> None:
        since = self._clock() - ATTEMPTS_S
        with self._open() as database:
            database.execute("DELETE FROM attempts WHERE at < ?", (since,))
            here, pair = database.execute(
                "SELECT COUNT(*), COALESCE(SUM(name = ?), 0) FROM attempts WHERE place = ?", (name, place)
            ).fetchone()
        if pair >= PER_PAIR or here >= PER_PLACE:
            raise TooManyAttempts(
                "too many attempts to sign in have failed", advice=f"Wait {ATTEMPTS_S // 60} minutes, then try again."
            )

    def _matches(self, hashed: str, password: str) -> bool:
        with self._hashing:
            try:
                return self._hasher.verify(hashed, password)
            except (VerificationError, InvalidHashError):
                return False


def _check_password(password: str) -> None:
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise WrongUse(
            f"the password has {len(password)} characters",
            advice=f"Take from {SHORTEST_PASSWORD} to {LONGEST_PASSWORD}; a few words do well.",
        )


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
