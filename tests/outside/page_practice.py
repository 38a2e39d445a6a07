"""Tests how a player practises with a page: the trainer, the accompaniment, and the sheet on the full screen.
`check_page.py` runs these tests."""

from axe_playwright_python.sync_playwright import Axe
from playing_page import DESK, PHONE, data, lit, start


def trains(check, visit, path):
    """Checks that each pass of the loop is faster, up to the goal, by the times at which notes light up."""
    with visit(path) as page:
        numbers = data(page)
        labels = [bar["label"] for bar in numbers["bars"]]
        bar = labels.index("3")
        for name in ["#to", "#from"]:
            page.select_option(name, str(bar))
        page.click("#more")
        for name, value in [("from", 60), ("step", 20), ("to", 100)]:
            page.select_option(f"#train-{name}", str(value))
        check("a chosen step turns the trainer on, at its first tempo", page.is_checked("#train") and page.input_value("#tempo") == "60")
        length = (numbers["bars"][bar]["to"] - numbers["bars"][bar]["at"]) / 1000
        wanted = [length / rate for rate in [.6, .8, 1, 1]]
        start(page)
        page.wait_for_timeout(int(sum(wanted) * 1000) + 700)
        seen = lit(page)
        begins = [at for at, index in seen if index == seen[0][1]]
        passes = [b - a for a, b in zip(begins, begins[1:])]
        close = len(passes) >= 4 and all(abs(took - right) < .08 for took, right in zip(passes, wanted))
        check(f"60, 80, 100, 100 %: passes of {[round(took, 2) for took in passes]} s, {[round(right, 2) for right in wanted]} s", close)
        check("the page shows the tempo", page.input_value("#tempo") == "100" and page.inner_text("#speed").startswith("100 %"))
        page.keyboard.press("s")
        check("Stop returns to the first tempo", page.input_value("#tempo") == "60")
        page.keyboard.press("t")
        check("the key t turns the trainer off", not page.is_checked("#train"))


def loops_by_dragging(check, visit, path):
    """Tests that a drag from bar to bar loops the bars, with the mouse and with a finger that first holds still. A
    finger that moves at once scrolls."""

    def middle(page, size, bar, which):
        notes = [index for index, of in enumerate(data(page)["notes"]["bar"]) if of == bar]
        box = page.locator(f".paper {size} [data-note='{notes[which]}']").first.bounding_box()
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def loop(page):
        return page.is_checked("#loop"), page.input_value("#from"), page.input_value("#to")

    with visit(path) as page:
        labels = [bar["label"] for bar in data(page)["bars"]]
        first, last = labels.index("2"), labels.index("3")
        page.locator(".paper .broad svg").first.scroll_into_view_if_needed()
        # Backwards, from the last note of bar 3 to the first note of bar 2.
        page.mouse.move(*middle(page, ".broad", last, -1))
        page.mouse.down()
        page.mouse.move(*middle(page, ".broad", first, 0), steps=8)
        aside = page.locator(".paper .broad .aside").count()
        page.mouse.up()
        check(f"a drag over bars loops them: {loop(page)}", loop(page) == (True, str(first), str(last)))
        check(f"during the drag, the notes outside it fade ({aside})", aside > 0 and page.locator(".aside").count() == 0)
        check("and is said", "bar 2 to 3" in page.inner_text("#said"))
        place = page.input_value("#place")
        page.mouse.click(*middle(page, ".broad", labels.index("4"), 0))
        check("a click is not a drag", page.input_value("#place") != place and loop(page) == (True, str(first), str(last)))
    with visit(path, PHONE, has_touch=True) as page:
        labels = [bar["label"] for bar in data(page)["bars"]]
        first = labels.index("1")
        page.locator(".paper .slim svg").first.scroll_into_view_if_needed()
        hand = page.context.new_cdp_session(page)

        def finger(kind, *point):
            points = [{"x": point[0], "y": point[1]}] if point else []
            hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        for holds in [False, True]:
            (x, y), to = middle(page, ".slim", first, 0), middle(page, ".slim", first, -1)
            finger("touchStart", x, y)
            page.wait_for_timeout(700 if holds else 30)
            for step in range(1, 6):
                finger("touchMove", x + (to[0] - x) * step / 5, y + (to[1] - y) * step / 5)
            finger("touchEnd")
            page.wait_for_timeout(100)
            wanted = (True, str(first), str(first)) if holds else False
            check(f"a finger that {'holds still' if holds else 'moves at once'}: {loop(page)}", loop(page) == wanted if holds else not loop(page)[0])


def plays_along(check, visit, path):
    """Checks that the drone on the tonic and the tune's chords sound at their pitches, and only when they are turned
    on."""
    with visit(path) as page:
        row, chords = data(page)["rows"][0], data(page)["chords"]
        hertz = lambda midi: 440 * 2 ** ((midi - 69) / 12)
        check(f"the tune has chords, the first of them G: {chords[0]}", chords[0]["midi"][0] == 43
              and {midi % 12 for midi in chords[0]["midi"]} == {7, 11, 2} and row["drone"] % 12 == 7)
        page.click("#more")
        heard = {}
        for along, level in [("nothing", 60), ("drone", 60), ("drone", 0), ("chords", 60)]:
            page.select_option("#along", along)
            page.locator("#level").evaluate("(x, level) => { x.value = level; x.dispatchEvent(new Event('input')); }", level)
            page.keyboard.press("s")
            start(page, 50)
            page.wait_for_timeout(1900)
            # The lowest note of the accompaniment is at least an octave below the tune.
            heard[along, level] = page.evaluate("hertz => window.__level(hertz)", hertz(row["drone"] if along == "drone" else chords[0]["midi"][0]))
            page.click("#stop")
            page.wait_for_timeout(400)
        quiet = max(heard["nothing", 60], heard["drone", 0])
        check(f"drone and chords are heard, and only when they are turned on: {heard}",
              heard["drone", 60] > quiet + 20 and heard["chords", 60] > quiet + 20)
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press("b")
        check("the key b turns on the next accompaniment", page.input_value("#along") == "drone" and "a drone" in page.inner_text("#said"))

