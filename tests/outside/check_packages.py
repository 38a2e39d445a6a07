"""Tests the packages as their users use them. dpkg itself installs the Debian package in an empty root, where it is
used and removed. The npm package is installed in an empty folder, and in Node and in Chromium it answers byte for byte
as the command does.

    check_packages.py path/to/breathline     packaging/deb and packaging/npm have run

The root contains only the libraries that the package depends on, with their entries in dpkg's list. The test needs no
container: `unshare` gives a user other than root the rights inside the root.
"""

import base64
import configparser
import gzip
import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
import tempfile
import threading
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from xml.etree import ElementTree

from outside import Check

ROOT = Path(__file__).parents[2]
TARGET, CORPUS, DEMO = ROOT / "target", ROOT / "corpus", ROOT / "demo"
LAMPS = DEMO / "lamps-along-the-row.musicxml"
DOCUMENTS = "usr/share/doc/breathline"
# The package that contains each library. The version of libgcc does not matter: its interface has not changed since
# 4.2.
OWNERS = {"libc.so": "libc6", "libm.so": "libc6", "ld-linux": "libc6", "libgcc_s.so": "libgcc-s1"}
VERSION = re.search(r'^version = "(.+)"', (ROOT / "Cargo.toml").read_text(), re.MULTILINE)[1]


def main(argv):
    if len(argv) < 2:
        sys.exit(__doc__)
    check, command = Check(), str(Path(argv[1]).resolve())
    with tempfile.TemporaryDirectory() as folder:
        for part in (crate, debian, javascript):
            place = Path(folder) / part.__name__
            place.mkdir()
            part(check, command, place)
    return check.finish()


def said(*line, **more):
    """Returns the standard output of a program. Raises an error if the program fails."""
    done = subprocess.run([str(word) for word in line], capture_output=True, text=True, check=False, **more)
    if done.returncode:
        raise RuntimeError(f"{' '.join(map(str, line))}: {done.stderr.strip()}")
    return done.stdout


# ---- The crate.

def crate(check, _, folder):
    """Checks which files the crate contains, its size, and that its documents link only to files in it."""
    listed = said("cargo", "package", "--list", "--allow-dirty", "--offline", "-p", "breathline", cwd=ROOT).splitlines()
    check("the crate has the library, but no tests and no tools", "src/lib.rs" in listed and not [
        name for name in listed if name.startswith(("tests/", "app/", "packaging/", ".")) and name != ".cargo_vcs_info.json"
        or name.endswith((".py", ".sh"))])
    for name in listed:
        if (ROOT / name).is_file():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / name, folder / name)
    size = sum(file.stat().st_size for file in folder.rglob("*") if file.is_file())
    check(f"the crate is small enough for the registry ({size // 1000} kB unpacked)", size < 10_000_000)
    links_lead(check, folder)


# ---- Debian.

def debian(check, command, folder):
    if not shutil.which("dpkg"):
        print("  SKIPPED: the Debian package: there is no dpkg")
        return
    packages = list(TARGET.glob("breathline_*.deb"))
    if not check(f"packaging/deb made one package: {packages}", len(packages) == 1):
        return
    is_described(check, packages[0])
    root = Root(folder)
    if not root.rights:
        print("  SKIPPED: the Debian package in a root: neither root nor `unshare --map-root-user`")
        return
    before = root.files()
    root.dpkg("--install", packages[0])
    listed = said("dpkg-query", f"--admindir={root.path}/var/lib/dpkg", "--show", "--showformat=${Status} ${Version}", "breathline")
    check(f"dpkg lists it: {listed}", listed == f"install ok installed {VERSION}-1")
    check("every installed file is as packed", root.dpkg("--verify", "breathline") == "")
    root.take_libraries(check, packages[0])
    runs(check, command, root)
    has_manual(check, command, root)
    completes(check, root)
    has_entry(check, root)
    documents = root.path / DOCUMENTS
    links_lead(check, documents)
    check("the copyright has both licences", "License: MIT\n Permission is" in (documents / "copyright").read_text())
    changelog = gzip.decompress((documents / "changelog.Debian.gz").read_bytes()).decode()
    check("the changelog begins with this version", changelog.startswith(f"breathline ({VERSION}-1)"))
    root.dpkg("--purge", "breathline")
    left = {file for file in root.files() - before if not file.startswith(("var/", "lib", "usr/lib"))}
    check(f"removal leaves no file behind: {left}", not left)


