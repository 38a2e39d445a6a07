"""Tests the page to practise from in a real browser (Debian's Chromium, driven by Playwright). The page must open from
the file system without a request, a message or an error. Every control must work with mouse and keyboard, notes must
sound at the right time and pitch, and the page must print completely. axe-core must find no serious fault. The command
makes the pages, some with hostile titles and lyrics.

    check_page.py path/to/breathline
"""

import json
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from outside import Check, Opened
from page_practice import is_one_row, loops_by_dragging, plays_along, stands_alone, trains
from playing_page import DESK, EAR, PHONE, SIDE, data, data_of, forget, lit, start, until
from playwright.sync_api import sync_playwright

CORPUS = Path(__file__).parents[2] / "corpus"

# The most bytes of a page of ten ways to play a tune of 32 bars.
MOST_BYTES = 700_000


def main(argv):
    if len(argv) < 2:
        sys.exit(__doc__)
    binary = str(Path(argv[1]).resolve())
    browser_path = shutil.which("chromium")
    if browser_path is None:
        sys.exit("check_page.py: chromium is missing; install it with apt-get install chromium")
    check = Check()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        folder = Path(folder)
        browser = playwright.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])
        visit = Visit(check, browser)
        pages = {}
        for tune in ["swallowtail-jig", "amazing-grace", "londonderry-air"]:
            started = time.monotonic()
            pages[tune] = make(binary, CORPUS / f"{tune}.musicxml", folder / f"{tune}.html")
            took = time.monotonic() - started
            print(f"  {tune}: {pages[tune].stat().st_size // 1000} kB, made in {took:.2f} s")
        unfolded = make(binary, CORPUS / "swallowtail-jig.musicxml", folder / "unfolded.html", "--unfold")
        size, bars = unfolded.stat().st_size, len(data_of(unfolded)["bars"])
        print(f"  swallowtail-jig, written out: {bars} bars, {size // 1000} kB")
        check(f"a page of {bars} bars has at most {MOST_BYTES // 1000} kB: {size // 1000}", bars >= 32 and size <= MOST_BYTES)
        for path in pages.values():
            opens(check, visit, path)
            fits(check, visit, path)
            is_accessible(check, visit, path)
            prints(check, visit, path)
        jig = pages["swallowtail-jig"]
        chooses(check, visit, jig)
        plays(check, visit, jig)
        plays_in_tune(check, visit, pages["amazing-grace"])
        loops(check, visit, jig)
        repeats(check, visit, jig)
        counts_in(check, visit, jig)
        practises(check, visit, jig)
        loops_by_dragging(check, visit, jig)
        trains(check, visit, jig)
        lamps = make(binary, CORPUS.parent / "demo" / "lamps-along-the-row.musicxml", folder / "lamps.html")
        plays_along(check, visit, lamps)
        for size in [DESK, PHONE, SIDE]:
            stands_alone(check, visit, lamps, size)
            is_one_row(check, visit, lamps, size)
        is_clicked(check, visit, jig)
        obeys_keys(check, visit, jig)
        is_calm(check, visit, jig)
        lights_without_sound(check, visit, jig)
        shows_without_script(check, browser, jig)
        for path in checks(binary, folder):
            shows_both(check, visit, path)
            fits(check, visit, path)
            is_accessible(check, visit, path)
            prints(check, visit, path, PRINTED_CHECK)
        is_searched(check, visit, binary, folder)
        stands(check, visit, binary, folder)
        for number, text in enumerate(HOSTILE):
            resists(check, visit, binary, folder, number, text)
        browser.close()
    return check.finish()


def make(binary, tune, path, *options):
    subprocess.run([binary, "suggest", str(tune), *options, "--sheet", str(path)], check=True, capture_output=True)
    return path


def checks(binary, folder):
    """Writes two pages of `check`, one for a tab with faults and one for a chosen harp, and returns their paths."""
    lesson, choice = folder / "lesson.html", folder / "choice.html"
    demo = CORPUS.parent / "demo"
    check = [binary, "check", str(demo / "lamps-along-the-row.musicxml"), "--harp"]
    lessons = ["G", "--tab", str(demo / "lamps-lesson.txt"), "--sheet", str(lesson)]
    subprocess.run([*check, *lessons], check=True, capture_output=True)
    subprocess.run([*check, "C", "--sheet", str(choice)], check=True, capture_output=True)
    return lesson, choice


