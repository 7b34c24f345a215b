"""Every page of a car, empty and full, on a desk and on a phone: it fits, and axe finds nothing serious."""

from tests.journeys.running import check_accessible, fits, settled, shoot

from pullproof.library import catalogue

PHONE = {"viewport": {"width": 375, "height": 740}, "is_mobile": True, "has_touch": True, "color_scheme": "dark"}

PAGES = (
    "/cars",
    "/cars/new",
    "/cars/1/timeline",
    "/cars/1/sheet",
    "/cars/1/days",
    "/cars/1/compare",
    "/cars/1/plan",
    "/cars/1/watch",
    "/cars/1/power",
    "/cars/1/coastdown",
    "/cars/1/airpath",
)
FULL = ("/days/2", "/logs/1", "/logs/1/columns", "/changes/1", "/cars/1/compare?before=l1,l2&after=l3,l4")


def test_pages_of_a_full_library_on_a_desk(new_page, demo):
    """Pages with something on them, in light."""
    page = new_page(demo, "/cars")
    for path in (*PAGES, *FULL):
        _visit(page, demo, path, f"full desk {path}")
        check_accessible(page)


def test_pages_of_a_full_library_on_a_phone(new_page, demo):
    """The same in the dark on a narrow screen; what is alike in both is not looked at twice."""
    page = new_page(demo, "/cars", **PHONE)
    for path in (*PAGES, *FULL):
        _visit(page, demo, path, f"full phone {path}")
        if path in FULL[1:3]:  # ink on dark paper, in charts and in forms
            check_accessible(page)


def test_pages_of_a_car_without_anything_say_what_to_do_next(new_page, served):
    """Every page of a car that has nothing yet shows a way on."""
    with served.library.transaction() as session:
        catalogue.add_car(session, 'name = "blue hatch"\n')
    page = new_page(served, "/cars")
    for path in PAGES:
        _visit(page, served, path, f"empty {path}")
        assert page.locator("main form, main a.button").count() > 0
    check_accessible(page)


def _visit(page, served, path, name):
    answer = page.goto(served.url(path))
    assert answer.status == 200, path
    settled(page)
    fits(page)
    shoot(page, name)
