import re
import runpy
from pathlib import Path

import pytest

from pullproof.cli.main import COMMANDS

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


def test_reference_pages_are_what_the_code_says() -> None:
    """The generated pages of channels, measures and commands are not stale."""
    assert runpy.run_path(str(ROOT / "docs" / "reference.py"))["stale_pages"]() == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    """Every relative link of a page points at a file that exists."""
    for target in re.findall(r"\]\((?!https?:|#)([^)#]+)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), f"{page.name} links to {target}"


@pytest.mark.parametrize("command", COMMANDS)
def test_the_guide_knows_every_command(command: str) -> None:
    """A command that the guide does not mention is one that nobody finds."""
    assert f"pullproof {command}" in (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")


def test_version_stands_in_the_change_log() -> None:
    """The version of the package has an entry in the change log."""
    version = re.search(r'^version = "(.+)"', (ROOT / "pyproject.toml").read_text(encoding="utf-8"), re.MULTILINE)
    assert version
    assert f"## {version[1]}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