class Visit:
    """Opens pages, and records console messages, errors, dialogs and requests to other addresses. When a page is
    closed, `Opened` checks that there were none."""

    def __init__(self, check, browser):
        self.check, self.browser = check, browser

    def __call__(self, path, size=DESK, **options):
        context = self.browser.new_context(viewport=size, **options)
        context.add_init_script(EAR)
        page = context.new_page()
        complaints = []
        page.on("console", lambda message: complaints.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: complaints.append(f"error: {error}"))
        page.on("dialog", lambda dialog: (complaints.append(f"dialog: {dialog.message}"), dialog.dismiss()))
        page.on("request", lambda request: complaints.append(f"request: {request.url}")
                if request.url != path.as_uri() else None)
        page.goto(path.as_uri())
        until(page, lambda: page.locator(".slim > template").count() == 0)
        return Opened(self.check, context, page, complaints, path.stem)


def opens(check, visit, path):
    with visit(path) as page:
        numbers = data(page)
        check(f"{path.stem}: the page has a row for each approach", page.locator("#ranking input").count() == len(numbers["rows"]))
        check(f"{path.stem}: each row shows its name and its effort",
              all("harp" in text and "effort" in text for text in page.locator("#ranking label").all_inner_texts()))
        engraved = page.evaluate("new Set([...document.querySelectorAll('.broad [data-note]')].map(x => x.dataset.note)).size")
        check(f"{path.stem}: every note is on the sheet", engraved == len(numbers["notes"]["at"]))
        holes = page.locator(".paper .broad .chart .hole").count()
        check(f"{path.stem}: the page shows the chart of the harp", holes > 0)


def shows_both(check, visit, path):
    with visit(path) as page:
        heads = page.evaluate("""() => {
            const lines = [...document.querySelectorAll(".broad svg:has(.system)")];
            return lines.map(line => [...line.querySelectorAll(".system")].map(way =>
                [...way.querySelectorAll(".note")].map(note => [note.dataset.note,
                    Math.round(note.querySelector("use[href^='#head']").getBoundingClientRect().left),
                    note.querySelector("use[href^='#head']").getBoundingClientRect().top])));
        }""")
        check(f"{path.stem}: every line shows two ways", len(heads) > 1 and all(len(ways) == 2 for ways in heads))
        same = all([(note, left) for note, left, _ in upper] == [(note, left) for note, left, _ in lower]
                   and all(a[2] < b[2] for a, b in zip(upper, lower)) for upper, lower in heads)
        check(f"{path.stem}: the notes of the two ways are aligned", same)
        first = page.locator(".verdict").bounding_box()
        check(f"{path.stem}: the first screen shows the changes to make", first["y"] + first["height"] < DESK["height"])
        frames = page.locator(".broad .system .frame").count()
        shades = page.locator(".broad .system .shade").count()
        check(f"{path.stem}: differences are marked ({frames}, {shades})", frames > 0 or shades > 4)


def fits(check, visit, path):
    for name, size in [("desk", DESK), ("phone", PHONE)]:
        with visit(path, size) as page:
            wide = page.evaluate("document.scrollingElement.scrollWidth")
            check(f"{path.stem}: nothing exceeds the screen of a {name} ({wide} px)", wide <= size["width"])
            slim = size is PHONE
            check(f"{path.stem}: a {name} shows the lines for its screen", page.locator(".paper .slim").is_visible() == slim
                  and page.locator(".paper .broad").is_visible() != slim)
            small = page.evaluate("""() => Math.min(99, ...[...document.querySelectorAll("button, select, #ranking label")]
                .filter(x => x.offsetParent).map(x => x.getBoundingClientRect().height))""")
            check(f"{path.stem}: the controls of a {name} are large enough for a finger ({small} px)", small >= 24)


def is_accessible(check, visit, path):
    for name, size, scheme in [("desk", DESK, "light"), ("phone", PHONE, "light"), ("dark desk", DESK, "dark")]:
        with visit(path, size, color_scheme=scheme) as page:
            page.evaluate("document.querySelectorAll('details').forEach(x => x.open = true)")
            found = Axe().run(page).response["violations"]
            grave = [f"{fault['id']} ({fault['nodes'][0]['html'][:90]})" for fault in found
                     if fault["impact"] in ("serious", "critical")]
            check(f"{path.stem}, {name}: axe-core finds nothing serious: {grave}", not grave)


