"""A newcomer with an empty library: from the start page to a first verdict, without a command and without a manual."""

import re

from playwright.sync_api import expect
from tests.journeys.running import check_accessible, fits, shoot

BOTH_SIDES = "/cars/1/compare?before=l1,l2&after=l3,l4"


def test_first_verdict_from_an_empty_library(page, served, demo_files):
    """Name a car, drop the logs of both sides, see what was recognised, read the verdict: four clicks."""
    page.get_by_role("link", name="Begin with a car").click()
    page.get_by_label("Name").fill("blue hatch")
    page.get_by_label("Redline, rpm").fill("6800")
    page.get_by_label("Logs from before the change").set_input_files([str(path) for path in demo_files.before])
    page.get_by_label("Recorded on").first.fill("2026-05-09")
    page.get_by_label("What was changed").fill("wider charge pipe")
    page.get_by_label("Logs from after the change").set_input_files([str(path) for path in demo_files.after])
    page.get_by_label("Recorded on").last.fill("2026-05-17")
    check_accessible(page)
    page.get_by_role("button", name="Add the car and read its logs").click()
    expect(page.get_by_role("heading", name="The logs are in")).to_be_visible()
    for path in (*demo_files.before, *demo_files.after):
        expect(page.get_by_role("link", name=path.name, exact=True)).to_be_visible()
    check_accessible(page)
    shoot(page, "imported")
    page.get_by_role("link", name="Compare before and after").click()
    expect(page.locator(".sentence")).to_contain_text(re.compile(r"pulls? before and \d+ after"))
    expect(page.get_by_role("heading", name="Fairness checks")).to_be_visible()
    expect(page.get_by_text("closed course or a dynamometer")).to_be_visible()
    check_accessible(page)
    fits(page)
    shoot(page, "first verdict")


def test_demo_leads_to_a_verdict(page, served):
    """Whoever has no logs at hand puts the demo car into the library and reads a verdict in two clicks."""
    page.set_default_timeout(60_000)
    page.get_by_role("button", name="Put the demo car into this library").click()
    page.get_by_role("link", name="Charge pipe from turbocharger to cooler").first.click()
    expect(page.locator(".sentence")).to_contain_text(re.compile(r"pulls? before and \d+ after"))


def test_comparison_is_its_address(new_page, demo):
    """Reload, back and a second tab show the same: a pull that was clicked out, another window, another measure."""
    page = new_page(demo, BOTH_SIDES)
    first = page.locator(".sentence").inner_text()
    switch = page.get_by_role("switch").first
    expect(switch).to_be_checked()
    switch.click()
    expect(page.get_by_role("switch").first).not_to_be_checked()
    expect(page.locator(".sentence")).to_contain_text("4 pulls before and 4 after")
    assert "out=" in page.url
    changed = page.locator(".sentence").inner_text()
    page.reload()
    expect(page.locator(".sentence")).to_have_text(changed)
    other = page.context.new_page()
    other.goto(page.url)
    expect(other.locator(".sentence")).to_have_text(changed)
    page.go_back()
    expect(page.locator(".sentence")).to_have_text(first)
    page.get_by_label("From, rpm").fill("4500")
    page.get_by_label("Main measure").select_option("boost.mean")
    page.get_by_role("button", name="Reckon anew").click()
    expect(page.locator(".sentence")).to_contain_text("boost")
    assert "window=4500-" in page.url


def test_the_air_system_stands_below_the_measures(new_page, demo):
    """Cooler, pressures and the suspicion of a leak come after the verdict, and follow a pull that is clicked out."""
    page = new_page(demo, BOTH_SIDES)
    page.set_default_timeout(30_000)
    expect(page.get_by_role("heading", name="The air system, before and after")).to_be_visible()
    table = page.get_by_role("table").filter(has_text="Pressure ratio")
    expect(table).to_be_visible()
    first = table.inner_text()
    page.get_by_role("switch").first.click()
    expect(page.locator(".sentence")).to_contain_text("4 pulls before and 4 after")
    expect(page.get_by_role("table").filter(has_text="Pressure ratio")).not_to_have_text(first)
    check_accessible(page)
    fits(page)
    shoot(page, "air system")


def test_window_is_brushed_on_the_curves(new_page, demo):
    """Dragging over the pulls sets the window, and everything is reckoned anew."""
    page = new_page(demo, BOTH_SIDES)
    expect(page.locator("#overview[data-ready]")).to_be_visible()
    box = page.locator("#overview .u-over").bounding_box()
    page.locator("#overview").scroll_into_view_if_needed()
    box = page.locator("#overview .u-over").bounding_box()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.8 * box["width"], box["y"] + 60, steps=5)
    page.mouse.up()
    expect(page).to_have_url(re.compile(r"window=\d+-\d+"))
    low, high = (int(end) for end in re.search(r"window=(\d+)-(\d+)", page.url).groups())
    assert 4000 < low < high < 6500
    expect(page.get_by_label("From, rpm")).to_have_value(str(low))


def test_comparison_is_kept_named_and_taken_away(new_page, demo, tmp_path):
    """A comparison is kept with a name and a note, found again, exported in every kind, deleted and brought back."""
    page = new_page(demo, BOTH_SIDES)
    page.get_by_label("Name").fill("wider pipe, two Sundays")
    page.get_by_label("Note").fill("hose clamp was loose on the first run")
    page.get_by_role("button", name="Keep this comparison").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("wider pipe, two Sundays")
    heads = {"html": b"<!doctype html>", "pdf": b"%PDF-", "png": b"\x89PNG", "csv": b"verdict,", "json": b"{"}
    for kind, word in (("html", "report"), ("pdf", "PDF"), ("png", "picture"), ("csv", "table for"), ("json", "JSON")):
        with page.expect_download() as download:
            page.locator(f'a[href*="/report/{kind}?"]').filter(has_text=word).click()
        target = tmp_path / f"report.{kind}"
        download.value.save_as(target)
        assert target.read_bytes().startswith(heads[kind])
    page.get_by_role("link", name="Compare", exact=True).click()
    expect(page.get_by_text("hose clamp was loose")).to_be_visible()
    page.get_by_role("link", name="wider pipe, two Sundays").click()
    page.get_by_role("button", name="Delete this comparison").click()
    expect(page.get_by_text("The comparison was deleted")).to_be_visible()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("link", name="wider pipe, two Sundays")).to_be_visible()
