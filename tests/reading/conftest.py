"""Files for the tests of reading."""

from pathlib import Path

import pytest

from pullproof.reading import read_log

SHARED = Path(__file__).parents[3] / "shared" / "logs"


@pytest.fixture(scope="session")
def shared_logs() -> Path:
    """Folder of real logs that may not be copied; tests that need it are skipped where it is absent."""
    if not SHARED.is_dir():
        pytest.skip("the folder of real logs is not beside the repository")
    return SHARED


@pytest.fixture
def read(tmp_path):
    """Write text (or bytes) to a file and read it as a log."""

    def write_and_read(content, car=None, name="log.csv", encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
        return read_log(path, car)

    return write_and_read


@pytest.fixture
def taken():
    """What each header was taken for: header to (channel, unit)."""
    return lambda log: {column.header: (column.channel, column.unit) for column in log.columns}
