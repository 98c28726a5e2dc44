#!/usr/bin/env python3
"""Takes the pictures of the page that stand in the README, from the demo folder.

    python3 core/web/pictures/take.py [--program target/release/taperbook] [--all DIR]

Needs chromium and chromedriver. With `--all` every page is taken, wide and narrow, light and dark, into a folder, to be
looked at. It speaks the WebDriver protocol (W3C) itself.
"""

import argparse
import base64
import json
import os
import pathlib
import re
import shutil
import subprocess
import tempfile
import urllib.request

ROOT = pathlib.Path(__file__).resolve().parents[3]


class Browser:
    def __init__(self, arguments=()):
        self.driver = subprocess.Popen(
            ["chromedriver", "--port=0"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        for line in self.driver.stdout:
            if found := re.search(r"started successfully on port (\d+)", line):
                self.at = f"http://127.0.0.1:{found[1]}"
                break
        options = {"args": ["--headless=new", "--no-sandbox", "--hide-scrollbars", "--disable-gpu", *arguments]}
        capabilities = {"alwaysMatch": {"browserName": "chrome", "goog:chromeOptions": options}}
        self.session = self.ask("POST", "/session", {"capabilities": capabilities})["sessionId"]

    def ask(self, method, path, body=None):
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.at + path, data, method=method)
        return json.load(urllib.request.urlopen(request))["value"]

    def do(self, path, body):
        return self.ask("POST", f"/session/{self.session}/{path}", body)

    def devtools(self, command, **values):
        return self.do("goog/cdp/execute", {"cmd": command, "params": values})

    def look(self, width, dark=False, height=900):
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
        self.devtools("Emulation.setDeviceMetricsOverride", **size)
        scheme = "dark" if dark else "light"
        self.devtools("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])

    def open(self, address):
        self.do("url", {"url": address})

    def picture(self, path, whole=True):
        taken = self.devtools("Page.captureScreenshot", captureBeyondViewport=whole)
        pathlib.Path(path).write_bytes(base64.b64decode(taken["data"]))

    def end(self):
        self.ask("DELETE", f"/session/{self.session}")
        self.driver.terminate()
        self.driver.wait()


class Shop:
    """A copy of a shop folder with a daemon of its own that serves the page."""

    def __init__(self, program, folder, place):
        self.folder = place / "shop"
        shutil.copytree(folder, self.folder)
        env = dict(os.environ, TAPERBOOK_STATE=str(place / "state"))
        command = [program, "watch", "--json", "--page", "0", self.folder]
        self.daemon = subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True)
        served = self.hears_of("page")
        self.address, self.pen = served["address"], served["pen"]

    def hears_of(self, name):
        """Waits for what the daemon tells under this name; `ready` when all records are worked out."""
        for line in self.daemon.stdout:
            event = json.loads(line)
            if event["event"] == name:
                return event
        raise SystemExit(f"the daemon ended and told of no {name}")

    def end(self):
        self.daemon.terminate()
        self.daemon.wait()


PAGES = {
    "all": "",
    "find": "?q=heron+tip_cut%3A1in..",
    "bad": "?q=length%3C7",
    "build": "record/builds/henrik-heron",
    "flagged": "record/builds/detlef-egret",
    "blank": "record/blanks/heron-704",
    "try": "try/builds/ilse-heron?tip=1+in&butt=3+in",
    "uncut": "try/blanks/gannet-606",
    "bench": "bench/builds/emil-egret",
    "sheet": "sheet/builds/ilse-heron?tip=1+in&butt=3+in",
    "handover": "handover/builds/karl-reed",
    "fittings": "fittings/builds/emil-egret",
    "guides": "guides/builds/ilse-heron",
    "flags": "flags",
    "flag": "flags?only=lengths-disagree",
    "problems": "problems",
    "nothing": "record/nobody",
}


def take_all(browser, shop, into):
    into.mkdir(parents=True, exist_ok=True)
    for name, path in PAGES.items():
        for width, dark in [(1600, False), (360, False), (1000, True), (360, True)]:
            browser.look(width, dark)
            browser.open(shop.address + path)
            browser.picture(into / f"{name}-{width}{'-dark' if dark else ''}.png")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", default=ROOT / "target/release/taperbook", type=pathlib.Path)
    parser.add_argument("--folder", default=ROOT / "vault-example", type=pathlib.Path)
    parser.add_argument("--all", type=pathlib.Path)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        shop = Shop(chosen.program.resolve(), chosen.folder, pathlib.Path(place))
        shop.hears_of("ready")
        browser = Browser()
        try:
            browser.open(shop.pen)
            if chosen.all:
                take_all(browser, shop, chosen.all)
                return
            here = pathlib.Path(__file__).parent
            browser.look(880, height=1605)
            browser.open(shop.address + PAGES["try"])
            browser.picture(here / "try.png", whole=False)
            browser.look(380)
            browser.open(shop.address + PAGES["bench"])
            browser.picture(here / "bench.png")
        finally:
            browser.end()
            shop.end()


if __name__ == "__main__":
    main()
