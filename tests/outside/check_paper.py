"""Reads sheets with other programs: poppler (Debian's poppler-utils) reads and draws the PDF, and Chromium draws the
SVG.

The PDF must contain the text of each sheet's SVG, in embedded fonts that have only the letters used and map them to
characters. It must have a title and a language, and take less than 100 kB a page. The pictures of PDF, SVG and PNG must
look the same. They are blurred by half a millimetre, because each program draws soft edges and thin lines in its own
way. The difference must be less than 8 % of all ink, and no letter or notehead may be missing anywhere. An SVG
without its letters must fail the test, to prove that the test can fail. The command makes the sheets; one is of a tune
whose words have accents, ligatures and other scripts.

    check_paper.py path/to/breathline
"""

import io
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml
from pathlib import Path

import numpy
from matplotlib import image
from playwright.sync_api import sync_playwright

from outside import Check

HOME = Path(__file__).parents[2]
DPI = 200
# The difference that is too great, as a share of all ink. Two programs' pictures of one sheet differ by up to 0.06.
DIFFERS = 0.08
# The share of ink below which a page is nearly empty: half of the share of a sheet of one line. The last page of a
# sheet may contain only a legend.
NEARLY_EMPTY = 0.007
# The difference that is too great in a square millimetre, as a share of a black square. A notehead fills most of a
# square.
NOWHERE = 0.15
PAGE_BYTES = 100_000

# The test uses Letter paper, which is a whole number of pixels for all three programs. Chromium moves A4 by a fraction
# of a pixel.
TUNES = [
    ["sheet", "demo/lamps-along-the-row.musicxml", "--paper", "letter"],
    ["sheet", "demo/salt-on-the-step.musicxml", "--paper", "letter", "--size", "large"],
    ["sheet", "demo/three-gulls-on-a-rail.musicxml", "--paper", "letter", "--harp", "C"],
    ["sheet", "corpus/stille-nacht.musicxml", "--paper", "letter"],
    ["sheet", "corpus/o-tannenbaum.musicxml", "--paper", "letter"],
    ["sheet", "corpus/greensleeves.musicxml", "--paper", "letter", "--harp", "C", "--adapt"],
    ["sheet", "corpus/two-jigs.musicxml", "--paper", "letter"],
]
# Kerned letters, ligatures, accents, and alphabets other than the Latin one.
WORDS = ["AVATo", "office", "flow", "e\u0301te\u0301", "Ве́тер", "ΑΥΤΟ", "“Wa”", "f’s", "T\u1ec5n", "Łódź"]


def odd_tune(folder):
    """Writes a tune of the corpus with other words and another title, and returns the command line for its sheet."""
    text = (HOME / "corpus/amazing-grace.musicxml").read_text(encoding="utf-8")
    count = iter(range(10_000))
    text = re.sub(r"(?<=<text>)[^<]*", lambda _: WORDS[next(count) % len(WORDS)], text)
    text = re.sub(r"(?<=<work-title>)[^<]*", "Toward AVATAR: Official Waffles à la crème", text)
    path = folder / "odd.musicxml"
    path.write_text(text, encoding="utf-8")
    return ["sheet", str(path), "--paper", "letter", "--harp", "C"]


def make(binary, arguments, path):
    """Makes a sheet, and returns its files in the order of the pages."""
    output = "--sheet" if arguments[0] == "check" else "-o"
    subprocess.run([binary, *arguments, output, str(path)], cwd=HOME, check=True, capture_output=True)
    return [path] if path.exists() else sorted(path.parent.glob(f"{path.stem}-[0-9]*{path.suffix}"))


def said(*command):
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def bare(text):
    """Returns a text without white space, because readers differ in lines and spaces."""
    return re.sub(r"\s+", "", text)


def texts(svg):
    return ["".join(text.itertext()) for text in xml.parse(svg).getroot().findall(".//{*}text")]


def reads_well(check, name, pdf, svgs):
    """Checks texts, fonts and properties of a PDF with poppler's programs. Returns the number of bytes per page."""
    found = bare(said("pdftotext", "-raw", pdf, "-"))
    words = [text for svg in svgs for text in texts(svg)]
    lost = [text for text in words if bare(text) not in found]
    check(f"{name}: the PDF has {len(words)} texts, but lacks {lost[:5]}", words and not lost)
    rows = said("pdffonts", pdf).splitlines()[2:]
    check(f"{name}: there is a font", rows)
    for row in rows:
        # The columns are name, type, encoding, embedded, subset, unicode and object.
        cells = row.split()
        kind, flags = " ".join(cells[1:-6]), cells[-5:-2]
        check(f"{name}: {row}", kind == "CID Type 0C" and flags == ["yes"] * 3)
        check(f"{name}: {cells[0]} is named as a subset", re.match(r"[A-Z]{6}\+LibertinusSerif-", cells[0]))
    about = dict(re.findall(r"(\w[\w ]*):\s*(.*)", said("pdfinfo", pdf)))
    check(f"{name}: pages {about['Pages']}", int(about["Pages"]) == len(svgs))
    title = xml.parse(svgs[0]).getroot().find("{*}title").text
    check(f"{name}: title {about.get('Title')}", about.get("Title") == title)
    check(f"{name}: producer", about.get("Producer", "").startswith("breathline "))
    raw = pdf.read_bytes()
    check(f"{name}: language", b"/Lang(en)" in raw.replace(b"/Lang (", b"/Lang("))
    check(f"{name}: {len(raw)} bytes for {about['Pages']} pages", len(raw) < PAGE_BYTES * len(svgs))
    return len(raw) / len(svgs)


