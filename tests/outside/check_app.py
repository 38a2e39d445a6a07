"""Tests the page for a browser (app/) as a player uses it: in Chromium, on the screens of a phone and of a desktop,
with real taps, keys and files. Asked in Node, the page's library must answer byte for byte as the command does. Times
are measured with the processor slowed to a quarter of its speed.

    check_app.py path/to/breathline          app/build has made target/breathline.html
"""

import json
import re
import shutil
import subprocess
import sys
import tempfile
from html import unescape
from pathlib import Path
from xml.etree import ElementTree

from app_page import APP, CORPUS, DEMO, LAMPS, ROOT, Command, Visit, answered, choose_file, state, taken, until
from app_practice import changes_a_hole, checks_a_tab, practises
from axe_playwright_python.sync_playwright import Axe
from check_page import HOSTILE
from outside import Check
from playing_page import DESK, PHONE
from playwright.sync_api import sync_playwright

WASM = ROOT / "target" / "breathline.wasm"
MOST_BYTES = 2_000_000
# In milliseconds, with the processor slowed to a quarter of its speed.
MOST_FIRST, MOST_AFTER = 1000, 150
POLICY = re.compile(r"default-src 'none'; script-src 'sha256-[\w+/=]+' 'wasm-unsafe-eval'; style-src 'sha256-[\w+/=]+'; "
                    r"worker-src blob:; base-uri 'none'; form-action 'none'")


def main(argv):
    if len(argv) < 2:
        sys.exit(__doc__)
    browser_path = shutil.which("chromium")
    if browser_path is None:
        sys.exit("check_app.py: there is no chromium; apt-get install chromium brings it")
    if not APP.is_file():
        sys.exit(f"check_app.py: there is no {APP.relative_to(ROOT)}; app/build makes it")
    check = Check()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        command = Command(Path(argv[1]).resolve(), Path(folder))
        is_small(check)
        answers_alike(check, command)
        browser = playwright.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])
        visit = Visit(check, browser)
        plays_in_three_taps(check, visit)
        is_fast(check, visit)
        opens(check, visit, command)
        lists(check, visit, command)
        refuses(check, visit, command)
        answers_live(check, visit, command)
        offers_what_there_is(check, visit)
        keeps(check, browser)
        plays_with_space(check, visit)
        practises(check, visit)
        chooses_a_row(check, visit)
        changes_a_hole(check, visit, command)
        is_taken_away(check, visit, command)
        checks_a_tab(check, visit)
        fits(check, visit)
        is_accessible(check, visit)
        prints(check, visit)
        resists(check, visit)
        browser.close()
    return check.finish()


# ---- The file.

def is_small(check):
    size = APP.stat().st_size
    print(f"  the page has {size // 1000} kB")
    check(f"the page has at most {MOST_BYTES // 1000} kB: {size // 1000}", size <= MOST_BYTES)
    text = APP.read_text(encoding="utf-8")
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    check("its security policy allows only its own script, style and worker", POLICY.fullmatch(policy[1]))
    check("it contains no address of another site", not re.search(r"(src|href)=\"?(https?:)?//", text))


def answers_alike(check, command):
    """Tests that the JSON of the page equals the command's JSON, byte for byte."""
    node = shutil.which("node")
    if node is None:
        print("  SKIPPED: WebAssembly against the command: there is no node (apt-get install nodejs)")
        return
    tunes = sorted([*CORPUS.glob("*.mid"), *CORPUS.glob("*.musicxml"), *DEMO.glob("*.mxl")])[::2]
    ways = [({}, []), ({"harps": ["C", "low-F"], "player": "beginner", "tab_style": "arrows"},
                       ["--harps", "C,low-F", "--player", "beginner", "--tab-style", "arrows"]),
            ({"any_key": True, "style": "blues", "bends": "over", "changes": "needed", "tempo": 60, "unfold": True},
             ["--any-key", "--style", "blues", "--bends", "over", "--adapt", "--tempo", "60", "--unfold"])]
    pins = ["0:6=-2", "2:6=3"]
    questions = [(tune, *ways[index % len(ways)]) for index, tune in enumerate(tunes)]
    questions.append((LAMPS, {"pins": pins}, ["--at", pins[0], "--at", pins[1]]))
    answers = ask(node, [(tune, choices) for tune, choices, _ in questions])
    for (tune, _, options), answer in zip(questions, answers, strict=True):
        native = command("suggest", tune, *options, "--json").stdout
        check(f"{tune.name} {options}: the same answer", native and answer["shown"]["suggest"] == native)


