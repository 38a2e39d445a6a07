#!/usr/bin/env python3
"""Draws docs/page.png: the page without a terminal, with the demo tune, in Chromium.

    app/build && target/outside/bin/python docs/pictures.py
"""

import shutil
import sys
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
        browser.close()


if __name__ == "__main__":
    main()
