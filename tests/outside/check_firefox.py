"""Tests the page for a browser (app/) and the page that the command writes, in Firefox: they open, give the command's
answers, play, and make no request to any network. `check_app.py` and `check_page.py` test more, in Chromium.

    check_firefox.py path/to/breathline          app/build has made target/breathline.html
"""

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from firefox import Firefox
from outside import start

ROOT = Path(__file__).parents[2]
APP = ROOT / "target" / "breathline.html"
CORPUS, DEMO = ROOT / "corpus", ROOT / "demo"
PHONE, DESK = (390, 844), (1280, 900)
LIT = "document.querySelectorAll('.paper .lit').length > 0"
PLAYING = "document.body.dataset.state === 'playing'"


def main(argv):
    check, breathline = start(argv)
    program = shutil.which("firefox-esr") or shutil.which("firefox")
    if program is None:
        sys.exit("check_firefox.py: there is no Firefox; apt-get install firefox-esr brings it")
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / "tune.html"
        subprocess.run([argv[1], "suggest", DEMO / "nets-on-the-railing.mid", "-o", written], check=True, capture_output=True)
        browser = Firefox(program, folder)
        if not browser.has_sound:
            print("SKIPPED: the test of playing; there is no pulseaudio (apt-get install pulseaudio)")
        try:
            if APP.is_file():
                demo_in_two_taps(check, browser)
                answers(check, browser, breathline)
            else:
                print("SKIPPED: there is no target/breathline.html (app/build makes it)")
            written_page(check, browser, written)
        finally:
            browser.close()
    return check.finish()


def plays(check, browser, name):
    """Tests that Space plays and pauses, with notes lit on the sheet. Without PulseAudio, tests nothing."""
    if not browser.has_sound:
        return
    browser.press(" ")
    browser.until(f"{PLAYING} && {LIT}")
    check(f"{name}: while it plays, a note is lit", True)
    browser.press(" ")
    browser.until(f"!({PLAYING})")
    check(f"{name}: Space pauses", True)


def is_quiet(check, browser, name, address):
    complaints = browser.complaints(address)
    check(f"{name}: there is no error, warning or request: {complaints}", not complaints)


def demo_in_two_taps(check, browser):
    browser.open(APP.as_uri(), *PHONE)
    browser.tap("#demo")
    browser.until("document.querySelector('.paper .slim svg') !== null")
    if browser.has_sound:
        browser.tap("#play")
        browser.until(f"{PLAYING} && {LIT}")
        check("phone: after two taps the demo tune sounds with its tab lit", True)
    check("phone: nothing is wider than the screen", browser.value("document.documentElement.scrollWidth") <= PHONE[0])
    is_quiet(check, browser, "phone", APP.as_uri())


def answers(check, browser, breathline):
    for tune in ["amazing-grace.mxl", "clementine.mid", "swallowtail-jig.musicxml"]:
        browser.open(APP.as_uri(), *DESK)
        browser.choose_file("#file", CORPUS / tune)
        browser.until("document.querySelector('.paper .broad svg') !== null")
        best = breathline("suggest", CORPUS / tune)["approaches"][0]
        headline = browser.value("document.getElementById('headline').textContent")
        check(f"{tune}: the command's best harp, {best['harp']['key']}: {headline}", f"{best['harp']['key']} harp" in headline)
        is_quiet(check, browser, tune, APP.as_uri())
    plays(check, browser, "the last of the tunes")


def written_page(check, browser, written):
    browser.open(written.as_uri(), *DESK)
    rows = browser.value("document.querySelectorAll('#ranking input').length")
    check(f"written page: it has rows to choose from ({rows})", rows > 1)
    sheet = "[...document.querySelectorAll('.paper .broad')].find(sheet => sheet.getClientRects().length > 0).textContent"
    before = browser.value(sheet)
    plays(check, browser, "written page")
    browser.tap("#ranking label", 1)
    browser.until(f"{sheet} !== {json.dumps(before)}")
    check("written page: another row shows another sheet", True)
    plays(check, browser, "written page, second row")
    is_quiet(check, browser, "written page", written.as_uri())


if __name__ == "__main__":
    sys.exit(main(sys.argv))
