"""Tests how a player practises with an answer of the page of app/: the player, other holes for a note, and the check of
a tab. `check_app.py` runs these tests."""

import json
import re
import shutil

from app_page import DEMO, LAMPS, answered, choose_file, state, taken, until
from axe_playwright_python.sync_playwright import Axe
from playing_page import DESK, PHONE, SIDE


def practises(check, visit):
    """Tests the trainer, the accompaniment and the music stand, which this page shares with the written page."""
    for size in [PHONE, SIDE, DESK]:
        name = f"{size['width']}x{size['height']}"
        with visit(f"stand {name}", size) as page:
            choose_file(page, LAMPS)
            answered(page)
            page.locator("#more").click()
            page.select_option("#train-from", "70")
            page.select_option("#along", "drone")
            page.locator("#full").click()
            until(page, "document.body.classList.contains('stand')")
            page.wait_for_timeout(300)
            bar = page.locator(".player").bounding_box()
            lines = page.evaluate("""[...document.querySelectorAll(".paper > div > svg")].map(x => x.getBoundingClientRect())
                .filter(x => x.height).map(x => [x.top, x.bottom, x.width])""")
            check(f"{name}: lines of the sheet fill the screen: {lines}", lines and lines[-1][1] <= bar["y"] + 1 and bar["height"] < 70
                  and lines[0][2] > size["width"] * .8 and page.evaluate("Boolean(document.querySelector('#bag').closest('[inert]'))"))
            page.keyboard.press("Space")
            page.wait_for_timeout(300)
            check(f"{name}: Space plays on the music stand ({state(page)})", state(page) == "playing")
            page.locator("#leave").click()
            page.wait_for_timeout(200)
            check(f"{name}: the button Leave closes the music stand, and the tune continues", state(page) == "playing"
                  and not page.evaluate("document.body.classList.contains('stand') || Boolean(document.querySelector('[inert]'))"))
            page.keyboard.press("Space")
            page.locator("#more").click() if page.evaluate("document.body.classList.contains('more')") else None
            page.keyboard.press("Space")
            page.wait_for_timeout(200)
            bar = page.locator(".player").bounding_box()["height"]
            check(f"{name}: during play on a phone, the player is one row ({bar:.0f} px)", size is DESK or bar < 70)
            page.keyboard.press("Space")
            page.evaluate("document.querySelector('[name=player]').value = 'beginner'; "
                          "document.querySelector('[name=player]').dispatchEvent(new Event('change', {bubbles: true}))")
            page.wait_for_timeout(80)
            answered(page)
            page.wait_for_timeout(100)
            kept = [page.input_value(f"#{name}") for name in ("train-from", "along", "tempo")]
            check(f"{name}: the next answer keeps the settings of the player: {kept}", kept == ["70", "drone", "70"] and page.is_checked("#train"))


def open_holes(page, note, size="broad"):
    """Opens the panel of a note by a real click or tap on its house in the tab."""
    house = page.locator(f".{size} .note[data-note='{note}'] [class$=-shape]").first
    house.tap() if size == "slim" else house.click()
    page.wait_for_selector("#holes[open]")


def asked_again(page):
    page.wait_for_timeout(80)
    answered(page)
    page.wait_for_timeout(80)


