"""Kill a real import again and again, and look each time whether something that it told of is lost.

The test suite does it a few times. By hand, as long as you like:

    python tests/library/power_cut.py --kills 200 [--workers 2] [--logs 60] [--database ADDRESS]
"""

import argparse
import hashlib
import random
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pullproof.library import catalogue, open_library
from pullproof.library.checking import check_library
from pullproof.library.files import hash_file, original_path

CLUTTER = {"file not named", "left in incoming"}
"""What a power cut may leave behind: it costs room and nothing else."""

TOLD = re.compile(r"\d+/\d+ (imported|there) (.+?)(?: \(\d+ pulls, \d+ used\))?\n")


@dataclass
class Tally:
    """What happened over all kills."""

    kills: int = 0
    libraries: int = 0
    told: set[str] = field(default_factory=set)
    moments: Counter[str] = field(default_factory=Counter)
    clutter: int = 0
    imported: int = 0


def run_import(logs: Path, sheet: Path, library: Path, more: Sequence[str]) -> subprocess.Popen[str]:
    """The real command in a process of its own."""
    command = [sys.executable, "-m", "pullproof", "library", "import", str(logs), "--car", str(sheet)]
    return subprocess.Popen(
        [*command, "--library", str(library), *more], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def kill_once(process: subprocess.Popen[str], chance: random.Random, begin: float) -> tuple[list[str], str]:
    """Kill an import (SIGKILL) at a random moment; gives the files that it told of, and about where it was.

    One time in four the moment is drawn from the start of the process, so that the making of the library and its
    tables is hit too; else from when some files were imported, over about the time that the next one takes.
    """
    assert process.stdout is not None
    lines: list[str] = []
    if chance.random() < 1 / 4:
        time.sleep(chance.uniform(0.3, 1.2) * begin)
        where = "while starting"
    else:
        left = chance.randint(1, 4)
        while left and (line := process.stdout.readline()):
            lines.append(line)
            left -= " imported " in line
        time.sleep(chance.uniform(0.0, 0.06))
        where = "among files"
    process.kill()
    lines += process.stdout.readlines()
    if process.wait() == 0:
        where = "after the end"
    assert process.stderr is not None
    process.stdout.close()
    process.stderr.close()
    # A line that was cut off was not told.
    return [found[2] for line in lines if (found := TOLD.fullmatch(line))], where


def lost(library: Path, told: set[str], tally: Tally, database: str | None) -> list[str]:
    """A sentence on everything that was told of and is not there, whole, with rows and files that agree."""
    if not (library / "library.json").exists():
        return [f"the library is gone, after {len(told)} files"] if told else []
    found = []
    with open_library(library, database) as opened:
        with opened.reading() as session:
            rows = {row.hash: row for car in catalogue.cars(session) for row in catalogue.logs(session, car.id)}
        for path in sorted(told):
            digest = hashlib.sha256(Path(path).read_bytes()).hexdigest()
            original = original_path(library, digest)
            if digest not in rows:
                found.append(f"{path} was told of and has no row")
            elif not original.exists() or hash_file(original).hash != digest:
                found.append(f"{path} was told of and its original is missing or changed")
        check = check_library(opened)
    found += [f"{finding.kind}: {finding.sentence}" for finding in check.findings if finding.kind not in CLUTTER]
    tally.clutter += len(check.findings)
    return found


def trial(
    place: Path,
    logs: Path,
    sheet: Path,
    kills: int,
    *,
    seed: int,
    more: Sequence[str] = (),
    database: str | None = None,
) -> Tally:
    """Kill imports into one library, and into a new one whenever it is full; AssertionError at the first loss."""
    chance, tally = random.Random(seed), Tally()
    count = sum(1 for _ in logs.iterdir())
    begun = time.monotonic()
    first = run_import(logs, sheet, place / "first", ["--workers", "0"])
    assert first.stdout is not None
    first.stdout.readline()
    begin = time.monotonic() - begun
    first.kill()
    first.communicate()
    library = place / "library-0"
    while tally.kills < kills:
        told, where = kill_once(run_import(logs, sheet, library, more), chance, begin)
        tally.kills += 1
        tally.moments[where] += 1
        tally.imported += len(set(told) - tally.told)
        tally.told |= set(told)
        missing = lost(library, tally.told, tally, database)
        assert not missing, f"kill {tally.kills} ({where}): {missing}"
        if len(tally.told) == count and database is None:
            finish(library, logs, sheet, count, more, database)
            tally.libraries, tally.told = tally.libraries + 1, set()
            library = place / f"library-{tally.libraries}"
    finish(library, logs, sheet, count, more, database)
    return tally


def finish(library: Path, logs: Path, sheet: Path, count: int, more: Sequence[str], database: str | None) -> None:
    """An import that is left alone completes what the killed ones began."""
    process = run_import(logs, sheet, library, more)
    said, error = process.communicate()
    assert process.returncode == 0, error
    assert len(TOLD.findall(said)) == count
    with open_library(library, database) as opened, opened.reading() as session:
        (car,) = catalogue.cars(session)
        assert len(catalogue.logs(session, car.id)) == count


def main() -> None:
    """Do it by hand."""
    from small_logs import SHEET, log_text  # beside this file, which is run as a script

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--logs", type=int, default=40)
    parser.add_argument("--workers", default="1")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--database")
    said = parser.parse_args()
    more = ["--workers", said.workers, *(["--database", said.database] if said.database else [])]
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "logs").mkdir()
        for number in range(said.logs):
            (place / "logs" / f"{number:03}.csv").write_text(log_text(number))
        (place / "car.toml").write_text(SHEET)
        started = time.monotonic()
        tally = trial(
            place, place / "logs", place / "car.toml", said.kills, seed=said.seed, more=more, database=said.database
        )
        taken = time.monotonic() - started
    print(f"{tally.kills} kills in {taken:.0f} s, {dict(tally.moments)}: nothing lost")  # noqa: T201
    print(f"{tally.imported} files told of, {tally.libraries} libraries filled, {tally.clutter} pieces of clutter")  # noqa: T201


if __name__ == "__main__":
    main()
