"""A real browser and a real JupyterLab, for tests of what is seen.

Debian has both needed programs: `apt-get install chromium chromium-driver`. Screenshots are kept
in the folder that the variable SCREENSHOTS names, if it does.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

PROGRAMS = ("chromium", "chromedriver")

STARTS_SECONDS, RUNS_SECONDS = 60, 110
"""Longest waits: for the server, and for a notebook that runs."""

SETTINGS = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    "notebook-extension/tracker": {"windowingMode": "none"},  # cells out of sight are there too
}


def missing() -> list[str]:
    """Programs that are not installed."""
    return [program for program in PROGRAMS if shutil.which(program) is None]


@contextmanager
def browser() -> Iterator[webdriver.Chrome]:
    """A Chromium without a screen."""
    options = Options()
    options.binary_location = shutil.which("chromium")
    for flag in ("--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--hide-scrollbars"):
        options.add_argument(flag)
    driver = webdriver.Chrome(options, Service(shutil.which("chromedriver")))
    driver.set_script_timeout(RUNS_SECONDS)
    try:
        yield driver
    finally:
        driver.quit()


def sized(driver: webdriver.Chrome, width: int, height: int = 900) -> None:
    """Give the page so many pixels, also fewer than a window can have."""
    metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)


def keep(driver: webdriver.Chrome, name: str) -> None:
    """Keep a screenshot, if a folder for them is named."""
    folder = os.environ.get("SCREENSHOTS")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        driver.save_screenshot(str(Path(folder) / f"{name}.png"))


@contextmanager
def lab(folder: Path, home: Path) -> Iterator[str]:
    """Run a JupyterLab on a folder, with settings of its own; give its address.

    Parameters
    ----------
    folder : Path
        What it shows.
    home : Path
        Where it keeps what it writes.
    """
    for name, values in SETTINGS.items():
        path = home / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True)
        path.write_text(json.dumps(values), encoding="utf-8")
    places = {
        "JUPYTERLAB_SETTINGS_DIR": "settings", "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
        "JUPYTER_CONFIG_DIR": "config", "JUPYTER_RUNTIME_DIR": "runtime", "IPYTHONDIR": "ipython",
    }  # fmt: skip
    inline = {"MPLBACKEND": "module://matplotlib_inline.backend_inline"}
    own = {variable: str(home / name) for variable, name in places.items()}
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--port=0",
        "--ServerApp.port_retries=0", "--IdentityProvider.token=",
        "--LabApp.expose_app_in_browser=True",
        f"--ServerApp.root_dir={folder}",
    ]  # fmt: skip
    log = home / "log.txt"
    with log.open("w", encoding="utf-8") as written:
        server = subprocess.Popen(
            command, env=os.environ | inline | own, stdout=written, stderr=subprocess.STDOUT
        )
        try:
            yield _address(log)
        finally:
            server.terminate()
            server.wait(30)


def _address(log: Path) -> str:
    for _ in range(10 * STARTS_SECONDS):
        found = re.search(r"http://(?:localhost|127\.0\.0\.1):[1-9]\d*/", log.read_text("utf-8"))
        if found:
            return found[0]
        time.sleep(0.1)
    raise TimeoutError(log.read_text("utf-8"))


OPEN = """
const done = arguments[arguments.length - 1], path = arguments[0];
(async () => {
  const app = window.jupyterapp;
  await app.started;
  const panel = await app.commands.execute('docmanager:open', {path, factory: 'Notebook'});
  await panel.context.ready; await panel.revealed; await panel.sessionContext.ready;
  await app.commands.execute('application:toggle-left-area').catch(() => 0);
})().then(() => done(''), fault => done(String(fault)));
"""

RUN = """
const done = arguments[arguments.length - 1];
window.jupyterapp.commands.execute('notebook:run-all-cells').then(
  () => done(''), fault => done(String(fault)));
"""

CELLS = """
return window.jupyterapp.shell.currentWidget.content.widgets.map(cell => cell.model.toJSON());
"""


def opened(driver: webdriver.Chrome, address: str, notebook: str) -> None:
    """Open a notebook in JupyterLab."""
    driver.get(f"{address}lab?reset")
    for _ in range(10 * STARTS_SECONDS):
        if driver.execute_script("return !!(window.jupyterapp && window.jupyterapp.shell)"):
            break
        time.sleep(0.1)
    assert driver.execute_async_script(OPEN, notebook) == ""


def run(driver: webdriver.Chrome) -> list[dict]:
    """Run all cells of the open notebook; give its cells of code as they then are."""
    assert driver.execute_async_script(RUN) == ""
    return [cell for cell in driver.execute_script(CELLS) if cell["cell_type"] == "code"]
