"""How much memory a file may take before the machine gives out; asked before, because afterwards nobody answers."""

from pathlib import Path

from pullproof.errors import CannotRead

__all__ = ["available_memory", "require_memory"]


def available_memory() -> int | None:
    """Bytes that can still be taken, or None where the system does not say.

    The least of what the machine, the container and the process limit leave.
    """
    found = [value for value in (_machine(), _container(), _process_limit()) if value is not None]
    return min(found, default=None)


def require_memory(needed: int, where: str) -> None:
    """Refuse a file that would not fit.

    Raises
    ------
    CannotRead
        `needed` bytes are more than what is left.
    """
    left = available_memory()
    if left is not None and needed > left:
        raise CannotRead(
            f"the log needs about {needed / 1e9:.1f} GB of memory and {max(left, 0) / 1e9:.1f} GB are free",
            where=where,
            advice="Export a part of it (the minutes with the pulls, or fewer channels), or close other programs.",
        )


def _number(path: str) -> int | None:
    try:
        return int(Path(path).read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None


def _machine() -> int | None:
    try:
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
    except OSError:
        return None
    return next((int(line.split()[1]) * 1024 for line in lines if line.startswith("MemAvailable:")), None)


def _container() -> int | None:
    limit, used = _number("/sys/fs/cgroup/memory.max"), _number("/sys/fs/cgroup/memory.current")
    return None if limit is None or used is None else limit - used


def _process_limit() -> int | None:
    try:
        import resource
    except ImportError:
        return None
    limit = resource.getrlimit(resource.RLIMIT_AS)[0]
    if limit == resource.RLIM_INFINITY:
        return None
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    except (OSError, ValueError):
        return limit
    return limit - pages * resource.getpagesize()