class Root:
    """A folder used as the root of a system, in which dpkg knows only the packages that ours depends on."""

    def __init__(self, path):
        self.path = path
        unshared = ["unshare", "--map-root-user"]
        may = shutil.which("unshare") and subprocess.run([*unshared, "true"], capture_output=True, check=False).returncode == 0
        self.prefix = [] if os.getuid() == 0 else unshared
        self.rights = os.getuid() == 0 or may
        admin = path / "var" / "lib" / "dpkg"
        for name in ("info", "updates", "triggers"):
            (admin / name).mkdir(parents=True)
        (path / "tmp").mkdir()
        (admin / "status").write_text(said("dpkg-query", "--status", *sorted(set(OWNERS.values()))))
        # dpkg stops if it does not find ldconfig in these folders, although this root does not need it.
        self.environment = {**os.environ, "PATH": f"{os.environ['PATH']}:/usr/sbin:/sbin"}

    def dpkg(self, *arguments):
        # On some systems, dpkg's own configuration leaves out documents.
        line = ["dpkg", f"--root={self.path}", f"--log={self.path}/var/dpkg.log", "--path-include=/usr/share/*"]
        return said(*self.prefix, *line, *arguments, env=self.environment)

    def take_libraries(self, check, package):
        """Copies the libraries that the command loads, all from packages that ours depends on."""
        depends = field(package, "Depends")
        for name, path in re.findall(r"(\S+)(?: => (\S+))? \(0x", said("ldd", self.path / "usr/bin/breathline")):
            source = Path(path or name)
            if source.name.startswith("linux-vdso"):
                continue
            owner = next((owner for library, owner in OWNERS.items() if source.name.startswith(library)), None)
            check(f"{source.name} comes with a package that ours depends on", owner and owner in depends)
            place = self.path / source.relative_to("/")
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(source, place)

    def run(self, *line):
        environment = {"PATH": "/usr/bin", "LANG": "C.UTF-8", "HOME": "/nobody"}
        chroot = shutil.which("chroot", path=self.environment["PATH"])
        return said(*self.prefix, chroot, self.path, *line, env=environment)

    def files(self):
        return {str(file.relative_to(self.path)) for file in self.path.rglob("*")}


def field(package, name):
    return said("dpkg-deb", "--field", package, name).strip()


def is_described(check, package):
    machine = said("dpkg", "--print-architecture").strip()
    for name, value in [("Package", "breathline"), ("Version", f"{VERSION}-1"), ("Architecture", machine)]:
        check(f"{name} is {value}", field(package, name) == value)
    check("its description has several lines", len(field(package, "Description").splitlines()) > 3)
    odd = []
    for line in said("dpkg-deb", "--contents", package).splitlines():
        mode, owner, *_, name = line.split(maxsplit=5)
        wanted = "drwxr-xr-x" if name.endswith("/") else "-rwxr-xr-x" if "/bin/" in name else "-rw-r--r--"
        if mode != wanted or owner not in ("root/root", "0/0"):
            odd.append(line)
    check(f"root owns every file, and only root may write it: {odd}", not odd)
    if shutil.which("objdump"):
        with tempfile.TemporaryDirectory() as folder:
            said("dpkg-deb", "--extract", package, folder)
            symbols = said("objdump", "-T", Path(folder) / "usr/bin/breathline")
        needed = max(tuple(map(int, found.split("."))) for found in re.findall(r"GLIBC_(\d+\.\d+)", symbols))
        stated = tuple(map(int, re.search(r"libc6 \(>= ([\d.]+)\)", field(package, "Depends"))[1].split(".")))
        check(f"the stated libc version, {stated}, is the one that its symbols need, {needed}", stated >= needed)
    if shutil.which("lintian"):
        tags = subprocess.run(["lintian", "--fail-on", "error", package], capture_output=True, text=True, check=False)
        check(f"lintian finds no error: {tags.stdout}", tags.returncode == 0)


