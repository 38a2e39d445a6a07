"""Controls Firefox with WebDriver BiDi, a protocol of the W3C, over a socket that Firefox itself opens, so that no
driver program is needed."""

import itertools
import json
import os
import re
import shutil
import subprocess
import time
from pathlib import Path

from websockets.sync.client import connect

MOST_SECONDS = 60


class Firefox:
    """A Firefox without a window. `folder` contains its profile and the socket of PulseAudio. Without a sound device,
    the clock of the page's sound stops, so PulseAudio provides a silent device. `has_sound` is false without
    PulseAudio."""

    def __init__(self, program, folder):
        profile = Path(folder, "profile")
        profile.mkdir()
        environment = {**os.environ, "HOME": str(folder), "XDG_RUNTIME_DIR": str(folder)}
        self.has_sound = shutil.which("pulseaudio") is not None
        self.sound = subprocess.Popen(
            ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--load=module-null-sink", "--load=module-native-protocol-unix"],
            env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        ) if self.has_sound else None
        command = [program, "--headless", "--no-remote", "--profile", str(profile), "--remote-debugging-port", "0"]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, env=environment)
        address = next(filter(None, (re.search(r"BiDi listening on (ws://\S+)", line) for line in self.process.stderr)), None)
        if address is None:
            raise RuntimeError("Firefox did not start")
        self.socket = connect(f"{address[1]}/session", max_size=None)
        self.numbers, self.events = itertools.count(1), []
        self("session.new", capabilities={})
        self("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])
        self.page = self("browsingContext.getTree")["contexts"][0]["context"]

    def __call__(self, method, **parameters):
        """Sends a command and returns its answer. Collects in `events` the events that arrive before the answer."""
        number = next(self.numbers)
        self.socket.send(json.dumps({"id": number, "method": method, "params": parameters}))
        end = time.monotonic() + MOST_SECONDS
        while time.monotonic() < end:
            message = json.loads(self.socket.recv(timeout=MOST_SECONDS))
            if message["type"] == "event":
                self.events.append(message)
            elif message.get("id") == number:
                if message["type"] == "error":
                    raise RuntimeError(f"{method}: {message['error']}: {message['message']}")
                return message["result"]
        raise TimeoutError(method)

    def open(self, address, width, height):
        self.events.clear()
        self("browsingContext.setViewport", context=self.page, viewport={"width": width, "height": height})
        self("browsingContext.navigate", context=self.page, url=address, wait="complete")

    def value(self, expression):
        """Returns the value of an expression in the page. The page sends the value as JSON."""
        answer = self("script.evaluate", expression=f"JSON.stringify({expression})", target={"context": self.page}, awaitPromise=True)
        if answer["type"] != "success":
            raise RuntimeError(f"{expression}: {answer['exceptionDetails']['text']}")
        return json.loads(answer["result"].get("value", "null"))

    def until(self, expression, seconds=30):
        end = time.monotonic() + seconds
        while not self.value(expression):
            if time.monotonic() > end:
                raise TimeoutError(expression)
            time.sleep(0.02)

    def element(self, selector, which=0):
        found = self("browsingContext.locateNodes", context=self.page, locator={"type": "css", "value": selector})["nodes"]
        if len(found) <= which:
            raise LookupError(f"{selector}, number {which}")
        return {"sharedId": found[which]["sharedId"]}

    def tap(self, selector, which=0):
        """Taps the middle of an element after scrolling it into view."""
        self.value(f"document.querySelectorAll({json.dumps(selector)})[{which}].scrollIntoView({{block: 'center', behavior: 'instant'}})")
        origin = {"type": "element", "element": self.element(selector, which)}
        actions = [{"type": "pointerMove", "x": 0, "y": 0, "origin": origin}, {"type": "pointerDown", "button": 0},
                   {"type": "pause", "duration": 30}, {"type": "pointerUp", "button": 0}]
        finger = {"type": "pointer", "id": "finger", "parameters": {"pointerType": "touch"}, "actions": actions}
        self("input.performActions", context=self.page, actions=[finger])

    def press(self, key):
        keys = {"type": "key", "id": "keys", "actions": [{"type": "keyDown", "value": key}, {"type": "keyUp", "value": key}]}
        self("input.performActions", context=self.page, actions=[keys])

    def choose_file(self, selector, path):
        self("input.setFiles", context=self.page, element=self.element(selector), files=[str(path)])

    def complaints(self, own):
        """Returns the errors and warnings in the page's console, and every request to an address that does not begin
        with `own`, `blob:` or `data:`."""
        self.value("0")
        said = [event["params"]["text"] for event in self.events if event["method"] == "log.entryAdded"
                and event["params"]["level"] in {"error", "warn"}]
        asked = [event["params"]["request"]["url"] for event in self.events if event["method"] == "network.beforeRequestSent"]
        return said + [f"request: {url[:80]}" for url in asked if not url.startswith((own, "blob:", "data:"))]

    def close(self):
        try:
            self("browser.close")
        except Exception:
            self.process.kill()
        self.process.wait(20)
        if self.sound:
            self.sound.terminate()
            self.sound.wait(20)