def ask(node, questions):
    """Returns the answers of the page's library, asked in Node, to pairs of a file and choices."""
    lines = [json.dumps({"file": str(tune), "choices": {"name": tune.stem, "suggest": True, **choices}}) for tune, choices in questions]
    run = subprocess.run([node, ROOT / "tests" / "outside" / "ask.mjs", WASM], input="\n".join(lines) + "\n",
                         capture_output=True, text=True, check=True)
    return [json.loads(line) for line in run.stdout.splitlines()]


# Returns the name and the value of every choice in the form.
OFFERED = """() => [...document.getElementById("choices").elements].flatMap(control =>
  control.name === "harps" ? [["harps", [control.value]]]
  : control.type === "checkbox" ? [[control.name, true]]
  : control.options ? [...control.options].filter(option => option.value).map(option => [control.name, option.value]) : [])"""


def offers_what_there_is(check, visit):
    """Tests that the library understands every choice of the form."""
    node = shutil.which("node")
    with visit("offers") as page:
        choose_file(page, DEMO / "lamps-along-the-row-band.mid")
        answered(page)
        offered = page.evaluate(OFFERED)
    check(f"the form offers many choices ({len(offered)})", len(offered) > 100)
    if node is None:
        return
    numbers = ("part", "voice", "position", "octave")
    choices = [{name: int(value) if name in numbers else value} for name, value in offered]
    answers = ask(node, [(DEMO / "lamps-along-the-row-band.mid", choice) for choice in choices])
    wrong = [(choice, answer["error"]) for choice, answer in zip(choices, answers, strict=True) if "error" in answer]
    check(f"the library understands every choice: {wrong[:3]}", not wrong)


# ---- Three taps, and the time that they take.

def plays_in_three_taps(check, visit):
    with visit("three taps", PHONE) as page:
        with page.expect_file_chooser() as chooser:
            page.locator("label.button", has=page.locator("#file")).tap()
        chooser.value.set_files(LAMPS)  # The second tap is in the phone's own list of files.
        answered(page)
        sheet = page.locator(".paper .slim svg").first.bounding_box()
        bar = page.locator("#bar").bounding_box()
        check(f"phone: the sheet begins on the first screen ({sheet['y']:.0f} px)", sheet["y"] < PHONE["height"] / 3)
        check("phone: the button Play is on the first screen", bar["y"] + bar["height"] <= PHONE["height"] + 1)
        page.evaluate("window.__log = []")
        page.locator("#play").tap()
        until(page, "window.__heard().loud > -50", 8)
        until(page, "document.querySelectorAll('.paper .slim .lit').length > 0 && document.body.dataset.state === 'playing'")
        lit = page.evaluate("new Set(window.__log.flatMap(frame => frame.lit)).size")
        until(page, "new Set(window.__log.flatMap(frame => frame.lit)).size > 3", 12)
        check(f"phone: after three taps the tune sounds with its tab lit ({lit})", page.locator(".halo").count() > 0)


# Measures the time from a click until the next frame after an answer was shown.
STOPWATCH = """
window.__took = null;
addEventListener("click", () => { window.__from = performance.now(); window.__took = null; }, {capture: true});
addEventListener("DOMContentLoaded", () => new MutationObserver(() => requestAnimationFrame(() => setTimeout(() => {
  window.__took = performance.now() - window.__from;
}))).observe(document.getElementById("headline"), {childList: true}));
"""


