"""A season: five changes and six test days typed and dropped in, and what each change did."""

import datetime
import re

import numpy as np
import pytest
from playwright.sync_api import expect
from tests.journeys.running import check_accessible, fits, shoot

from pullproof.library import catalogue

CHANGES = (
    ("larger intake filter", "2026-04-11T09:00", "part", "120"),
    ("wider charge pipe", "2026-05-02T09:00", "part", "190"),
    ("split hose taped up", "2026-05-30T09:00", "temporary fix", "5"),
    ("larger charge cooler", "2026-06-20T09:00", "part", "620"),
    ("calibration", "2026-07-11T09:00", "calibration", "450"),
)
DAYS = ("2026-04-04", "2026-04-18", "2026-05-09", "2026-06-06", "2026-06-27", "2026-07-18")


@pytest.fixture
def outings(tmp_path):
    """Two logs with two pulls each for every test day; each change takes two points off the duty."""
    paths = []
    for day in range(len(DAYS)):
        for part in (0, 1):
            paths.append(tmp_path / f"day-{day + 1}-{part + 1}.csv")
            paths[-1].write_text(_log(seed=10 * day + part, duty=92.0 - 2.0 * day), encoding="utf-8")
    return paths


def _log(seed, duty):
    """Two pulls in third gear, with a duty that rises by ten points from 4000 rpm on."""
    rng = np.random.default_rng(seed)
    time = np.arange(0, 70, 0.1)
    rpm = np.interp(time, [0, 12, 20, 24, 40, 42, 50, 54, 70], [2400, 2500, 6500, 3000, 2400, 2500, 6500, 3000, 2000])
    full = ((time >= 12) & (time <= 20)) | ((time >= 42) & (time <= 50))
    level = duty + 0.4 * rng.standard_normal()
    columns = {
        "Time (s)": time,
        "Engine Speed (rpm)": rpm + rng.normal(0, 3, time.size),
        "Vehicle Speed (km/h)": rpm / 47.6,
        "Accelerator Pedal (%)": np.where(full, 100.0, 20.0),
        "Boost Pressure (kPa gauge)": np.where(full, 95.0 + rng.normal(0, 0.4, time.size), 4.0),
        "Wastegate Duty (%)": np.where(
            full, np.interp(rpm, [2500, 3500, 4000, 6500], [99.9, 99.9, level - 10, level]), 0
        ),
        "Ambient Pressure (kPa)": np.full(time.size, 99.4),
        "Ambient Temperature (degC)": np.full(time.size, 15.0),
    }
    rows = [",".join(f"{value:.2f}" for value in row) for row in zip(*columns.values(), strict=True)]
    return "\n".join([",".join(columns), *rows]) + "\n"


def test_five_changes_over_a_season(page, served, outings):
    """All is typed and dropped in as it happens; at the end each change has its effect, and one is to be undone."""
    page.goto(served.url("/cars/new"))
    page.get_by_label("Name").fill("green saloon")
    page.get_by_label("Redline, rpm").fill("6800")
    page.get_by_role("button", name="Add the car and read its logs").click()
    expect(page.get_by_text("No test day yet")).to_be_visible()
    for number, date in enumerate(DAYS):
        if number:
            _add_change(page, served, *CHANGES[number - 1])
        page.goto(served.url("/cars/1/days"))
        page.get_by_label("Logs", exact=True).set_input_files(
            [str(path) for path in outings[2 * number : 2 * number + 2]]
        )
        page.get_by_label("Date of a new one").fill(date)
        page.get_by_role("button", name="Read these logs").click()
        page.get_by_role("link", name="To the test day").click()
        expect(page.get_by_role("link", name=f"day-{number + 1}-2.csv", exact=True)).to_be_visible()
    page.goto(served.url("/cars/1/timeline"))
    expect(page.get_by_role("heading", name="Still to undo")).to_be_visible()
    expect(page.locator(".timeline > li")).to_have_count(11)
    expect(page.locator("#season .sentence")).to_contain_text("5 changes", timeout=30_000)
    for what, *_ in CHANGES:
        expect(page.locator("#season table").first).to_contain_text(what)
    check_accessible(page)
    fits(page)
    shoot(page, "season")
    page.get_by_role("button", name="It is off again split hose taped up").click()
    expect(page.get_by_role("heading", name="Still to undo")).to_have_count(0)
    page.get_by_role("link", name="What did it do? wider charge pipe").click()
    expect(page.locator(".sentence")).to_contain_text("4 pulls before and 4 after")
    expect(page.locator(".stamp")).to_contain_text(re.compile("lower|unclear"))


