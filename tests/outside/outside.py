"""The code that the outside checks share: it asks the command, counts the results, and prints the closing line."""

import json
import subprocess
import sys
import threading
from pathlib import Path


class Check:
    """Counts true and false statements, and prints the false ones."""

    def __init__(self):
        self.passed = 0
        self.failed = 0

    def __call__(self, statement, holds):
        if holds:
            self.passed += 1
        else:
            self.failed += 1
            print(f"  does not hold: {statement}")
        return holds

    def finish(self):
        """Prints the closing line and returns the exit code."""
        print(f"{self.passed} passed, {self.failed} failed")
        return 1 if self.failed or not self.passed else 0


def start(argv):
    """Returns the counter, and a function that asks the command and returns its JSON."""
    if len(argv) < 2:
        sys.exit(__import__("__main__").__doc__)
    binary = str(Path(argv[1]).resolve())

    def breathline(*arguments):
        done = subprocess.run(
            [binary, *map(str, arguments), "--json"], capture_output=True, text=True, check=False
        )
        if done.returncode != 0:
            raise RuntimeError(f"breathline {' '.join(map(str, arguments))}: {done.stderr.strip()}")
        return json.loads(done.stdout)

    return Check(), breathline


def ask_all(program, questions):
    """Returns a program's answers to the questions. One process reads and writes one JSON object on each line."""
    run = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    asked = 0

    def write():
        nonlocal asked
        for question in questions:
            run.stdin.write(json.dumps(question) + "\n")
            asked += 1
        run.stdin.close()

    writer = threading.Thread(target=write)
    writer.start()
    answers = [json.loads(line) for line in run.stdout]
    writer.join()
    if run.wait() != 0 or len(answers) != asked:
        sys.exit(f"{program} stopped after {len(answers)} of {asked} questions")
    return answers


class Opened:
    """A page in a browser, for a `with` statement. At the end of the block, the browser closes the page. If the block
    raised nothing, the check then fails if there are complaints: a console message, an error, a dialog or a request to
    another address."""

    def __init__(self, check, context, page, complaints, name):
        self.check, self.context, self.page, self.complaints, self.name = check, context, page, complaints, name

    def __enter__(self):
        return self.page

    def __exit__(self, kind, *_):
        self.context.close()
        if kind is None:
            self.check(f"{self.name}: no message, error, dialog or request: {self.complaints[:3]}", not self.complaints)
