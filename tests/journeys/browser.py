"""Find a Chromium for the journeys, or get one: what `make test` does on a machine that has none."""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")

FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def find(downloaded: str) -> str | None:
    """Path of a browser: the one that is named, one of the system's, or the one that was downloaded."""
    named = os.environ.get("PULLPROOF_CHROMIUM")
    if named:
        return named
    for name in NAMES:
        path = shutil.which(name)
        if path:
            return path
    return downloaded if Path(downloaded).exists() else None


def get(downloaded: str) -> tuple[str | None, str]:
    """A browser, got if need be, and the reason where there is none. Workers of one run wait for each other."""
    there = find(downloaded)
    if there:
        return there, ""
    lock = Path(tempfile.gettempdir()) / f"pullproof-browser-{os.getuid() if hasattr(os, 'getuid') else 0}"
    for _ in range(600):
        try:
            lock.mkdir()
            break
        except FileExistsError:
            time.sleep(1)
            if find(downloaded):
                return find(downloaded), ""
    try:
        reasons = [_try(command) for command in _commands()]
    finally:
        lock.rmdir()
    return find(downloaded), "; ".join(reason for reason in reasons if reason)


def _commands() -> list[list[str]]:
    commands = [[sys.executable, "-m", "playwright", "install", "chromium"]]
    if hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get"):
        commands.append(["apt-get", "update"])
        commands.append(["apt-get", "install", "-y", "--no-install-recommends", "chromium"])
    return commands


def _try(command: list[str]) -> str:
    """Run one way of getting a browser; the reason where it failed."""
    name = " ".join(command[-3:])
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=280, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"{name}: {type(error).__name__}"
    if done.returncode == 0:
        return ""
    said = (done.stderr or done.stdout).strip().splitlines()
    return f"{name}: {said[-1] if said else done.returncode}"