def runs(check, command, root):
    check("the command states the package's version", root.run("breathline", "--version") == f"breathline {VERSION}\n")
    tune = f"/{DOCUMENTS}/demo/{LAMPS.name}"
    for line in (["suggest", "{}"], ["suggest", "{}", "--json"], ["tab", "{}", "--harp", "C", "--position", "2"]):
        there = root.run("breathline", *(tune if word == "{}" else word for word in line))
        here = said(command, *(LAMPS if word == "{}" else word for word in line), env={"HOME": "/nobody", "LANG": "C.UTF-8"})
        check(f"{' '.join(line)}: the installed command answers as the command does", there and there == here)
    for name, begins in [("sheet.pdf", b"%PDF-"), ("sheet.png", b"\x89PNG"), ("page.html", b"<!DOCTYPE html>")]:
        root.run("breathline", "sheet", tune, "-o", f"/tmp/{name}")
        check(f"it writes {name}", (root.path / "tmp" / name).read_bytes().startswith(begins))
        (root.path / "tmp" / name).unlink()


def has_manual(check, command, root):
    manual = root.path / "usr/share/man/man1"
    commands = re.findall(r"^  (\w+) ", said(command, "--help").partition("Commands:")[2].partition("Options:")[0], re.MULTILINE)
    names = {"breathline.1.gz", *(f"breathline-{name}.1.gz" for name in commands if name != "help")}
    check("each command has a manual page", len(names) > 10 and {page.name for page in manual.iterdir()} == names)
    for page in sorted(manual.iterdir()):
        check(f"{page.name} is a manual page", "\n.TH " in gzip.decompress(page.read_bytes()).decode("ascii"))
        if shutil.which("man"):
            shown = subprocess.run(["man", "--warnings", "-l", page], capture_output=True, text=True, check=False)
            check(f"man shows {page.name} without warnings: {shown.stderr[:200]}", shown.stdout and not shown.stderr)


def completes(check, root):
    share = root.path / "usr/share"
    script = f'source {share}/bash-completion/completions/breathline && complete -p breathline'
    check("bash completes it", "breathline" in said("bash", "-c", script))
    check("so does zsh", (share / "zsh/vendor-completions/_breathline").read_text().startswith("#compdef breathline"))
    check("so does fish", "complete -c breathline" in (share / "fish/vendor_completions.d/breathline.fish").read_text())


def has_entry(check, root):
    """Checks that the menu entry opens the page and has an icon."""
    path = root.path / "usr/share/applications/breathline.desktop"
    entry = configparser.ConfigParser(interpolation=None)
    entry.optionxform = str
    entry.read_string(path.read_text())
    entry = entry["Desktop Entry"]
    program, page = entry["Exec"].split()
    check("the menu entry is an application", (entry["Type"], entry["Terminal"]) == ("Application", "false"))
    check("the menu entry opens the page with the system's browser", program == "xdg-open")
    built = (TARGET / "breathline.html").read_bytes()
    check("the page of the menu entry exists", (root.path / page.lstrip("/")).read_bytes() == built)
    icon = root.path / "usr/share/icons/hicolor/scalable/apps" / f"{entry['Icon']}.svg"
    check("the icon of the menu entry is an SVG", ElementTree.parse(icon).getroot().tag == "{http://www.w3.org/2000/svg}svg")
    if shutil.which("desktop-file-validate"):
        check("the menu entry is a valid desktop entry", said("desktop-file-validate", path) == "")


def links_lead(check, folder):
    """Checks that every link of the documents leads to an existing file."""
    pages = sorted(folder.rglob("*.md"))
    check("the documents exist", {"README.md", "player.md"} <= {page.name for page in pages})
    for page in pages:
        for link in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", page.read_text()):
            if "://" not in link:
                check(f"{page.relative_to(folder)}: {link} is there", (page.parent / link).exists())


# ---- JavaScript.

def javascript(check, command, folder):
    node = shutil.which("node")
    if not node:
        print("  SKIPPED: the npm package: there is no node (apt-get install nodejs)")
        return
    archive = TARGET / f"breathline-{VERSION}.tgz"
    if not check("packaging/npm made an archive", archive.is_file()):
        return
    package = install(archive, folder)
    shutil.copy(Path(__file__).with_name("package.mjs"), folder)
    ask = partial(asked, node, folder)
    answers_alike(check, command, ask, folder)
    writes_files(check, command, ask, folder)
    refuses(check, command, ask, folder)
    is_typed(check, ask, package, folder)
    in_a_browser(check, command, package)


