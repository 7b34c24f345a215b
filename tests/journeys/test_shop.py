"""The same pages over a catalogue in PostgreSQL."""

from playwright.sync_api import expect
from tests.library.small_logs import log_text


def test_first_verdict_from_postgresql(new_page, shop, tmp_path):
    """A car with the logs of both sides is compared, and kept, where the catalogue lives in PostgreSQL."""
    for number in range(4):
        (tmp_path / f"run-{number}.csv").write_text(log_text(number), encoding="utf-8")
    page = new_page(shop, "/cars/new")
    page.get_by_label("Name").fill("customer's van")
    page.get_by_label("Logs from before the change").set_input_files([str(tmp_path / f"run-{n}.csv") for n in (0, 1)])
    page.get_by_label("Recorded on").first.fill("2026-05-09")
    page.get_by_label("Logs from after the change").set_input_files([str(tmp_path / f"run-{n}.csv") for n in (2, 3)])
    page.get_by_label("Recorded on").last.fill("2026-05-17")
    page.get_by_role("button", name="Add the car and read its logs").click()
    page.get_by_role("link", name="Compare before and after").click()
    expect(page.locator(".sentence")).to_contain_text("2 pulls before and 2 after")
    page.get_by_label("Name").fill("van, first look")
    page.get_by_role("button", name="Keep this comparison").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("van, first look")