def _add_change(page, served, what, fitted, kind, cost):
    page.goto(served.url("/cars/1/timeline"))
    page.locator("summary", has_text="Add a change").click()
    page.get_by_label("What was done").fill(what)
    page.get_by_label("Fitted").fill(fitted)
    page.get_by_label("Kind").select_option(kind)
    page.get_by_label("Cost").fill(cost)
    page.get_by_label("Currency").fill("EUR")
    if kind == "temporary fix":
        page.get_by_label("A temporary fix").check()
    page.get_by_role("button", name="Add the change").click()
    expect(page.get_by_role("link", name=re.compile(f"^{what}$", re.IGNORECASE)).first).to_be_visible()


def test_change_with_photo_is_deleted_and_brought_back(new_page, demo):
    """A photo is kept with a change; both can be deleted and come back; a file that is no picture is refused."""
    page = new_page(demo, "/changes/1")
    picture = bytes.fromhex(
        "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
        "1f15c4890000000d49444154789c6360f8cfc00000030101009aa7b7240000000049454e44ae426082"
    )
    page.get_by_label("Photos (JPEG").set_input_files({"name": "a.png", "mimeType": "image/png", "buffer": picture})
    page.get_by_role("button", name="Keep these photos").click()
    expect(page.get_by_role("img", name="a.png")).to_be_visible()
    false = {"name": "b.png", "mimeType": "image/png", "buffer": b"<svg onload='alert(1)'>"}
    page.get_by_label("Photos (JPEG").set_input_files(false)
    page.get_by_role("button", name="Keep these photos").click()
    expect(page.get_by_role("alert")).to_contain_text("This is no photo")
    page.goto(demo.url("/changes/1"))
    page.get_by_role("button", name="Delete this change").click()
    expect(page.get_by_text("The change was deleted")).to_be_visible()
    with demo.library.reading() as session:
        assert catalogue.changes(session, 1) == []
    page.get_by_role("button", name="Undo").click()
    with demo.library.reading() as session:
        assert [change.fitted.date() for change in catalogue.changes(session, 1)] == [datetime.date(2026, 5, 17)]


def test_plan_of_the_next_run_and_its_card(new_page, demo):
    """From a comparison to the plan of the run that would tell more, with a card to print and the cautions."""
    page = new_page(demo, "/cars/1/compare?before=l1,l2&after=l3,l4")
    page.set_default_timeout(60_000)
    page.get_by_role("link", name="Plan the run that would tell more").click()
    expect(page.get_by_role("heading", name="When to stop")).to_be_visible()
    expect(page.get_by_text("closed course or a dynamometer")).to_be_visible()
    with page.expect_download() as card:
        page.get_by_role("link", name="Run card").click()
    assert card.value.suggested_filename.endswith(".pdf")


def test_coast_down_goes_into_the_data_sheet(new_page, demo, tmp_path):
    """Rolling resistance and drag area that went into the road load of a simulated car come out, and are kept."""
    paths = [tmp_path / f"coast-{number}.csv" for number in range(2)]
    for path, wind in zip(paths, (1.5, -1.5), strict=True):
        path.write_text(_coast_down(wind), encoding="utf-8")
    page = new_page(demo, "/cars/1/days")
    page.get_by_label("Logs", exact=True).set_input_files([str(path) for path in paths])
    page.get_by_label("Its name").fill("coast")
    page.get_by_role("button", name="Read these logs").click()
    page.get_by_role("link", name="To the test day").click()
    for row, direction in zip(page.locator("tbody tr").all(), ("out", "back"), strict=True):
        row.locator("summary").click()
        row.get_by_label("Direction").select_option(direction)
        row.get_by_role("button", name="Save").click()
    page.get_by_role("link", name="Coast-down", exact=True).click()
    expect(page.locator(".sentence")).to_contain_text("drag area")
    area = float(re.search(r"drag area ([\d.]+)", page.locator(".sentence").inner_text())[1])
    assert area == pytest.approx(DRAG_AREA, rel=0.08)
    page.get_by_role("button", name="Put both into the data sheet").click()
    expect(page.get_by_label("Drag area")).to_have_value(re.compile(r"^0\.[67]"))


DRAG_AREA, ROLLING = 0.68, 0.0118


def _coast_down(wind):
    """A car of 1430 kg that rolls out from 130 to 25 km/h, by Newton's second law in steps of 50 ms."""
    rows, speed, time = ["Time (s),Vehicle Speed (km/h),Engine Speed (rpm),Accelerator Pedal (%)"], 6.0, 0.0
    while speed < 130 / 3.6:
        speed, time = speed + 1.6 * 0.05, time + 0.05
        rows.append(f"{time:.2f},{3.6 * speed:.2f},{100 * speed:.0f},35")
    while speed > 25 / 3.6:
        force = ROLLING * 1430 * 9.81 + 0.5 * 1.2 * DRAG_AREA * (speed + wind) ** 2
        speed, time = speed - force / (1430 * 1.03) * 0.05, time + 0.05
        rows.append(f"{time:.2f},{3.6 * speed:.2f},850,0")
    return "\n".join(rows) + "\n"
