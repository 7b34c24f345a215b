"""The page of a log: traces, pulls, and what its columns were taken for."""

import re

import numpy as np
from playwright.sync_api import expect
from tests.journeys.running import check_accessible, shoot

from pullproof.library import catalogue
from pullproof.library.readings import pulls_of


def test_pull_is_overruled_with_a_reason_and_taken_back(new_page, demo):
    """A refused pull is used because somebody says why; the word stays after a reload and can be taken back."""
    page = new_page(demo, "/logs/1")
    row = page.get_by_role("row").filter(has_text="refused")
    expect(row).to_contain_text("pedal lifted")
    row.locator("summary").click()
    row.get_by_label("Because").fill("the lift is before the window")
    row.get_by_role("button", name="Use it").click()
    expect(page.get_by_text("“the lift is before the window”")).to_be_visible()
    assert all(pull.used for pull in pulls_of(demo.library, 1))
    page.reload()
    expect(page.get_by_role("row").filter(has_text="the lift is before the window").first).to_contain_text("✓ used")
    check_accessible(page)
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_role("row").filter(has_text="✗ refused")).to_contain_text("pedal lifted")
    assert not all(pull.used for pull in pulls_of(demo.library, 1))


def test_traces_move_by_mouse_button_and_key_and_the_address_follows(new_page, demo):
    """Every way of moving shows another span of time, and the address keeps it."""
    page = new_page(demo, "/logs/1")
    expect(page.locator(".traces[data-ready]")).to_be_visible()
    span = page.locator("[data-span]")
    whole = span.inner_text()
    page.get_by_role("button", name="Zoom in").click()
    expect(span).not_to_have_text(whole)
    page.locator("[data-strips]").focus()
    before = span.inner_text()
    page.keyboard.press("ArrowRight")
    expect(span).not_to_have_text(before)
    page.keyboard.press("0")
    expect(span).to_have_text(whole)
    box = page.locator(".strip .u-over").first.bounding_box()
    page.mouse.move(box["x"] + 200, box["y"] + 30)
    page.mouse.down()
    page.mouse.move(box["x"] + 400, box["y"] + 30, steps=4)
    page.mouse.up()
    expect(span).not_to_have_text(whole)
    expect(page).to_have_url(re.compile(r"from=[1-9]"))
    shown = span.inner_text()
    page.reload()
    expect(span).to_have_text(shown)
    page.get_by_role("button", name="2 show in the traces").click()
    expect(span).not_to_have_text(shown)


def test_wrong_unit_is_corrected_once_for_the_logger(new_page, served, tmp_path):
    """A pressure whose unit the header hides is settled by hand; the next log of that logger asks nothing."""
    with served.library.transaction() as session:
        catalogue.add_car(session, 'name = "red estate"\n[engine]\nredline_rpm = 6800\n')
    for number in (1, 2):
        _doubtful_log(tmp_path / f"run-{number}.csv", seed=number)
    page = new_page(served, "/cars/1/days")
    page.get_by_label("Logs", exact=True).set_input_files(str(tmp_path / "run-1.csv"))
    page.get_by_role("button", name="Read these logs").click()
    page.get_by_role("link", name="in doubt: look run-1.csv").click()
    column = page.locator(".columns > li").filter(has_text="Boost")
    expect(column).to_have_class("asks")
    shoot(page, "columns in doubt")
    check_accessible(page)
    column.locator("summary", has_text="Settle it").click()
    column.get_by_label("in the file's unit").select_option("psi gauge")
    column.get_by_role("button", name="Keep this").click()
    expect(page.locator(".columns > li").filter(has_text="Boost")).to_contain_text("✓ your word")
    expect(page.locator(".columns > li").filter(has_text="Boost")).to_contain_text("psi gauge")
    page.goto(served.url("/cars/1/days"))
    page.get_by_label("Logs", exact=True).set_input_files(str(tmp_path / "run-2.csv"))
    page.get_by_role("button", name="Read these logs").click()
    expect(page.get_by_role("link", name="no question run-2.csv")).to_be_visible()


def _doubtful_log(path, seed):
    """One pull, with a boost column that says neither its unit nor whether it counts from ambient pressure."""
    rng = np.random.default_rng(seed)
    time = np.arange(0, 40, 0.1)
    pull = np.clip((time - 15) / 7, 0, 1)
    rpm = np.where(time < 15, 2400 + 20 * np.sin(time), np.where(time < 22, 2400 + 4000 * pull, 1500))
    pedal = np.where((time >= 15) & (time < 22), 100, 12)
    boost = np.where((time >= 16) & (time < 22), 14.5, -6) + 0.1 * rng.standard_normal(time.size)
    speed = rpm / 47.6
    rows = zip(time, rpm, speed, pedal, boost, strict=True)
    lines = [f"{t:.1f},{r:.0f},{v:.1f},{p:.0f},{b:.2f}" for t, r, v, p, b in rows]
    path.write_text("\n".join(["Time (s),Engine Speed (rpm),Vehicle Speed (km/h),Pedal (%),Boost", *lines]) + "\n")
