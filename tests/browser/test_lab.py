"""JupyterLab in a real browser: every notebook runs, verdicts are in sight, sliders move."""

from __future__ import annotations

import shutil
import time

import nbformat
import pytest
from antgrowth.notebooks.execute import notebooks

selenium = pytest.importorskip("selenium")
pytest.importorskip("ipywidgets")

from browser import browser, keep, lab, missing, opened, run, sized  # noqa: E402

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(bool(missing()), reason=f"not installed: {', '.join(missing())}"),
]

PLAY = """\
import antgrowth as ag
fit = ag.load_colony(ag.demo_colony("garden-ant-first-year")).fit(rng=1)
explorer = fit.explore(workers=100)
explorer"""

WIDTHS = """
return [...document.querySelectorAll('.jp-OutputArea-output td, .jp-OutputArea-output strong')]
  .filter(e => e.childElementCount === 0 || e.tagName === 'STRONG')
  .filter(e => /NOT RECOMMENDED|DO NOT|recommended/.test(e.textContent))
  .map(e => {
    const own = e.getBoundingClientRect();
    const frame = e.closest('.jp-OutputArea-output').getBoundingClientRect();
    return [e.textContent, own.left - frame.left, frame.right - own.right, own.width];
  });
"""


COMPILED_ONCE = "antgrowth compiles its growth law, once on this computer"
"""What the first notebook says where nothing was run before: no complaint."""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("notebooks")
    for path in notebooks():
        shutil.copy(path, folder)
    play = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(PLAY)])
    play.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3 (ipykernel)"}
    nbformat.write(play, folder / "play.ipynb")
    return folder


@pytest.fixture(scope="module")
def address(place, tmp_path_factory):
    with lab(place, tmp_path_factory.mktemp("home")) as found:
        yield found


@pytest.fixture
def driver():
    with browser() as found:
        sized(found, 1280)
        yield found


@pytest.mark.parametrize("name", [path.name for path in notebooks()])
def test_a_notebook_opens_and_runs_without_error(driver, address, name):
    opened(driver, address, name)
    cells = run(driver)
    said = [output for cell in cells for output in cell["outputs"]]
    faults = [output for output in said if output["output_type"] == "error"]
    assert not faults and all(cell["execution_count"] for cell in cells)
    complaints = [output["text"] for output in said if output.get("name") == "stderr"]
    assert not [text for text in complaints if not text.startswith(COMPILED_ONCE)]
    pictures = driver.find_elements("css selector", ".jp-OutputArea-output img")
    for number, picture in enumerate(pictures):
        driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", picture)
        keep(driver, f"{name[:2]}_{number:02d}")


def test_no_verdict_is_cut_off_at_800_pixels(driver, address):
    sized(driver, 800)
    opened(driver, address, "02_temperature_regimes.ipynb")
    run(driver)
    found = driver.execute_script(WIDTHS)
    verdicts = [row for row in found if "NOT RECOMMENDED" in row[0]]
    assert verdicts
    for words, left, right, wide in verdicts:
        assert wide > 0 and left >= 0 and right >= 0, words
    cell = driver.find_element("xpath", "//td[contains(., 'NOT RECOMMENDED')]")
    driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", cell)
    keep(driver, "verdict_800")


def test_explore_is_moved_and_redraws(driver, address):
    opened(driver, address, "play.ipynb")
    run(driver)
    texts, image = ".jp-OutputArea-output .widget-html-content", ".jp-OutputArea-output img"
    until(lambda: driver.find_elements("css selector", image))
    before = seen(driver, texts), seen(driver, image, "src")
    keep(driver, "explore_before")
    handle = driver.find_elements("css selector", ".jp-OutputArea-output .noUi-handle")[0]
    handle.send_keys("\ue014" * 4)  # the arrow to the right: four steps warmer by day
    until(lambda: seen(driver, image, "src") != before[1])
    until(lambda: seen(driver, texts) != before[0])
    keep(driver, "explore_after")
    wide = "return document.querySelector('.jp-OutputArea-output img').naturalWidth"
    assert driver.execute_script(wide) > 400


def seen(driver, selector, attribute="textContent"):
    found = driver.find_elements("css selector", selector)
    return [element.get_attribute(attribute) for element in found]


def until(holds, seconds=30):
    """Wait until something holds."""
    for _ in range(10 * seconds):
        if holds():
            return
        time.sleep(0.1)
    raise AssertionError(f"it did not come in {seconds} seconds")
