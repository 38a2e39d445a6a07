"""Helpers for the checks of a page that plays: sizes of screens, an analyser of its sound, and a log of its lit
notes."""

import json

DESK = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
# A phone in landscape.
SIDE = {"width": 740, "height": 360}
# Runs before the page's own script: connects an analyser to the sound, and logs the lit notes in every frame.
EAR = """
window.__log = [];
const connect = AudioNode.prototype.connect;
AudioNode.prototype.connect = function (to, ...rest) {
  if (to instanceof AudioDestinationNode) {
    window.__ear = new AnalyserNode(this.context, {fftSize: 16384, smoothingTimeConstant: 0, maxDecibels: 0});
    connect.call(this, window.__ear);
  }
  return connect.call(this, to, ...rest);
};
window.__heard = () => {
  if (!window.__ear) return {loud: 0, hertz: 0};
  const bins = new Float32Array(window.__ear.frequencyBinCount);
  window.__ear.getFloatFrequencyData(bins);
  const loud = Math.max(...bins);
  // The lowest peak that is nearly as strong as the strongest.
  let bin = bins.findIndex((level, k) => k > 5 && level > loud - 12 && level >= bins[k - 1] && level >= bins[k + 1]);
  const [a, b, c] = [bins[bin - 1], bins[bin], bins[bin + 1]];
  const shift = (a - c) / (2 * (a - 2 * b + c)) || 0;
  return {loud, hertz: (bin + shift) * window.__ear.context.sampleRate / window.__ear.fftSize};
};
// Returns the loudness at a frequency, in decibels.
window.__level = hertz => {
  const bins = new Float32Array(window.__ear.frequencyBinCount);
  window.__ear.getFloatFrequencyData(bins);
  return Math.max(...bins.slice(Math.round(hertz / window.__ear.context.sampleRate * window.__ear.fftSize) - 1).slice(0, 3));
};
// Records the requests to keep the screen awake; a browser without a screen would refuse them.
window.__awake = [];
Object.defineProperty(navigator, "wakeLock", {value: {request: async kind => {
  window.__awake.push(kind);
  return {release: async () => { window.__awake.push("let go"); }};
}}});
const watch = () => {
  const lit = [...document.querySelectorAll(".strip .lit")].map(piece => Number(piece.dataset.note));
  const scroll = document.querySelector(".scroll");
  window.__log.push({at: performance.now(), lit, state: document.body && document.body.dataset.state,
    scrolled: scroll ? scroll.scrollLeft : 0});
  requestAnimationFrame(watch);
};
requestAnimationFrame(watch);
"""


def data(page):
    return json.loads(page.inner_text("#data") or page.evaluate("document.getElementById('data').textContent"))


def data_of(path):
    """Returns the data in the file of a page."""
    return json.loads(path.read_text(encoding="utf-8").split('id="data">')[1].split("</script>")[0])


def until(page, holds, seconds=5):
    """Waits until `holds()` is true, but for at most `seconds`."""
    for _ in range(int(seconds * 50)):
        if holds():
            return
        page.wait_for_timeout(20)


def lit(page):
    """Returns (seconds, index) for each time that a note lights up during play."""
    log, found, last = page.evaluate("window.__log"), [], None
    for frame in log:
        now = frame["lit"][0] if frame["lit"] else None
        if now is not None and now != last and frame["state"] == "playing":
            found.append((frame["at"] / 1000, now))
        last = now
    return found


def forget(page):
    page.evaluate("window.__log = []")


def start(page, tempo=None, count=False):
    if not page.is_visible("#count"):
        page.click("#more")
    page.set_checked("#count", count)
    if tempo:
        page.locator("#tempo").evaluate("(x, tempo) => { x.value = tempo; x.dispatchEvent(new Event('input')); }", tempo)
    forget(page)
    page.click("#play")
