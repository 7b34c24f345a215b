"""Our own script, module by module, in the browser that runs it."""

import pytest
from playwright.sync_api import expect


@pytest.fixture
def run(page):
    """Run a function of a module with some arguments."""

    def call(module, function, *arguments):
        return page.evaluate(
            "async ([module, name, given]) => (await import(`/static/js/${module}.js`))[name](...given)",
            [module, function, list(arguments)],
        )

    return call


@pytest.mark.parametrize(
    ("value", "places", "text"), [(-1.26, 1, "−1.3"), (0, 0, "0"), (12345.678, 2, "12345.68"), (None, 1, "–")]
)
def test_chart_writes_numbers_as_the_notebook_does(run, value, places, text):
    """A true minus, the wanted places, and a dash where there is nothing."""
    assert run("chart", "written", value, places) == text


@pytest.mark.parametrize(("low", "high", "places"), [(0, 1, 2), (0, 100, 0), (0, 7000, 0), (0.80, 0.81, 4), (5, 5, 2)])
def test_chart_takes_the_places_that_tell_values_apart(run, low, high, places):
    """The narrower the range, the more decimal places."""
    assert run("chart", "placesFor", low, high) == places


def test_traces_read_the_blocks_of_the_application(page):
    """Times, values, gaps and the note that samples were thinned out come out as they went in."""
    found = page.evaluate("""async () => {
        const { blocks } = await import("/static/js/traces.js");
        const view = new DataView(new ArrayBuffer(8 + 16 + 8));
        view.setUint32(0, 2, true); view.setUint32(4, 1, true);
        view.setFloat32(8, 0.5, true); view.setFloat32(12, 1.5, true);
        view.setFloat32(16, 7, true); view.setFloat32(20, NaN, true);
        view.setUint32(24, 0, true); view.setUint32(28, 0, true);
        return blocks(view.buffer, 100);
    }""")
    assert found == [{"x": [100.5, 101.5], "y": [7, None], "thinned": True}, {"x": [], "y": [], "thinned": False}]


def test_curves_draw_lines_band_and_key_and_a_table_stands_beside(new_page, demo):
    """A chart draws something, names its lines without colour alone, and its values can be read as a table."""
    page = new_page(demo, "/cars/1/compare?before=l1,l2&after=l3,l4")
    chart = page.locator("#curves-1")
    expect(chart).to_have_attribute("data-ready", "yes")
    keys = chart.locator(".key")
    expect(keys.first).to_contain_text("before")
    assert chart.locator(".key path[stroke-dasharray]").count() > 0
    drawn = page.evaluate("""() => [...document.querySelectorAll("#curves-1 canvas")].map((canvas) => {
        const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
        return new Set(new Uint32Array(data.buffer)).size;
    })""")
    assert min(drawn) > 10
    chart.locator("summary").click()
    assert chart.locator("tbody tr").count() > 10
    box = chart.locator(".u-over").first.bounding_box()
    page.mouse.move(box["x"] + 100, box["y"] + 20)
    expect(keys.first).to_contain_text("at ")


def test_dropped_files_are_chosen(page, served):
    """Files that are dropped on the place for them stand in its field."""
    page.goto(served.url("/cars/new"))
    page.wait_for_load_state("networkidle")
    chosen = page.evaluate("""() => {
        const place = document.querySelector(".drop");
        const moved = new DataTransfer();
        moved.items.add(new File(["Time,RPM"], "run-1.csv"));
        place.dispatchEvent(new DragEvent("drop", { dataTransfer: moved, bubbles: true, cancelable: true }));
        return [...place.querySelector("input").files].map((file) => file.name);
    }""")
    assert chosen == ["run-1.csv"]


def test_choices_of_units_follow_the_channel(new_page, demo):
    """A column that is said to be a pressure can be in psi gauge, one that is a temperature in degF."""
    page = new_page(demo, "/logs/1/columns")
    column = page.locator(".columns > li").first
    column.locator("summary", has_text="Correct").click()
    column.get_by_label("It is").select_option("oil_temperature")
    expect(column.get_by_label("in the file's unit").locator("option", has_text="degF")).to_have_count(1)
    column.get_by_label("It is").select_option("oil_pressure")
    expect(column.get_by_label("in the file's unit").locator("option", has_text="psi gauge")).to_have_count(1)


def test_pages_work_without_script(new_page, demo):
    """Without script the verdict, the table of each chart and every form are still there."""
    page = new_page(demo, "/cars/1/compare?before=l1,l2&after=l3,l4", java_script_enabled=False)
    expect(page.locator(".sentence")).to_contain_text("wastegate duty")
    page.get_by_role("switch").first.click()
    expect(page.get_by_role("switch").first).not_to_be_checked()


def test_pull_is_turned_by_keyboard_and_keeps_the_focus(new_page, demo):
    """The space bar turns a pull off and on, and the same switch has the focus afterwards."""
    page = new_page(demo, "/cars/1/compare?before=l1,l2&after=l3,l4")
    switch = page.get_by_role("switch").nth(1)
    name = switch.get_attribute("id")
    switch.focus()
    page.keyboard.press("Space")
    expect(page.locator(f"#{name}")).to_have_attribute("aria-checked", "false")
    assert page.evaluate("document.activeElement.id") == name
    page.keyboard.press("Enter")
    expect(page.locator(f"#{name}")).to_have_attribute("aria-checked", "true")
