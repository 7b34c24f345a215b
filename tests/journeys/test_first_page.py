"""The start page of an empty library, in every form that it is seen in."""

import pytest
from playwright.sync_api import expect
from tests.journeys.running import check_accessible, fits, shoot

PHONE = {"viewport": {"width": 375, "height": 740}, "is_mobile": True, "has_touch": True}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("device", ["desktop", "phone"])
def test_start_page_is_sound(new_page, served, device, scheme):
    """The start page shows the two ways to begin, fits the window, and axe finds nothing serious in it."""
    page = new_page(served, color_scheme=scheme, **(PHONE if device == "phone" else {}))
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    expect(page.get_by_role("link", name="Begin with a car")).to_be_visible()
    assert "token" not in page.url
    check_accessible(page)
    fits(page)
    shoot(page, f"start-{device}-{scheme}")


def test_keyboard_reaches_the_page_past_the_tabs(page):
    """The first stop of the tab key leads past the tabs to the page itself."""
    page.keyboard.press("Tab")
    expect(page.get_by_text("Skip to the page")).to_be_focused()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