def is_fast(check, visit):
    times = {"first": [], "after": []}
    for _ in range(3):
        with visit("time", PHONE) as page:
            slow = page.context.new_cdp_session(page)
            slow.send("Emulation.setCPUThrottlingRate", {"rate": 4})
            page.add_init_script(STOPWATCH)
            page.reload()
            page.tap("#demo")
            until(page, "window.__took !== null", 30)
            times["first"].append(page.evaluate("window.__took"))
            page.tap("#bag summary")
            for key in ["C", "D", "A"]:
                page.locator(f"#standard input[value={key}]").tap()
                until(page, "window.__took !== null", 30)
                times["after"].append(page.evaluate("window.__took"))
    for name, most, what in [("first", MOST_FIRST, "from the tap on the demo tune to its answer, in a freshly opened page"),
                             ("after", MOST_AFTER, "from a tap on a harp to the next answer")]:
        best = min(times[name])
        said = "" if best <= most else f"  NOT REACHED: at most {most} ms"
        print(f"  {best:.0f} ms {what} (all: {', '.join(f'{took:.0f}' for took in times[name])}){said}")
    check("there are answers within ten seconds", max(times["first"] + times["after"]) < 10_000)


# ---- Ways in.

def opens(check, visit, command):
    with visit("a file") as page:
        choose_file(page, CORPUS / "amazing-grace.mxl")
        answered(page)
        check("a file opens", page.inner_text("#title") == "Amazing Grace")
        key, _ = command.best(CORPUS / "amazing-grace.mxl")
        check(f"the page has the command's answer ({key})", f"{key} harp" in page.inner_text("#headline"))
    with visit("pasted text") as page:
        page.click("#paste summary")
        page.click("#pasted")
        page.keyboard.insert_text("X:1\nT:Three Steps\nL:1/4\nK:G\nGABc|d2G2|\n")
        page.click("#use")
        answered(page)
        check("text opens", page.inner_text("#title") == "Three Steps")
    with visit("typed notes") as page:
        page.click("#paste summary")
        page.click("#pasted")
        page.keyboard.insert_text("G A B d | e2 d2")
        page.click("#use")
        answered(page)
        check("typed note letters open as a tune", page.locator(".broad .note").count() >= 6)
    with visit("a drop") as page:
        drop(page, CORPUS / "clementine.mid")
        answered(page)
        check("a dropped file opens", "Clementine" in page.inner_text("#title"))
        check("after the drop, the veil is gone", not page.is_visible("#dropping"))
        drop(page, CORPUS / "old-hundredth.mid")
        until(page, "document.getElementById('title').textContent.includes('Old')")
        check("another dropped file replaces the tune", "Old" in page.inner_text("#title"))


def drop(page, path):
    """Drops a file on the page, as if it were dragged from the desktop."""
    hand = page.context.new_cdp_session(page)
    held = {"items": [], "files": [str(path)], "dragOperationsMask": 1}
    for kind in ["dragEnter", "dragOver", "drop"]:
        hand.send("Input.dispatchDragEvent", {"type": kind, "x": 300, "y": 300, "data": held})


def lists(check, visit, command):
    with visit("a book", PHONE) as page:
        choose_file(page, DEMO / "lantern-row.abc")
        page.wait_for_selector("#tunes:not([hidden])")
        titles = page.locator("#tune-list button span:first-child").all_inner_texts()
        tunes = [tune["title"] for tune in json.loads(command("notes", DEMO / "lantern-row.abc", "--json").stdout)["tunes"]]
        check(f"a file of many tunes lists them: {titles}", titles == tunes)
        page.locator("#tune-list button").nth(2).tap()
        answered(page)
        check("one of the listed tunes can be chosen", page.inner_text("#title") == titles[2])
        page.set_viewport_size({"width": 320, "height": 568})
        wide = page.evaluate("document.scrollingElement.scrollWidth")
        check(f"a book, 320 px: nothing exceeds the screen ({wide})", wide <= 320)
        page.tap("#list")
        page.locator("#tune-list button").nth(0).tap()
        answered(page)
        check("and then another", page.inner_text("#title") == titles[0])


