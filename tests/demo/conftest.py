from pathlib import Path

import pytest

from pullproof.demo import DemoFiles, make_demo


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    """The demo as a user gets it, written once for all tests."""
    folder: Path = tmp_path_factory.mktemp("demo") / "made" / "here"
    return make_demo(folder)