def ink(data):
    """Returns the amount of ink of each pixel of a PNG, from 0 to 1."""
    picture = image.imread(io.BytesIO(data), format="png")[..., :3]
    return 1 - picture @ numpy.array([0.299, 0.587, 0.114])


def blurred(picture, size):
    """Returns the mean of each square of `size` by `size` pixels."""
    sums = numpy.pad(picture.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    return (sums[size:, size:] - sums[:-size, size:] - sums[size:, :-size] + sums[:-size, :-size]) / size**2


def by_poppler(pdf, page):
    command = ["pdftocairo", "-r", str(DPI), "-f", str(page), "-l", str(page), "-singlefile", "-png", str(pdf), "-"]
    return ink(subprocess.run(command, check=True, capture_output=True).stdout)


def by_chromium(visit, svg, shape):
    """Returns the ink of an SVG that Chromium draws, cut to the shape of another picture."""
    visit.goto(svg.as_uri())
    width, height = (side * 96 // DPI + 1 for side in shape[::-1])
    visit.set_viewport_size({"width": width, "height": height})
    visit.evaluate("document.fonts.ready")
    return ink(visit.screenshot())[: shape[0], : shape[1]]


def difference(first, second):
    """Returns the difference of two pictures as a share of all ink, and the greatest difference in a square
    millimetre."""
    first, second = blurred(first, 5), blurred(second, 5)
    differs = numpy.abs(first - second)
    return differs.sum() / first.sum(), blurred(differs, 8).max()


def alike(check, name, first, second):
    """Checks that two pictures look the same, and returns their difference."""
    rows, columns = (min(a, b) for a, b in zip(first.shape, second.shape))
    sizes = max(abs(a - b) for a, b in zip(first.shape, second.shape))
    first, second = first[:rows, :columns], second[:rows, :columns]
    share, most = difference(first, second)
    # On a page with a few lines of small letters, most ink is edges, which each program draws in its own way. Such a
    # page is compared only by squares.
    is_nearly_empty = first.sum() < NEARLY_EMPTY * first.size
    check(f"{name}: sizes {first.shape} and {second.shape}", sizes <= 1)
    check(f"{name}: {share:.1%} of the ink differs", share < DIFFERS or is_nearly_empty)
    check(f"{name}: {most:.1%} of a square millimetre differs", most < NOWHERE)
    return share, most


def main(argv):
    if len(argv) < 2:
        sys.exit(__doc__)
    binary = str(Path(argv[1]).resolve())
    for program in ["chromium", "pdftocairo"]:
        if shutil.which(program) is None:
            sys.exit(f"check_paper.py: there is no {program}; apt-get install chromium poppler-utils brings it")
    check = Check()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        folder = Path(folder)
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        visit = browser.new_context(device_scale_factor=DPI / 96).new_page()
        for number, arguments in enumerate([*TUNES, odd_tune(folder)]):
            name = " ".join(arguments[:2])
            path = folder / f"{number}.svg"
            svgs = make(binary, arguments, path)
            [pdf] = make(binary, arguments, path.with_suffix(".pdf"))
            pngs = make(binary, arguments, path.with_suffix(".png"))
            again = make(binary, arguments, folder / f"again-{number}.pdf")[0].read_bytes()
            check(f"{name}: the same bytes again", pdf.read_bytes() == again)
            size = reads_well(check, name, pdf, svgs)
            worst = [0, 0]
            for page, (svg, png) in enumerate(zip(svgs, pngs, strict=True), 1):
                drawn = by_poppler(pdf, page)
                for kind, picture in [("SVG", by_chromium(visit, svg, drawn.shape)), ("PNG", ink(png.read_bytes()))]:
                    differs = alike(check, f"{name}, page {page}, PDF and {kind}", drawn, picture)
                    worst = [max(pair) for pair in zip(worst, differs)]
            bare = folder / "bare.svg"
            bare.write_text(re.sub(r"@font-face\{.*\}", "", svgs[0].read_text(encoding="utf-8")), encoding="utf-8")
            drawn = by_poppler(pdf, 1)
            share, most = difference(drawn, by_chromium(visit, bare, drawn.shape))
            check(f"{name}: without its letters {share:.1%} of the ink differs", share > DIFFERS or most > NOWHERE)
            print(f"  {name}: {size / 1000:.0f} kB a page; differs {worst[0]:.1%}, at most {worst[1]:.1%} in a square")
        browser.close()
    return check.finish()


if __name__ == "__main__":
    sys.exit(main(sys.argv))