def refuses(check, visit, command):
    """Tests that the page shows the command's error for files without a tune."""
    broken = {"torn.mid": LAMPS.with_suffix(".mid").read_bytes()[:40], "empty.abc": b"", "picture.png": b"\x89PNG\r\n\x1a\n" + bytes(64),
              "torn.musicxml": LAMPS.read_bytes()[:5000]}
    with visit("broken files") as page:
        for name, content in broken.items():
            path = command.folder / name
            path.write_bytes(content)
            page.evaluate("document.getElementById('trouble').hidden = true")
            choose_file(page, path)
            until(page, "!document.getElementById('trouble').hidden")
            said, expected = page.inner_text("#trouble"), command("suggest", path).stderr
            line = expected.strip().removeprefix("breathline: ").replace(str(path), name)
            check(f"{name}: the page shows the command's error: {said!r}, {line!r}", said == line)
            check(f"{name}: the page stays on the same screen", page.is_visible("#begin"))
        page.click("#demo")
        answered(page)
        check("after all these errors, a tune still opens", page.is_visible("#title") and not page.is_visible("#trouble"))


# ---- Choices.

TWO_VOICES = """<?xml version="1.0"?><score-partwise><part-list><score-part id="P1"><part-name>Two</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
%s<backup><duration>4</duration></backup>%s</measure></part></score-partwise>""" % tuple("".join(
    f"<note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>1</duration><voice>{voice}</voice><type>quarter</type></note>"
    for step in steps) for steps, octave, voice in [("GABG", 5, 1), ("DFAD", 4, 2)])


def answers_live(check, visit, command):
    with visit("choices") as page:
        choose_file(page, LAMPS)
        answered(page)
        seen = []

        def is_best(what, *options):
            page.wait_for_timeout(50)
            answered(page)
            key, position = command.best(LAMPS, *options)
            said = page.inner_text("#headline")
            seen.append(said)
            ordinal = {1: "1st", 2: "2nd", 3: "3rd"}.get(position, f"{position}th")
            plain = said.replace("low ", "").replace(" (the only harp that was tried)", "")
            check(f"{what}: {key} in {ordinal}: {said}", f"{key} harp in {ordinal} position" in plain)

        is_best("all harps")
        before = page.locator("#approach .paper").bounding_box()["y"]
        page.locator("#standard input[value=C]").check()
        is_best("a C harp", "--harps", "C")
        check("the sheet stays where it is", page.locator("#approach .paper").bounding_box()["y"] == before)
        page.locator("#standard input[value=D]").check()
        is_best("C and D", "--harps", "C,D")
        page.select_option("[name=player]", "beginner")
        is_best("a beginner", "--harps", "C,D", "--player", "beginner")
        page.check("[name=any_key]")
        is_best("in any key", "--harps", "C,D", "--player", "beginner", "--any-key")
        page.uncheck("[name=any_key]")
        page.select_option("[name=position]", "2")
        is_best("in second position", "--harps", "C,D", "--player", "beginner", "--position", "2")
        page.select_option("[name=position]", "")
        page.locator("#standard input[value=C]").uncheck()
        page.locator("#standard input[value=D]").uncheck()
        page.select_option("[name=key]", "Em")
        is_best("in E minor", "--player", "beginner", "--key", "Em")
        check("the answers differ", len(set(seen)) > 3)
        # After many quick changes, the page must show the answer to the last one.
        for key in ["A", "Bb", "E", "F"]:
            page.locator(f"#standard input[value={key}]").check()
        is_best("four taps in a row", "--harps", "A,Bb,E,F", "--player", "beginner", "--key", "Em")
        page.select_option("[name=tab_style]", "letters")
        page.wait_for_timeout(50)
        answered(page)
        check("a change of the tab style changes the tab", re.search(r"\d[BD]", page.locator(".tab pre").text_content()))
    with visit("two voices") as page:
        path = command.folder / "voices.musicxml"
        path.write_text(TWO_VOICES, encoding="utf-8")
        choose_file(page, path)
        answered(page)
        check("the page offers the voices of a part", page.is_visible("[name=voice]") and page.locator("[name=voice] option").count() == 3)
        tabs = []
        for voice in ["1", "2"]:
            page.select_option("[name=voice]", voice)
            page.wait_for_timeout(80)
            answered(page)
            row = json.loads(command("suggest", path, "--voice", voice, "--json").stdout)["approaches"][0]
            tabs.append((row["harp"]["key"], row["octave"]))
            check(f"voice {voice} has the command's answer ({tabs[-1]})", f"{row['harp']['key']} harp" in page.inner_text("#headline"))
    with visit("another tuning") as page:
        choose_file(page, LAMPS)
        answered(page)
        page.click("#tunings > summary")
        page.locator("#tunings details summary", has_text="country").click()
        page.locator("[value='G:country']").check()
        page.wait_for_timeout(80)
        answered(page)
        check(f"the answer uses a harp of another tuning: {page.inner_text('#headline')}", "G country harp" in page.inner_text("#headline"))
        check(f"the choices name the harp: {page.locator('#chosen').text_content()!r}", "G country" in page.locator("#chosen").text_content())
    with visit("a band") as page:
        choose_file(page, DEMO / "lamps-along-the-row-band.mid")
        answered(page)
        options = page.locator("[name=part] option").count()
        check(f"the page offers a band's parts ({options})", options > 3 and page.is_visible("[name=part]"))
        before = page.inner_html("#approach")
        check("for a part with one voice, the page offers no other voice", not page.is_visible("[name=voice]"))
        page.select_option("[name=part]", index=2)
        page.wait_for_timeout(50)
        answered(page)
        check("another part has another tab", page.inner_html("#approach") != before)


