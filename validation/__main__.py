"""`python -m validation`: try the verdict on simulated cars and write docs/validation.md."""

import argparse
import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SUBSET_CHUNKS = 60
FULL_CHUNKS = 120


def main(arguments: list[str] | None = None) -> int:
    """Parse the command line, run, report."""
    parser = argparse.ArgumentParser(prog="python -m validation", description=__doc__)
    size = parser.add_mutually_exclusive_group()
    size.add_argument("--subset", action="store_true", help=f"at most {SUBSET_CHUNKS} chunks of four cars (default)")
    size.add_argument("--full", action="store_true", help=f"{FULL_CHUNKS} chunks of four cars")
    parser.add_argument("--minutes", type=float, help="start no new chunk after this time; what is done counts")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--development", action="store_true", help="development seeds; the report goes beside the rows")
    parser.add_argument("--chunks", type=int, help="number of chunks, where neither size fits")
    parser.add_argument("--folder", type=Path, help="where rows are kept, so that two runs do not meet")
    parser.add_argument("--fresh", action="store_true", help="forget rows of earlier runs")
    parser.add_argument("--report-only", action="store_true", help="write the report from the rows on disk")
    options = parser.parse_args(arguments)
    return _run(options)


def _run(options: argparse.Namespace) -> int:
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "POLARS_MAX_THREADS"):
        os.environ.setdefault(name, "1")
    from validation.plan import DEVELOPMENT_SEEDS, REPORT_SEEDS  # after the thread settings
    from validation.report import write_report
    from validation.runner import KINDS, load, run

    seeds = DEVELOPMENT_SEEDS if options.development else REPORT_SEEDS
    kind = "development" if options.development else "report"
    folder = options.folder or ROOT / "build" / "validation" / kind
    if options.fresh and folder.exists():
        for path in folder.glob("*.parquet"):
            path.unlink()
    chunks = options.chunks or (FULL_CHUNKS if options.full else SUBSET_CHUNKS)
    if not options.report_only:
        finished = run(seeds, chunks, folder, minutes=options.minutes, processes=options.processes, progress=_progress)
        sys.stderr.write("\n" if finished else "\nstopped; reporting what is done\n")
    tables = [load(folder, name) for name in KINDS]
    if any(table.height == 0 for table in tables):
        sys.stderr.write("not enough rows for a report yet\n")
        return 1
    target = folder / "validation.md" if options.development else ROOT / "docs" / "validation.md"
    words = "--full" if options.full else "--subset"
    limit = f" --minutes {options.minutes:g}" if options.minutes else ""
    write_report(
        *tables,
        target,
        seeds=f"{kind} seeds from {seeds:,}".replace(",", " "),
        command=f"python -m validation {words}{limit}{' --development' if options.development else ''}",
    )
    if options.full and not options.development:
        from validation.track_record import track_record

        record = ROOT / "src" / "pullproof" / "report" / "track_record.toml"
        record.write_text(track_record(tables[0]), encoding="utf-8", newline="\n")
    sys.stderr.write(f"{target}\n")
    return 0


def _progress(done: int, total: int, elapsed: float) -> None:
    sys.stderr.write(f"\r{done} of {total} chunks, {elapsed / 60:.1f} min ")
    sys.stderr.flush()


if __name__ == "__main__":
    sys.exit(main())