# Returns index, top, bottom and width of each visible line of music.
LINES = """() => [...document.querySelectorAll(".paper > div > svg")].map((line, k) => [k, line.getBoundingClientRect()])
  .filter(([, box]) => box.height).map(([k, box]) => [k, Math.round(box.top), Math.round(box.bottom), Math.round(box.width)])"""


def stands_alone(check, visit, path, size):
    name = f"stand {size['width']}x{size['height']}"
    with visit(path, size) as page:
        page.locator("body").press("f")
        page.wait_for_timeout(400)
        bar, first = page.locator(".player").bounding_box(), page.evaluate(LINES)
        check(f"{name}: lines of music fill the screen: {first}", first and first[-1][2] <= bar["y"] + 1
              and first[0][3] >= size["width"] * .8)
        check(f"{name}: the keyboard reaches no other control", page.evaluate(
            "[...document.querySelectorAll('h1, #ranking, .about, .where, .tab')].every(x => x.closest('[inert]'))"))
        small = [round(button.bounding_box()["height"]) for button in page.locator(".transport button:visible").all()]
        wide = page.evaluate("document.scrollingElement.scrollWidth")
        check(f"{name}: its buttons are large enough for a finger ({small}), and none exceeds the screen ({wide})", min(small) >= 44 and wide <= size["width"]
              and all(box["x"] + box["width"] <= size["width"] for box in [x.bounding_box() for x in page.locator(".transport button:visible").all()]))
        check(f"{name}: the screen stays awake", page.evaluate("window.__awake") == ["screen"])
        found = Axe().run(page).response["violations"]
        grave = [fault["id"] for fault in found if fault["impact"] in ("serious", "critical")]
        check(f"{name}: axe-core finds nothing serious: {grave}", not grave)
        page.keyboard.press("PageDown")
        second = page.evaluate(LINES)
        turns = second[0][0] == first[-1][0] + 1 if len(first) < page.locator(".paper > div:visible > svg").count() else second == first
        check(f"{name}: Page Down turns the page: {second}", turns or len(second) == 0)
        page.keyboard.press("PageUp")
        check(f"{name}: Page Up turns back", page.evaluate(LINES) == first)
        page.mouse.click(size["width"] * .8, 100)
        check(f"{name}: a tap on the right turns the page", page.evaluate(LINES) == second)
        page.mouse.click(size["width"] * .1, 100)
        check(f"{name}: a tap on the left turns back", page.evaluate(LINES) == first)
        page.evaluate("""() => { document.querySelector("#count").checked = false;
            const tempo = document.querySelector("#tempo"); tempo.value = 150; tempo.dispatchEvent(new Event("input")); }""")
        page.keyboard.press("Space")
        hidden = 0
        for _ in range(60):
            page.wait_for_timeout(100)
            hidden += page.evaluate("""() => { const note = document.querySelector(".strip .lit");
                return Boolean(note) && ![...document.querySelectorAll(`.paper .note[data-note="${note.dataset.note}"]`)].some(x => {
                    const box = x.getBoundingClientRect(); return box.height && box.top >= -1 && box.bottom <= innerHeight; }); }""")
        check(f"{name}: during play, the sounding note is on the page ({hidden} times it was not)", hidden == 0)
        page.keyboard.press("Space")
        check(f"{name}: Space pauses", page.evaluate("document.body.dataset.state") == "still")
        page.keyboard.press("Escape")
        page.wait_for_timeout(300)
        left = page.evaluate("""() => [document.body.className.includes("stand"), Boolean(document.fullscreenElement),
            document.querySelectorAll("[inert]").length, document.activeElement.id, window.__awake.at(-1)]""")
        check(f"{name}: Escape closes the music stand: {left}", left[:3] == [False, False, 0] and left[3] in ("full", "more") and left[4] == "let go")


def is_one_row(check, visit, path, size):
    name = f"{size['width']}x{size['height']}"
    with visit(path, size) as page:
        page.click("#play")
        page.wait_for_timeout(300)
        tops = page.evaluate("""() => [...document.querySelectorAll(".player button, .player #now")].filter(x => x.getClientRects().length)
            .map(x => { const box = x.getBoundingClientRect(); return (box.top + box.bottom) / 2; })""")
        bar = page.locator(".player").bounding_box()["height"]
        if size is not DESK:
            check(f"{name}: during play, the player is one row ({bar:.0f} px, {tops})", bar < 70 and max(tops) - min(tops) < 12)
        wide = page.evaluate("document.scrollingElement.scrollWidth")
        check(f"{name}: nothing exceeds the screen ({wide})", wide <= size["width"])
