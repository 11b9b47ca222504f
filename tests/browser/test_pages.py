"""The page of a colony in a real browser, on a desk and on a telephone."""

from __future__ import annotations

import pytest
from new_folders import made

from antgrowth.cli import main

pytest.importorskip("selenium")

from browser import browser, keep, missing, sized  # noqa: E402

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(bool(missing()), reason=f"not installed: {', '.join(missing())}"),
]

OVER = "return document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = made(tmp_path_factory.mktemp("keeper") / "colony")
    assert main(["report", str(folder)]) == 0
    return (folder / "report.html").as_uri()


@pytest.fixture(scope="module")
def driver():
    with browser() as found:
        yield found


@pytest.mark.parametrize("width", [1280, 390])
def test_the_page_fits_and_its_verdict_is_in_sight(driver, page, width):
    sized(driver, width)
    driver.get(page)
    keep(driver, f"page_{width}")
    height = driver.execute_script("return document.documentElement.scrollHeight")
    assert driver.execute_script(OVER) <= 0
    verdict = driver.find_element("css selector", ".verdict")
    box = verdict.rect
    assert verdict.is_displayed() and 0 <= box["x"] and box["x"] + box["width"] <= width
    assert box["y"] + box["height"] <= 900, "nobody has to scroll to the verdict"
    sized(driver, width, height)
    keep(driver, f"page_{width}_whole")
