"""Helpers for the checks of the page of app/: they open the page in a browser, give it files, and ask the command."""

import json
import os
import subprocess
import time
from pathlib import Path

from outside import Opened
from playing_page import DESK, EAR, PHONE, SIDE

ROOT = Path(__file__).parents[2]
APP = ROOT / "target" / "breathline.html"
CORPUS, DEMO = ROOT / "corpus", ROOT / "demo"
LAMPS = DEMO / "lamps-along-the-row.musicxml"


class Command:
    """Runs the command without the user's kit."""

    def __init__(self, binary, folder):
        self.binary, self.folder = binary, folder
        self.environment = {**os.environ, "HOME": str(folder), "XDG_CONFIG_HOME": str(folder)}

    def __call__(self, *arguments):
        return subprocess.run([self.binary, *map(str, arguments)], capture_output=True, text=True, check=False,
                              env=self.environment)

    def best(self, *arguments):
        """Returns the harp and the position of the best row."""
        row = json.loads(self("suggest", *arguments, "--json").stdout)["approaches"][0]
        return row["harp"]["key"], row["position"]


class Visit:
    """Opens the page, and records console messages, errors, dialogs and requests to other addresses. When the page is
    closed, `Opened` checks that there were none."""

    def __init__(self, check, browser):
        self.check, self.browser = check, browser

    def __call__(self, name, size=DESK, **options):
        context = self.browser.new_context(viewport=size, has_touch=size in (PHONE, SIDE), accept_downloads=True, **options)
        context.add_init_script(EAR)
        page = context.new_page()
        watched(page, complaints := [])
        page.goto(APP.as_uri())
        return Opened(self.check, context, page, complaints, name)


def watched(page, complaints):
    page.on("console", lambda message: complaints.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: complaints.append(f"error: {error}"))
    page.on("dialog", lambda dialog: (complaints.append(f"dialog: {dialog.message}"), dialog.dismiss()))
    local = (APP.as_uri(), "blob:", "data:")
    page.context.on("request", lambda request: complaints.append(f"request: {request.url[:80]}")
                    if not request.url.startswith(local) else None)


def until(page, condition, seconds=20):
    """Waits until a JavaScript condition is true. (Playwright's own waiting evaluates script in the page, which the
    page's policy forbids.)"""
    end = time.monotonic() + seconds
    while not page.evaluate(condition):
        if time.monotonic() > end:
            raise TimeoutError(condition)
        page.wait_for_timeout(20)


def answered(page):
    """Waits until the page shows an answer and no other answer is on its way."""
    until(page, "!document.getElementById('answer').hidden && !document.body.classList.contains('waiting')")


def choose_file(page, path):
    with page.expect_file_chooser() as chooser:
        page.locator("label.button", has=page.locator("#file")).click()
    chooser.value.set_files(path)


def state(page):
    return page.evaluate("document.body.dataset.state")


def taken(page, form, folder):
    """Saves a file from the page under the name that the page proposes."""
    with page.expect_download() as download:
        page.click(f"[data-form={form}]")
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return path