# The parts of a page that are printed, and those that are not.
PRINTED = {".player": False, ".ranking": False, ".where": False, ".slim": False,
           "h1": True, ".verdict": True, ".about": True, ".broad": True, ".broad .chart": True}
PRINTED_CHECK = {".slim": False, ".tab": False, "h1": True, ".verdict": True, ".reasons": True, ".ways": True,
                 ".broad": True, ".broad .chart": True}


def prints(check, visit, path, expected=PRINTED):
    # The area of an A4 page inside margins of 14 mm, in CSS pixels.
    width, height = round((210 - 28) / 25.4 * 96), round((297 - 28) / 25.4 * 96)
    with visit(path, {"width": width, "height": height}) as page:
        page.emulate_media(media="print")
        clipped = page.evaluate("""width => [...document.querySelectorAll("body *")].filter(x => {
            const box = x.getBoundingClientRect();
            return box.width && !x.closest("svg.glyphs, svg.textures") && (box.left < -1 || box.right > width + 1);
        }).map(x => x.tagName + "." + x.getAttribute("class"))""", width)
        check(f"{path.stem}: nothing is clipped on paper: {clipped[:3]}", not clipped)
        tall = page.evaluate("""height => [...document.querySelectorAll(".paper svg, li, p")]
            .filter(x => x.getBoundingClientRect().height > height).length""", height)
        check(f"{path.stem}: every line of music fits on a page", tall == 0)
        shown = {part: page.locator(part).first.is_visible() for part in expected}
        check(f"{path.stem}: the summary and the sheet are printed: {shown}", shown == expected)
        pdf = page.pdf(format="A4", print_background=False)
        count = pdf.count(b"/Type /Page\n") or pdf.count(b"/Type /Page ")
        check(f"{path.stem}: a few pages of paper ({count})", 1 <= count <= 4)


def chooses(check, visit, path):
    with visit(path) as page:
        sheet = lambda: page.locator(".paper .broad").inner_html()
        about = lambda: page.locator(".about").inner_text()
        first, reasons = sheet(), about()
        name = data(page)["rows"][1]["name"].split(",")[0]
        page.locator("#ranking label").nth(1).click()
        until(page, lambda: sheet() != first)
        check("a click on a row shows its sheet", sheet() != first)
        check("and its reasons", name in about() and about() != reasons)
        check("which is said", name in page.inner_text("#said"))
        page.locator("#ranking input").nth(1).press("ArrowUp")
        until(page, lambda: sheet() == first)
        check("the arrow keys choose a row too", sheet() == first and about() == reasons)
        page.keyboard.press("0")
        until(page, lambda: sheet() != first)
        check("the key 0 chooses the tenth row", page.locator("#ranking input").nth(9).is_checked() and sheet() != first)
        page.keyboard.press("1")
        until(page, lambda: sheet() == first)
        check("the first sheet comes back unchanged", sheet() == first)