def keeps(check, browser):
    """Tests that the page remembers the choices until the next visit, and forgets them on request."""
    context = browser.new_context(viewport=DESK)

    def again():
        page = context.new_page()
        page.goto(APP.as_uri())
        page.click("#demo")
        answered(page)
        chosen = page.evaluate("[...document.querySelectorAll('[name=harps]:checked')].map(box => box.value)")
        return page, (chosen, page.input_value("[name=player]"), page.input_value("[name=tab_style]"))

    page, first = again()
    page.locator("#standard input[value=C]").check()
    page.click("#others summary")
    page.locator("#low input[value=low-F]").check()
    page.select_option("[name=player]", "advanced")
    page.select_option("[name=tab_style]", "arrows")
    page.close()
    page, kept = again()
    check(f"the page keeps the choices: {kept}", kept == (["C", "low-F"], "advanced", "arrows"))
    check("the kept choices apply at once", "C harp" in page.inner_text("#headline") or "F harp" in page.inner_text("#headline"))
    page.click("#forget")
    page.close()
    page, forgotten = again()
    check(f"the page forgets the choices on request: {forgotten}", forgotten == first == ([], "improver", "signed"))
    context.close()


# ---- Playing.

def plays_with_space(check, visit):
    with visit("Space") as page:
        choose_file(page, CORPUS / "swallowtail-jig.musicxml")
        answered(page)
        page.uncheck("#count")
        clicks = {
            "a note": lambda: (page.locator(".broad .note[data-note='5'] use").first.click(), page.wait_for_selector("#holes[open]"),
                               page.locator("#holes-close").click()),
            "a note to play from": lambda: (page.locator(".broad .note[data-note='5'] use").first.click(),
                                            page.wait_for_selector("#holes[open]"), page.locator("#from-here").click()),
            "the strip": lambda: page.locator(".strip [data-note='3'] path").first.click(force=True),
            "the tempo": lambda: page.locator("#tempo").click(),
            "the place": lambda: page.locator("#place").click(),
            "a row": lambda: page.locator("#ranking label").nth(1).click(),
            "a harp": lambda: page.locator("#standard input").nth(5).click(),
            "a choice": lambda: page.locator("[name=any_key]").click(),
            "Stop": lambda: page.locator("#stop").click(),
            "Play": lambda: page.locator("#play").click(),
            "a fold": lambda: page.locator(".tab summary").click(),
            "the loop": lambda: page.locator("#loop").click(),
        }
        for name, click in clicks.items():
            click()
            page.wait_for_timeout(80)
            answered(page)
            if state(page) == "playing":
                page.keyboard.press("Space")
            page.wait_for_timeout(30)
            at = page.evaluate("scrollY")
            held = page.evaluate("[...document.querySelectorAll('#answer input, #answer details')].map(x => x.checked || x.open)")
            page.keyboard.press("Space")
            page.wait_for_timeout(60)
            started, moved = state(page), page.evaluate("scrollY") - at
            page.keyboard.press("Space")
            page.wait_for_timeout(30)
            check(f"Space after a click on {name} plays ({started}) and pauses ({state(page)})",
                  (started, state(page)) == ("playing", "still"))
            check(f"Space neither scrolls ({moved} px) nor changes a control", abs(moved) < 400 and held == page.evaluate(
                "[...document.querySelectorAll('#answer input, #answer details')].map(x => x.checked || x.open)"))
        page.locator("#typed").click()
        page.keyboard.press("Space")
        check("in a text field, Space types a space", state(page) == "still" and page.input_value("#typed") == " ")
        page.locator("#stop").focus()
        page.keyboard.press("Tab")
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Space")
        check("after Tab, Space presses the button that has the focus", "Stopped" in page.inner_text("#said"))


