"""A real browser without a window, that opens pages from files as a person does from a stick."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).resolve().parent
AXE = HERE / "node_modules" / "axe-core" / "axe.min.js"
CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
# Everything that a browser does of itself over the network is off: what is asked for then is the page's.
_QUIET = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage",
)  # fmt: skip

needs_browser = pytest.mark.skipif(
    CHROMIUM is None or DRIVER is None, reason="needs a browser: apt-get install chromium chromium-driver"
)
needs_axe = pytest.mark.skipif(not AXE.is_file(), reason=f"needs axe: npm ci --prefix {HERE}")


class Browser:
    """Opens files; knows what a page asked for and complained of."""

    def __init__(self, profile: Path) -> None:
        from selenium import webdriver
        from selenium.webdriver.chrome.options import Options
        from selenium.webdriver.chrome.service import Service

        options = Options()
        options.binary_location = CHROMIUM
        for word in (*_QUIET, f"--user-data-dir={profile}"):
            options.add_argument(word)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver: Any = webdriver.Chrome(options=options, service=Service(DRIVER))

    def open(self, page: Path, size: tuple[int, int] = (1000, 800)) -> None:
        self.driver.set_window_size(*size)
        self.driver.get(page.as_uri())

    def run(self, script: str, *given: object) -> Any:
        return self.driver.execute_script(script, *given)

    def complaints(self) -> list[str]:
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def asked_for(self) -> set[str]:
        """Every address that was asked for since the last call."""
        found = set()
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            # The browser's own first tab asks for things as well: what a page asked for names its document.
            ours = message["params"].get("documentURL", "").startswith("file:")
            if message["method"] == "Network.requestWillBeSent" and ours:
                found.add(message["params"]["request"]["url"].partition("#")[0])
        return found

    def serious(self) -> list[str]:
        """What axe finds serious or critical, by its rule and the first element."""
        self.driver.execute_script(AXE.read_text(encoding="utf-8"))
        found = self.driver.execute_async_script("axe.run().then(arguments[arguments.length - 1])")
        return [
            f"{one['id']}: {one['nodes'][0]['html']}"
            for one in found["violations"]
            if one["impact"] in ("serious", "critical")
        ]

    def close(self) -> None:
        self.driver.quit()
