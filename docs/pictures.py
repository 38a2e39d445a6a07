#!/usr/bin/env python3
"""Draws docs/page.png, the page for a browser with the demo tune, in Chromium; and docs/levels.png, the head of a sheet
with levels.

    app/build && cargo build --release && target/outside/bin/python docs/pictures.py
"""

import base64
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "target" / "breathline.html"


def main():
    if not PAGE.exists():
        sys.exit("pictures.py: there is no target/breathline.html; app/build makes it")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_context(viewport={"width": 1200, "height": 760}, color_scheme="light").new_page()
        page.goto(PAGE.as_uri())
        page.get_by_text("Try a demo tune").click()
        page.locator(".sheet svg").first.wait_for()
        page.wait_for_timeout(1000)
        page.screenshot(path=ROOT / "docs" / "page.png")
        levels(browser)
        browser.close()


def levels(browser):
    """Takes the picture of the head of a sheet with levels."""
    with tempfile.TemporaryDirectory() as folder:
        command = [ROOT / "target" / "release" / "breathline", "sheet", ROOT / "demo" / "salt-on-the-step.musicxml"]
        subprocess.run([*command, "--levels", "--harp", "G", "-o", Path(folder) / "levels.svg"], check=True)
        page = browser.new_context(viewport={"width": 900, "height": 790}).new_page()
        page.set_content(f'<style>body {{ margin: 0 }} img {{ width: 900px }}</style><img src="data:image/svg+xml;base64,'
                         f'{base64.b64encode((Path(folder) / "levels-1.svg").read_bytes()).decode()}">')
        page.wait_for_timeout(500)
        page.screenshot(path=ROOT / "docs" / "levels.png")


if __name__ == "__main__":
    main()