def chooses_a_row(check, visit):
    with visit("another row") as page:
        choose_file(page, LAMPS)
        answered(page)
        headline, tempo = page.inner_text("#headline"), page.locator("#tempo")
        wrong = page.evaluate("""() => [...document.querySelectorAll("#ranking rect.part")].filter(part =>
            Math.abs(part.getBoundingClientRect().width / part.closest("svg").getBoundingClientRect().width * 100
                - parseFloat(part.getAttribute("width"))) > 1.5).length""")
        check(f"the parts of the ranking's bars have the right widths ({wrong} do not)", wrong == 0)
        page.locator("#ranking label").nth(2).click()
        until(page, "document.getElementById('said').textContent.length > 0")
        name = page.locator("#ranking label").nth(2).locator(".name b").inner_text()
        check(f"after the choice of a row, the page shows the row's own sheet ({name})", page.locator(".why").inner_text().startswith(("A " + name, "An " + name)))
        check("the answer stays", page.inner_text("#headline") == headline)
        tempo.focus()
        page.keyboard.press("ArrowLeft")
        slower = tempo.input_value()
        page.select_option("[name=style]", "folk")
        page.wait_for_timeout(50)
        answered(page)
        check(f"the next answer keeps the player's tempo ({slower})", page.input_value("#tempo") == slower != "100")


# ---- Saved files, and the page on paper.


def is_taken_away(check, visit, command):
    with visit("files") as page:
        choose_file(page, LAMPS)
        answered(page)
        got = {form: taken(page, form, command.folder) for form in ["page", "svg", "text", "musicxml", "abc", "midi"]}
        rows = json.loads(command("suggest", LAMPS, "--json", "--as-written").stdout)["approaches"]
        key, octave = rows[1]["harp"]["key"], rows[1]["octave"]
        page.locator("#ranking label").nth(1).click()
        until(page, "document.getElementById('said').textContent.length > 0")
        for form, ending in [("musicxml", "musicxml"), ("midi", "mid")]:
            out = command.folder / f"second.{ending}"
            command("export", LAMPS, "--harp", key, "--octave", octave, "-o", out)
            second = taken(page, form, command.folder / "second").read_bytes()
            check(f"{form} of the second row equals the command's file ({key}, {octave})", second == out.read_bytes())
    names = {form: path.name for form, path in got.items()}
    check(f"the files are named after the tune: {names}", all(name.startswith("lamps-along-the-row.") for name in names.values()))
    written = command.folder / "written.html"
    command("suggest", LAMPS, "--sheet", written, "--json")
    check("the page of the tune equals the command's page", got["page"].read_bytes() == written.read_bytes())
    command("sheet", LAMPS, "-o", command.folder / "written.svg")
    check("the sheet equals the command's sheet", got["svg"].read_bytes() == (command.folder / "written.svg").read_bytes())
    check("and whole", ElementTree.parse(got["svg"]).getroot().tag.endswith("svg"))
    tab = command("tab", LAMPS, "--harp", "G").stdout
    check("the tab as text equals the command's text", got["text"].read_text(encoding="utf-8") == tab)
    for form, ending in [("musicxml", "musicxml"), ("abc", "abc"), ("midi", "mid")]:
        out = command.folder / f"native.{ending}"
        command("export", LAMPS, "--harp", "G", "-o", out)
        check(f"{form} equals the command's file", got[form].read_bytes() == out.read_bytes())


