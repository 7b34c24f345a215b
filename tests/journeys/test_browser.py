"""Where the journeys get their browser from, and what is said where there is none."""

import sys

import pytest
from tests.journeys import browser


@pytest.fixture
def bare(monkeypatch, tmp_path):
    """A machine without any browser, and ways to get one that fail."""
    monkeypatch.delenv("PULLPROOF_CHROMIUM", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    failing = [sys.executable, "-c", "raise SystemExit('no network')"]
    monkeypatch.setattr(browser, "_commands", lambda: [failing])
    return tmp_path


def test_named_browser_goes_before_all_others(monkeypatch):
    """Whoever names a browser gets that one."""
    monkeypatch.setenv("PULLPROOF_CHROMIUM", "/opt/own/chrome")
    assert browser.find("nowhere") == "/opt/own/chrome"


def test_browser_that_was_downloaded_is_found(bare):
    """What `playwright install` brought is used where the system has none."""
    (bare / "downloaded").touch()
    assert browser.get(str(bare / "downloaded")) == (str(bare / "downloaded"), "")


def test_reason_is_given_where_none_is_to_be_had(bare):
    """Where every way fails, the journeys are skipped with what went wrong."""
    path, reason = browser.get(str(bare / "nothing"))
    assert path is None
    assert "no network" in reason


def test_way_to_get_one_is_tried(bare, monkeypatch):
    """A way that works is taken, and what it brought is found."""
    making = [sys.executable, "-c", f"open({str(bare / 'downloaded')!r}, 'w')"]
    monkeypatch.setattr(browser, "_commands", lambda: [making])
    assert browser.get(str(bare / "downloaded")) == (str(bare / "downloaded"), "")