def changes_a_hole(check, visit, command):
    """Tests that a player can choose another hole for a note: the hole has the command's price, is kept with the other
    pins, and can be removed."""
    pinned = {at: json.loads(command("suggest", LAMPS, "--json", "--as-written", *at.split()).stdout)["pinned"]
              for at in ["--at 0:6=-2", "--at 2:6=3", "--at 0:6=-2 --at 2:6=3"]}
    with visit("a hole", PHONE) as page:
        choose_file(page, LAMPS)
        answered(page)
        tab = lambda: page.locator(".tab pre").text_content()
        before, top = tab(), page.locator("#approach .paper").bounding_box()["y"]
        open_holes(page, 0, "slim")
        rows = page.locator("#holes .holes button")
        check(f"a click on a note shows its holes: {rows.all_inner_texts()}", rows.count() == 2)
        one = pinned["--at 0:6=-2"]
        more = one["effort"] - one["effort_free"]
        row = rows.filter(has_text="draw 2")
        check(f"the panel shows the command's price ({more})", f"costs {more} points, {one['effort']} in all" in row.inner_text())
        small = [box["height"] for box in (found.bounding_box() for found in page.locator("#holes button").all())]
        check(f"the buttons of the panel are large enough for a finger: {small}", min(small) >= 43.5)
        row.tap()
        asked_again(page)
        check("the choice of another hole changes the tab", tab() != before)
        said = page.inner_text("#pins")
        check(f"the answer names the hole with its price: {said!r}", "draw 2" in said and f"{one['effort']} instead of {one['effort_free']}" in said)
        check("the sheet marks the pinned note", page.locator(".slim .note[data-note='0'] .frame").count() == 1
              and page.locator(".slim .note .frame").count() == 1)
        check("the sheet stays in place", page.locator("#approach .paper").bounding_box()["y"] == top)
        check("the player is still on the note of the panel", page.input_value("#place") == "0")
        page.locator("#pins button").tap()
        asked_again(page)
        check("without the pin, the tab is as before", tab() == before and not page.is_visible("#pins") and page.locator(".slim .frame").count() == 0)
    with visit("holes with keys") as page:
        choose_file(page, LAMPS)
        answered(page)
        open_holes(page, 0)
        page.keyboard.press("Escape")
        check("Escape closes the panel and returns the keyboard focus", not page.is_visible("#holes")
              and page.evaluate("document.activeElement.className") == "paper" and state(page) == "still")
        page.keyboard.press("h")
        page.wait_for_selector("#holes[open]")
        focus = page.evaluate("document.activeElement.textContent")
        check(f"the key h opens the panel and moves the keyboard focus into it: {focus!r}", "draw 2" in focus)
        found = Axe().run(page).response["violations"]
        grave = [fault["id"] for fault in found if fault["impact"] in ("serious", "critical")]
        check(f"axe-core finds nothing serious in the panel: {grave}", not grave)
        page.locator("#holes .holes button", has_text="draw 2").press("Enter")
        asked_again(page)
        check("Enter chooses a hole and returns the keyboard focus", page.evaluate("document.activeElement.className") == "paper")
        page.evaluate("""[...document.querySelectorAll(".broad .note")].map(x => x.dataset.note).some(note => {
            document.getElementById("place").value = note; document.getElementById("place").dispatchEvent(new Event("input"));
            return document.getElementById("now").textContent.startsWith("bar 2 beat 6") })""")
        page.locator("#other-holes").click()
        page.wait_for_selector("#holes[open]")
        both = pinned["--at 0:6=-2 --at 2:6=3"]
        blow = page.locator("#holes .holes button", has_text="blow 3")
        check(f"the price of a second pin includes the first: {blow.inner_text()!r}", f", {both['effort']} in all" in blow.inner_text())
        blow.click()
        asked_again(page)
        check("two holes are pinned", page.locator(".broad .note .frame").count() == 2)
        kept = taken(page, "pins", command.folder)
        tune = command.folder / "lamps-along-the-row.musicxml"
        shutil.copy(LAMPS, tune)
        beside = json.loads(command("suggest", tune, "--json", "--as-written").stdout)["pinned"]
        check(f"the saved pins are those that the command reads beside the tune ({kept.name})", kept.suffix == ".pins" and beside == both)
        kept.unlink()
        page.locator("#standard input[value=A]").check()
        until(page, "!document.getElementById('trouble').hidden")
        check(f"if the pins cannot be kept, the page says so: {page.inner_text('#trouble')[:90]!r}", "cannot be" in page.inner_text("#trouble"))
        page.locator("#trouble button", has_text="Remove all").click()
        asked_again(page)
        check("the message has a button that removes the pins", not page.is_visible("#trouble") and "A harp" in page.inner_text("#headline"))
        page.locator("#standard input[value=A]").uncheck()
        asked_again(page)
        check("after the removal, no note is pinned", page.locator(".broad .frame").count() == 0 and not page.is_visible("#pins"))


def checks_a_tab(check, visit):
    with visit("a check") as page:
        choose_file(page, LAMPS)
        answered(page)
        page.fill("#typed", (DEMO / "lamps-lesson.txt").read_text(encoding="utf-8"))
        page.click("#check")
        until(page, "document.getElementById('checked').textContent.length > 0")
        said = page.inner_text("#checked")
        check(f"the page checks a typed tab: {said[:80]!r}", re.search(r"\d+ of \d+ notes are right; .* to change", said))
        ways = page.evaluate("""[...document.querySelectorAll("#checked .broad svg:has(.system)")].map(line => line.querySelectorAll(".system").length)""")
        check(f"the two ways are one above the other: {ways}", len(ways) > 1 and set(ways) == {2})
        page.uncheck("#count")
        names = page.locator("[data-hear]").all_inner_texts()
        check(f"each way has a button to hear it: {names}", len(names) == 2 and names[0].startswith("Hear the tab"))
        page.locator("[data-hear='0']").click()
        until(page, "window.__heard().loud > -50", 8)
        until(page, "document.querySelectorAll('#checked .lit').length > 1")
        one = page.evaluate("[document.querySelectorAll('#checked .halo').length, document.querySelectorAll('#approach .paper .lit').length, "
                            "document.querySelector('[data-hear=\"0\"]').ariaPressed]")
        check(f"the first way sounds, and its own sheet is lit: {one}", one[0] > 1 and one[1] == 0 and one[2] == "true")
        before = int(page.input_value("#place"))
        page.locator("[data-hear='1']").click()
        page.wait_for_timeout(300)
        after = int(page.input_value("#place"))
        check(f"the other way continues from the same place ({before}, {after})", state(page) == "playing" and before <= after <= before + 3
              and page.get_attribute("[data-hear='1']", "aria-pressed") == "true")
        page.keyboard.press("Space")
        check("Space pauses it", state(page) == "still" and page.get_attribute("[data-hear='1']", "aria-pressed") == "false")
        page.keyboard.press("Space")
        page.wait_for_timeout(300)
        check("after that, Play plays the page's own row", page.locator("#approach .paper .lit").count() > 0 and page.locator("#checked .lit").count() == 0)
        page.keyboard.press("Space")
        page.fill("#typed", "")
        page.click("#check")
        until(page, "!document.getElementById('checked').textContent.includes('notes are right')")
        check(f"without a tab, the page says what is missing: {page.inner_text('#checked')!r}", len(page.inner_text("#checked")) > 10)