def prints(check, visit):
    with visit("paper") as page:
        choose_file(page, LAMPS)
        answered(page)
        page.emulate_media(media="print")
        shown = {".broad": True, "#title": True, "#headline": True, ".about": True, "#bar": False, "#bag": False, ".ranking": False,
                 ".take": False, ".lesson": False, ".top": False, ".where": False}
        for selector, wanted in shown.items():
            check(f"on paper: {selector} {'is' if wanted else 'is not'} there",
                  page.locator(f"#answer {selector}, body > {selector}").first.is_visible() == wanted)


# ---- Looks, touch and accessibility.

CONTROLS = """() => [...document.querySelectorAll("button, select, summary, .button, #ranking label, .case label, .tick, textarea, "
  + "input[type=number], input[type=search], .settings label, input[type=range]")]
  .filter(x => x.offsetParent && !x.closest(".settings label label")).map(x => [x.id || x.name || x.textContent.trim().slice(0, 20) || x.className,
    x.getBoundingClientRect().height])"""


def screens(visit, name, size, **options):
    """Yields the page in three states: at its beginning, with an answer, and with everything unfolded."""
    with visit(name, size, **options) as page:
        yield "beginning", page
        choose_file(page, CORPUS / "swallowtail-jig.musicxml")
        answered(page)
        yield "answer", page
        page.evaluate("document.querySelectorAll('details').forEach(x => x.open = true); document.body.classList.add('more')")
        yield "all", page


def fits(check, visit):
    for width, height in [(320, 568), (390, 844), (768, 1024), (1280, 900)]:
        size = {"width": width, "height": height}
        for where, page in screens(visit, f"{width} px", size):
            wide = page.evaluate("document.scrollingElement.scrollWidth")
            check(f"{width} px, {where}: nothing exceeds the screen ({wide})", wide <= width)
            small = [(name, round(height)) for name, height in page.evaluate(CONTROLS) if height < 43.5]
            check(f"{width} px, {where}: every control is large enough for a finger: {small[:4]}", not small)


def is_accessible(check, visit):
    for name, size, scheme in [("phone", PHONE, "light"), ("desk", DESK, "light"), ("dark desk", DESK, "dark")]:
        for where, page in screens(visit, name, size, color_scheme=scheme, reduced_motion="reduce"):
            if where == "answer":
                continue
            found = Axe().run(page).response["violations"]
            grave = [f"{fault['id']} ({fault['nodes'][0]['html'][:90]})" for fault in found
                     if fault["impact"] in ("serious", "critical")]
            check(f"{name}, {where}: axe-core finds nothing serious: {grave}", not grave)


def resists(check, visit):
    """Tests that hostile markup in a title stays text."""
    with visit("hostile titles") as page:
        page.click("#paste summary")
        for text in HOSTILE:
            # ABC has the same escapes as HTML for some characters.
            meant = " ".join(unescape(text).split())
            page.fill("#pasted", f"X:1\nT:{text}\nL:1/4\nK:C\nCEGc|\nw:{text}\n\nX:2\nT:{text}\nK:C\nGE|\n")
            page.click("#use")
            page.wait_for_selector("#tunes:not([hidden])")
            check(f"{text}: the list shows it as text", page.locator("#tune-list span").first.inner_text() == meant)
            page.locator("#tune-list button").first.click()
            answered(page)
            check(f"{text}: the title shows it as text", page.inner_text("#title") == meant)
            foreign = "#answer script, #answer style, img, iframe, object, embed, [onerror], [onload], [onmouseover], [style]"
            check(f"{text}: no part of it became an element", page.locator(foreign).count() == 0)
            page.hover("#title")
            page.keyboard.press("ArrowRight")
            page.click("#another")


if __name__ == "__main__":
    sys.exit(main(sys.argv))