def install(archive, folder):
    place = folder / "node_modules" / "breathline"
    if shutil.which("npm"):
        (folder / "package.json").write_text("{}")
        said("npm", "install", "--offline", "--no-audit", "--no-fund", archive, cwd=folder)
    else:
        with tarfile.open(archive) as tar:
            tar.extractall(folder, filter="data")
        place.parent.mkdir()
        (folder / "package").rename(place)
    return place


def asked(node, folder, questions):
    """Returns the package's answers to calls, each with a file and its other arguments."""
    lines = [json.dumps({"call": call, "file": str(file), "more": more}) for call, file, *more in questions]
    answers = said(node, "package.mjs", input="\n".join(lines) + "\n", cwd=folder).splitlines()
    assert len(answers) == len(questions)
    return [json.loads(answer) for answer in answers]


def answers_alike(check, command, ask, folder):
    tunes = sorted([*CORPUS.glob("*.mid"), *CORPUS.glob("*.musicxml"), *DEMO.glob("*.mxl")])[::5]
    ways = [({}, []), ({"harps": ["C", "low-F"], "player": "beginner"}, ["--harps", "C,low-F", "--player", "beginner"]),
            ({"any_key": True, "style": "blues", "tempo": 60}, ["--any-key", "--style", "blues", "--tempo", "60"])]
    tunes = [(tune, *ways[index % len(ways)]) for index, tune in enumerate(tunes)]
    named = [({"name": tune.stem, **options}) for tune, options, _ in tunes]
    texts = ask([("analyseText", tune, options) for (tune, *_), options in zip(tunes, named, strict=True)])
    for (tune, _, options), text in zip(tunes, texts, strict=True):
        native = said(command, "suggest", tune, *options, "--json")
        check(f"{tune.name} {options}: the package returns the command's text", native and text.get("answer") == native)
    rows = ask([("analyse", tune, options) for (tune, *_), options in zip(tunes[:3], named, strict=False)])
    for row, text in zip(rows, texts, strict=False):
        check("analyse returns that text as an object", row["answer"] == json.loads(text["answer"]))
    [notes] = ask([("notes", LAMPS)])
    check("notes returns the command's answer", notes["answer"] == json.loads(said(command, "notes", LAMPS, "--json")))
    tab = DEMO / "lamps-lesson.txt"
    for harp, position in [("G", None), ("C", None), ("C", 2)]:
        [lesson] = ask([("check", LAMPS, tab.read_text(), harp, {"position": position} if position else {})])
        options = ["--position", position] if position else []
        native = json.loads(said(command, "check", LAMPS, "--harp", harp, *options, "--tab", tab, "--json"))
        check(f"check on {harp} returns the command's answer", lesson.get("answer") == native and native["wrong"])


def writes_files(check, command, ask, folder):
    forms = ["musicxml", "abc", "midi", "svg", "text", "page"]
    best = json.loads(said(command, "suggest", LAMPS, "--json"))["approaches"][0]
    answers = dict(zip(forms, ask([("files", LAMPS, form) for form in forms]), strict=True))
    for form, answer in answers.items():
        [file] = answer["answer"]
        content = base64.b64decode(file["content"])
        if form in ("musicxml", "abc", "midi"):
            place = folder / f"native.{file['ending']}"
            said(command, "export", LAMPS, "--harp", best["harp"]["key"], "-o", place)
            check(f"{form} equals the command's file", place.read_bytes() == content)
        check(f"{form} is not empty ({len(content)} bytes)", len(content) > 200)


