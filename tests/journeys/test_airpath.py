"""The air path: elements with their dimensions, and the loss that follows as one types."""

import re

from playwright.sync_api import expect
from tests.journeys.running import check_accessible, fits, shoot

from pullproof.library import catalogue


def _loss(page):
    """The loss that the sentence gives. [kPa]"""
    return float(re.search(r"loses ([\d.]+)\skPa", page.locator("#loss .sentence").inner_text())[1])


def test_loss_follows_as_one_types_and_is_kept(new_page, demo):
    """A wider pipe loses less, at once; the address keeps the drawing, and a change keeps the path."""
    page = new_page(demo, "/cars/1/airpath")
    expect(page.get_by_text("No path is on record")).to_be_visible()
    narrow = _loss(page)
    sentence = page.locator("#loss .sentence").inner_text()
    page.get_by_label("Bore, mm", exact=True).fill("60")
    expect(page.locator("#loss .sentence")).not_to_have_text(sentence)
    wide = _loss(page)
    assert wide < 0.6 * narrow
    expect(page).to_have_url(re.compile("before-bore_mm=60"))
    page.reload()
    assert _loss(page) == wide
    page.get_by_role("button", name="Add an element").click()
    expect(page.locator(".elements > li")).to_have_count(5)
    page.locator(".elements > li").nth(4).locator("select").select_option("bend")
    page.locator(".elements > li").nth(4).get_by_label("angle").fill("90")
    page.locator(".elements > li").nth(4).get_by_label("radius").fill("45")
    expect(page.locator("#loss table").first).to_contain_text("centre-line radius 45")
    assert _loss(page) > wide
    page.get_by_role("button", name="Draw another beside it").click()
    expect(page.get_by_role("group", name="After")).to_be_visible()
    page.locator("#after-bore_mm").fill("70")
    expect(page.locator("#loss .sentence")).to_contain_text("The new path")
    check_accessible(page)
    fits(page)
    shoot(page, "two paths")
    page.get_by_role("button", name="Keep the path").click()
    expect(page).to_have_url(re.compile(r"change=1$"))
    with demo.library.reading() as session:
        kept = catalogue.changes(session, 1)[0].path_sheet
    assert "bore_mm = 70.0" in kept
    assert kept.count("[[element]]") == 5


def test_figure_that_is_none_is_named(new_page, demo):
    """A dimension that is no number is said, and the rest of the page stays."""
    page = new_page(demo, "/cars/1/airpath")
    page.get_by_label("length, mm").fill("half a metre")
    expect(page.locator("#loss")).to_contain_text('Length_mm is "half a metre"')
    page.get_by_label("length, mm").fill("500")
    expect(page.locator("#loss .sentence")).to_contain_text("loses")