def plays(check, visit, path):
    with visit(path) as page:
        numbers = data(page)
        at = numbers["notes"]["at"]
        start(page, 150)
        page.wait_for_timeout(4000)
        seen = lit(page)
        order = [index for _, index in seen]
        check(f"playing lights the notes one after the other: {order}", order == list(range(order[0], order[0] + len(order)))
              and order[0] == 0 and len(order) > 10)
        late = [abs((t - seen[0][0]) - (at[index] - at[0]) / 1500) for t, index in seen]
        # A loaded machine may draw some frames late, but the median must not be late.
        check(f"notes light up in time (at most {max(late):.3f} s late)", sorted(late)[len(late) // 2] < 0.06)
        one = page.evaluate("""() => ({strip: document.querySelectorAll(".strip .lit").length,
            sheet: document.querySelectorAll(".broad .note.lit").length, frame: document.querySelectorAll(".system .halo").length,
            chart: document.querySelectorAll(".broad .chart .halo").length, reed: document.querySelectorAll(".reed.lit").length})""")
        check(f"the strip, the sheet and the harp show the lit note: {one}", all(count >= 1 for count in one.values()))
        head = float(page.get_attribute(".playhead", "x1"))
        page.click("#play")
        check("Pause keeps the place", page.inner_text("#play") == "Play" and int(page.input_value("#place")) >= order[-1])
        page.wait_for_timeout(200)
        check("the playhead stays after Pause", abs(float(page.get_attribute(".playhead", "x1")) - head) < 150)
        page.click("#stop")
        check("Stop goes back", page.input_value("#place") == "0")
        page.uncheck("#repeats")
        page.evaluate("document.querySelector('#place').value = document.querySelector('#place').max;"
                      "document.querySelector('#place').dispatchEvent(new Event('input'))")
        start(page, 150)
        # The state is polled, because the page's policy forbids Playwright's own waiting.
        for _ in range(80):
            page.wait_for_timeout(100)
            if page.evaluate("document.body.dataset.state") == "still":
                break
        check("playing ends by itself", page.inner_text("#said") == "The end")


def plays_in_tune(check, visit, path):
    with visit(path) as page:
        row = data(page)["rows"][0]
        start(page, 50)
        heard, wanted = {}, {}
        for _ in range(60):
            page.wait_for_timeout(100)
            index, sound = page.evaluate("""() => [document.querySelector(".strip .lit")?.dataset.note, window.__heard()]""")
            log = page.evaluate("window.__log.slice(-25).map(frame => frame.lit[0])")
            # Counts only notes that sounded alone for the whole time that the analyser measures.
            if index is not None and len(log) == 25 and set(log) == {int(index)}:
                wanted[int(index)] = row["ways"][row["notes"][int(index)]]["midi"]
                heard.setdefault(int(index), []).append(sound["hertz"])
        page.click("#stop")
        check(f"the notes can be heard: {sorted(heard)}", len(heard) >= 3)
        for index, hertz in heard.items():
            expected = 440 * 2 ** ((wanted[index] - 69) / 12)
            middle = sorted(hertz)[len(hertz) // 2]
            check(f"note {index} sounds at {expected:.1f} Hz: {middle:.1f}", abs(middle / expected - 1) < 0.015)
        page.wait_for_timeout(500)
        check("Stop is silence", page.evaluate("window.__heard().loud") < -80)


def repeats(check, visit, path):
    with visit(path) as page:
        numbers = data(page)
        order, at = numbers["order"], numbers["notes"]["at"]
        check(f"the page knows the order of playing: {order}", len(order) > 1)
        last = max(index for index, time in enumerate(at) if time < order[0][1])
        back = min(index for index, time in enumerate(at) if time >= order[1][0])
        for wanted, after in [(True, back), (False, last + 1)]:
            page.set_checked("#repeats", wanted)
            page.evaluate("""index => { const place = document.querySelector("#place"); place.value = index;
                place.dispatchEvent(new Event("input")); }""", last - 1)
            start(page, 150)
            page.wait_for_timeout(2500)
            seen, said = [index for _, index in lit(page)], page.inner_text("#now")
            check(f"with repeats {wanted}, {after} follows {last}: {seen}", seen[:4] == [last - 1, last, after, after + 1])
            check(f"the page names the second pass: {said}", ("time 2" in said) == wanted)
            page.click("#stop")


def loops(check, visit, path):
    with visit(path) as page:
        numbers = data(page)
        labels = [bar["label"] for bar in numbers["bars"]]
        first, last = labels.index("3"), labels.index("4")
        page.select_option("#to", str(last))
        page.select_option("#from", str(first))
        check("a chosen bar turns the loop on", page.is_checked("#loop"))
        start(page, 150)
        length = (numbers["bars"][last]["to"] - numbers["bars"][first]["at"]) / 1500
        page.wait_for_timeout(int(length * 2600) + 500)
        order = [index for _, index in lit(page)]
        bars = {numbers["notes"]["bar"][index] for index in order}
        check(f"a loop stays in its bars: {sorted(bars)}", bars == {first, last})
        check(f"the loop repeats: {order}", sum(b < a for a, b in zip(order, order[1:])) >= 2)
        page.uncheck("#loop")
        page.wait_for_timeout(int(length * 1000) + 1500)
        after = {numbers["notes"]["bar"][index] for _, index in lit(page)}
        check("without the loop, playing continues", max(after) > last)


def counts_in(check, visit, path):
    with visit(path) as page:
        bar = data(page)["bars"][0]
        forget(page)
        page.evaluate("document.querySelector('#play').addEventListener('click', () => window.__from = performance.now())")
        start(page, 100, count=True)
        page.wait_for_timeout(700)
        check("the count is shown", page.inner_text("#now").startswith("Count in: "))
        page.wait_for_timeout(int(bar["lead"]) + 600)
        waited = lit(page)[0][0] - page.evaluate("window.__from") / 1000
        check(f"a count-in lasts two bars less the upbeat ({waited:.2f} s)", abs(waited - bar["lead"] / 1000 - 0.1) < 0.25)


def practises(check, visit, path):
    with visit(path) as page:
        button = page.locator(".practise[data-percent]").first
        bar, percent = button.get_attribute("data-bar"), int(button.get_attribute("data-percent"))
        button.click()
        state = page.evaluate("""() => [document.querySelector("#from").value, document.querySelector("#to").value,
            document.querySelector("#loop").checked, document.body.dataset.state]""")
        check(f"the button of a hard bar loops it: {state}", state == [bar, bar, True, "playing"])
        tempo = int(page.input_value("#tempo"))
        check(f"the loop plays at the bar's comfortable tempo ({percent} %): {tempo}", percent - 5 < tempo <= percent)


def is_clicked(check, visit, path):
    with visit(path) as page:
        page.uncheck("#count")
        note = page.locator(".broad .note[data-note='20'] use").first
        note.scroll_into_view_if_needed()
        forget(page)
        note.click()
        page.wait_for_timeout(700)
        check("a click on a note of the sheet starts there", [index for _, index in lit(page)][0] == 20)
        page.click("#stop")
        forget(page)
        page.locator(".strip [data-note='5'] path").first.click(force=True)
        page.wait_for_timeout(700)
        check("a click on a note of the strip starts there", [index for _, index in lit(page)][0] == 5)


def obeys_keys(check, visit, path):
    with visit(path) as page:
        page.uncheck("#count")
        page.locator("body").press("p")
        check("p plays", page.evaluate("document.body.dataset.state") == "playing")
        page.keyboard.press("s")
        check("s stops", page.evaluate("document.body.dataset.state") == "still")
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press("Space")
        check("Space plays", page.evaluate("document.body.dataset.state") == "playing")
        page.keyboard.press("Space")
        check("and pauses", page.evaluate("document.body.dataset.state") == "still")
        clicks = {"a note": ".broad .note[data-note='5'] use", "the tempo": "#tempo", "a row": "#ranking label >> nth=1",
                  "the loop": "#loop", "Stop": "#stop", "a fold": ".tab summary"}
        for name, place in clicks.items():
            page.locator(place).first.click()
            if page.evaluate("document.body.dataset.state") == "playing":
                page.keyboard.press("Space")
            switched = "[...document.querySelectorAll('input, details')].map(x => x.checked || x.open)"
            before = page.evaluate(switched)
            page.keyboard.press("Space")
            state = page.evaluate("document.body.dataset.state")
            page.keyboard.press("Space")
            check(f"Space after a click on {name} plays and pauses, and changes no control", state == "playing"
                  and page.evaluate("document.body.dataset.state") == "still" and page.evaluate(switched) == before)
        page.locator("#stop").focus()
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Tab")
        page.keyboard.press("Space")
        check("after Tab, Space presses the control that has the focus", "Stopped" in page.inner_text("#said"))
        page.locator("#loop").uncheck()
        page.locator("#ranking label").first.click()
        page.fill("#tempo", "100")
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press("s")
        for _ in range(3):
            page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowLeft")
        check("the arrow keys move from note to note", page.input_value("#place") == "2")
        check("the page names the note", page.get_attribute("#place", "aria-valuetext") == page.inner_text("#now")
              and "bar" in page.inner_text("#now"))
        page.keyboard.press("-")
        check("- is slower", page.input_value("#tempo") == "95")
        page.keyboard.press("]")
        bar = str(data(page)["notes"]["bar"][2])
        check("the key ] ends the loop in this bar", page.is_checked("#loop") and page.input_value("#to") == bar)
        page.keyboard.press("l")
        check("the key l turns the loop off", not page.is_checked("#loop"))
        page.keyboard.press("?")
        check("the key ? shows the keys", page.evaluate("document.querySelector('#keys').open"))
        page.uncheck("#single")
        page.keyboard.press("p")
        check("single keys can be turned off", page.evaluate("document.body.dataset.state") == "still")
        page.evaluate("document.activeElement.blur(); scrollTo(0, 0)")
        reached, unseen = set(), []
        for _ in range(60):
            page.keyboard.press("Tab")
            found = page.evaluate("""() => { const x = document.activeElement, style = getComputedStyle(x);
                return [x.id || x.name || x.className || x.tagName, parseFloat(style.outlineWidth), style.outlineStyle]; }""")
            reached.add(found[0])
            if found[0] != "BODY" and (found[1] < 2 or found[2] == "none"):
                unseen.append(found[0])
        wanted = {"row", "play", "stop", "place", "tempo", "loop", "from", "to", "count", "clicks", "paper", "scroll", "single", "more", "full"}
        check(f"Tab reaches every control: {sorted(wanted - reached)}", wanted <= reached)
        check(f"the focus is visible: {unseen[:3]}", not unseen)


def is_calm(check, visit, path):
    moves = {}
    for motion in ["reduce", "no-preference"]:
        with visit(path, PHONE, reduced_motion=motion) as page:
            start(page, 100)
            page.wait_for_timeout(6000)
            places = [frame["scrolled"] for frame in page.evaluate("window.__log")]
            moves[motion] = sum(a != b for a, b in zip(places, places[1:]))
    check(f"for users who ask for less motion, the page scrolls in fewer steps: {moves}", 1 <= moves["reduce"] <= 4 < moves["no-preference"])


def lights_without_sound(check, visit, path):
    with visit(path) as page:
        page.evaluate("delete window.AudioContext")
        start(page, 150)
        page.wait_for_timeout(1500)
        check("without a sound system the notes still light up", len(lit(page)) > 4)
        check("the page says that there is no sound", "no sound" in page.inner_text("#said"))


def is_searched(check, visit, binary, folder):
    """Tests the page of a book with the keyboard alone (search, order, the tab of a row), and with hostile titles."""
    abc = "".join(f"X:{number}\nT:{text}\nL:1/4\nK:C\nCEGc|\n\n" for number, text in enumerate(HOSTILE, 1))
    (folder / "hostile.abc").write_text(abc, encoding="utf-8")
    path = folder / "book.html"
    command = [binary, "book", str(CORPUS), str(folder / "hostile.abc")]
    subprocess.run([*command, "--page", str(path)], check=True, capture_output=True)
    lines = subprocess.run([*command, "--json"], check=True, capture_output=True).stdout.splitlines()
    titles = [" ".join(json.loads(line)["title"].split()) for line in lines]
    is_accessible(check, visit, path)
    with visit(path, PHONE) as page:
        wide = page.evaluate("document.scrollingElement.scrollWidth")
        check(f"book: nothing exceeds the screen of a phone ({wide} px)", wide <= PHONE["width"])
    with visit(path) as page:
        rows = page.locator("tbody tr:visible")
        headings = page.locator("th").all_inner_texts()
        title = page.locator(f"tbody tr:visible td:nth-child({headings.index('title') + 1})")
        check("book: every title is shown as text", title.all_inner_texts() == titles)
        page.fill("#search input", "FRERE")
        check("book: the search ignores case and accents", set(title.all_inner_texts()) == {"Frère Jacques"})
        page.fill("#search input", "")
        column = headings.index("effort")
        for order, falling in (("ascending", False), ("descending", True)):
            page.locator("th button").nth(column).focus()
            page.keyboard.press("Enter")
            shown = [int(text) for text in page.locator(f"tbody tr td:nth-child({column + 1})").all_inner_texts()]
            check(f"book: {order} effort", shown == sorted(shown, reverse=falling)
                  and page.locator("th").nth(column).get_attribute("aria-sort") == order)
        page.fill("#search input", "Row, Row")
        button = rows.first.locator("button")
        button.focus()
        page.keyboard.press("Enter")
        tab = page.locator("tr.tab")
        check("book: Enter on a row opens its tab", tab.count() == 1 and tab.inner_text().startswith("4 4 | 4 -4 5"))
        page.keyboard.press("Enter")
        check("book: a second Enter closes the tab", tab.count() == 0)


def stands(check, visit, binary, folder):
    """Tests the page of a set: it fits on one sheet of A4 and of Letter paper, in letters that can be read on a
    stand."""
    tunes = sorted(CORPUS.glob("*.mid"))
    for count, harps in [(1, "C"), (4, "C,D,Am:natural-minor"), (12, "all"), (26, "all"), (26, "low,high")]:
        path = folder / f"set-{count}.html"
        command = [binary, "set", *map(str, tunes[:count]), "--harps", harps, "--change", "50", "-o", str(path)]
        subprocess.run(command, check=True, capture_output=True)
        for paper, width, height in [("A4", 210, 297), ("Letter", 216, 279)]:
            size = {"width": round((width - 28) / 25.4 * 96), "height": round((height - 28) / 25.4 * 96)}
            with visit(path, size) as page:
                page.emulate_media(media="print")
                pdf = page.pdf(format=paper, print_background=False)
                sheets = pdf.count(b"/Type /Page\n") or pdf.count(b"/Type /Page ")
                check(f"set of {count} on {harps}: {sheets} sheets of {paper}", sheets == 1)
                wide = page.evaluate("document.scrollingElement.scrollWidth")
                check(f"set of {count} on {harps}: nothing is clipped on {paper}", wide <= size["width"])
                letters = float(page.evaluate("getComputedStyle(document.querySelector('.title')).fontSize")[:-2]) * .75
                least = 15 if count <= 12 else 8
                check(f"set of {count} on {harps}: letters of {letters:.1f} pt", letters >= least)
        with visit(path, PHONE) as page:
            wide = page.evaluate("document.scrollingElement.scrollWidth")
            check(f"set of {count} on {harps}: nothing exceeds the screen of a phone ({wide} px)", wide <= PHONE["width"])
    is_accessible(check, visit, folder / "set-4.html")


def shows_without_script(check, browser, path):
    context = browser.new_context(viewport=DESK, java_script_enabled=False)
    page = context.new_page()
    page.goto(path.as_uri())
    check("without scripts the first sheet is shown", page.locator(".paper .broad svg").first.is_visible())
    check("the page says why there is no sound", "runs no scripts" in page.locator("footer").inner_text())
    context.close()


HOSTILE = [
    "</script><img src=x onerror=alert(1)>",
    "</title></style><script>alert(2)</script>",
    "<!--<script>alert(3)//",
    "\"' onmouseover='alert(4)' x=\"",
    "<svg onload=alert(5)>&lt;b&gt;",
    "{{7*7}}${alert(6)}`",
]


def resists(check, visit, binary, folder, number, text):
    """Tests the page of a tune whose title, words and part name contain hostile markup."""
    safe = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    source = folder / f"hostile-{number}.musicxml"
    notes = "".join(
        f"<note><pitch><step>{step}</step><octave>5</octave></pitch><duration>1</duration><type>quarter</type>"
        f"<lyric><syllabic>single</syllabic><text>{safe}</text></lyric></note>" for step in "CEGE")
    source.write_text(
        "<?xml version='1.0'?><score-partwise version='4.0'>"
        f"<work><work-title>{safe}</work-title></work><part-list><score-part id='P1'><part-name>{safe}</part-name>"
        "</score-part></part-list><part id='P1'><measure number='1'><attributes><divisions>1</divisions><key><fifths>0"
        "</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
        f"<harmony><root><root-step>C</root-step></root><kind text='{safe.replace(chr(39), '&apos;')}'>major</kind></harmony>"
        f"{notes}</measure></part></score-partwise>", encoding="utf-8")
    page_file = make(binary, source, folder / f"hostile-{number}.html")
    with visit(page_file) as page:
        page.wait_for_timeout(200)
        check(f"{text}: the title is shown as text", page.inner_text("h1") == " ".join(text.split()))
        check(f"{text}: the words are shown as text", text in data(page)["notes"]["place"][0])
        check(f"{text}: no part of it became an element", page.evaluate(
            "document.querySelectorAll('img, iframe, object, embed, [onerror], [onload], [onmouseover]').length") == 0
            and page.locator("script").count() == 2)
        page.keyboard.press("ArrowRight")
        page.hover("h1")


if __name__ == "__main__":
    sys.exit(main(sys.argv))