def refuses(check, command, ask, folder):
    odd = folder / "odd.mid"
    odd.write_bytes(b"MThd, but no more")
    wrong, option, word, several = ask([
        ("analyse", odd), ("analyse", LAMPS, {"harp": "C"}), ("analyse", LAMPS, {"player": "genius"}),
        ("analyse", DEMO / "lantern-row.abc")])
    native = subprocess.run([command, "suggest", odd], capture_output=True, text=True, check=False).stderr
    check(f"the package refuses an odd file with the command's error: {wrong}", wrong["error"] in native and wrong["name"] == "BreathlineError")
    check(f"the error names an unknown option: {option}", "`harp`" in option["error"])
    check(f"the error names an unknown level and lists the known levels: {word}", "genius" in word["error"] and "beginner" in word["error"])
    check(f"the error lists the tunes of a file of several: {several}", len(several.get("tunes") or []) > 1)
    [chosen] = ask([("analyse", DEMO / "lantern-row.abc", {"tune": several["tunes"][1]["choice"]})])
    check("one of the listed tunes can be chosen", chosen["answer"]["tune"]["title"] == several["tunes"][1]["title"])


def is_typed(check, ask, package, folder):
    """Checks that the declarations name the library's options and the package's calls, and that TypeScript reads
    them."""
    declared = (package / "index.d.ts").read_text()
    options = re.findall(r"^  (\w+)\?:", declared.partition("interface Options {")[2].partition("\n}")[0], re.MULTILINE)
    [answer] = ask([("analyse", LAMPS, {"unheard_of": 1})])
    known = re.findall(r"`(\w+)`", answer["error"].partition("expected one of")[2])
    # The options that only the page needs: the kind of answer that it wants, the place of the row that it shows, and
    # whether the answer also has the JSON of `suggest`.
    inner = {"want", "place", "suggest"}
    check(f"the declared options are the library's: {set(options) ^ set(known)}", set(known) - inner == set(options))
    calls = set(re.findall(r"^export (?:function|class) (\w+)", declared, re.MULTILINE))
    for module in ("index.js", "node.js"):
        exports = set(re.findall(r"\w+", " ".join(re.findall(r"\{([\w, ]+)\}(?= from \"./library.js\";$| = library)",
                                                           (package / module).read_text(), re.MULTILINE)))) - {"library"}
        check(f"{module} exports the declared functions: {exports ^ calls}", exports == calls)
    compiler = shutil.which("tsc")
    if not compiler:
        print("  SKIPPED: the types by TypeScript: there is no tsc")
        return
    (folder / "typed.mts").write_text(TYPED)
    done = subprocess.run([compiler, "--noEmit", "--strict", "--module", "nodenext", "--target", "es2022", "typed.mts"],
                          cwd=folder, capture_output=True, text=True, check=False)
    check(f"TypeScript reads the types: {done.stdout}", done.returncode == 0)


TYPED = """
import {analyse, analyseText, check, files, notes, BreathlineError, type Approach, type Options} from "breathline";
const options: Options = {harps: ["C"], any_key: true, player: "beginner"};
const {approaches, tune} = await analyse(new Uint8Array(), options);
const best: Approach = approaches[0];
const hole: number | undefined = best.tab[0]?.hole;
const text: string = await analyseText("X:1", options) + tune.title + best.harp.register + hole;
const midi: number = (await notes(new ArrayBuffer(8))).notes[0].midi;
const kinds: string[] = (await check("X:1", "4 -4", "C")).wrong.map(one => one.kind);
const endings: string[] = (await files("X:1", "svg")).map(file => file.ending);
if (new BreathlineError("").tunes?.length) console.log(text, midi, kinds, endings);
// @ts-expect-error: there is no such level
await analyse("X:1", {player: "genius"});
// @ts-expect-error: a harp has no such field
best.harp.colour;
"""


def in_a_browser(check, command, package):
    browser_path = shutil.which("chromium")
    if not browser_path:
        print("  SKIPPED: the npm package in a browser: there is no chromium (apt-get install chromium)")
        return
    from playwright.sync_api import sync_playwright  # This test runs only where there is a browser.

    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, *_):
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=package))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    here = f"http://127.0.0.1:{server.server_port}"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])
        page = browser.new_page()
        page.goto(f"{here}/README.md")
        text = page.evaluate("async tune => (await import('/index.js')).analyseText(tune, {name: 'tune'})", LAMPS.read_text())
        browser.close()
    server.shutdown()
    check("in the browser, the package returns the command's text", text == said(command, "suggest", LAMPS, "--json"))


if __name__ == "__main__":
    sys.exit(main(sys.argv))
