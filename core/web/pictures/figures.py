#!/usr/bin/env python3
"""Measures the page: first byte and whole page, size, a try's round trip, and memory over many requests.

    python3 core/web/pictures/figures.py [--program target/release/taperbook] [--records 10000] [--requests 10000]

Makes a shop folder of that many generated records and serves it. While the daemon works them out for the first time,
which takes minutes at 100,000, pages are asked for already and it is said how many records are left. The other rows are
of a daemon at rest. This is a bench, never a test.
"""

import argparse
import http.client
import os
import pathlib
import random
import re
import statistics
import subprocess
import tempfile
import threading
import time
import urllib.parse

from take import ROOT, Shop


class Asker:
    """One connection that is kept, as a browser keeps it, and with the pen; one that is closed is opened again."""

    def __init__(self, shop):
        self.shop = shop
        self.connect()

    def connect(self):
        shop = self.shop
        self.connection = http.client.HTTPConnection(urllib.parse.urlsplit(shop.address).netloc)
        self.connection.request("GET", urllib.parse.urlsplit(shop.pen).path)
        answer = self.connection.getresponse()
        answer.read()
        self.headers = {"Cookie": answer.headers["Set-Cookie"].split(";")[0]}

    def ask(self, path, is_all_read=True):
        """The time to the first byte and to the last, in milliseconds, and the size in bytes.

        As long as not all is read, a page may say that its record is not there yet.
        """
        start = time.perf_counter()
        try:
            self.connection.request("GET", path, headers=self.headers)
            answer = self.connection.getresponse()
        except http.client.RemoteDisconnected:
            # The page ends a connection after five minutes; time and answer are those of the next.
            self.connect()
            start = time.perf_counter()
            self.connection.request("GET", path, headers=self.headers)
            answer = self.connection.getresponse()
        first = time.perf_counter()
        self.text = answer.read()
        assert answer.status in (200, 400) or not is_all_read, (path, answer.status)
        return (first - start) * 1e3, (time.perf_counter() - start) * 1e3, len(self.text)


def records(shop, kind):
    return sorted(p.relative_to(shop.folder).with_suffix("") for p in shop.folder.glob(f"{kind}/**/*.md"))


def memory(shop):
    text = pathlib.Path(f"/proc/{shop.daemon.pid}/status").read_text()
    return int(text.split("RssAnon:")[1].split()[0]) / 1024


def processor_ms(shop):
    """What the daemon has used of the processor: the same on a busy machine, unlike the time on the wall."""
    fields = pathlib.Path(f"/proc/{shop.daemon.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) * 1e3 / os.sysconf("SC_CLK_TCK")


def meanwhile(shop, chosen):
    """Asks for pages until all records are worked out."""
    ready = threading.Thread(target=shop.hears_of, args=("ready",), daemon=True)
    ready.start()
    asker, took, told = Asker(shop), {}, 0
    build = records(shop, "builds")[0]
    while ready.is_alive():
        for what, path in {"all records": "/", "a build": f"/record/{build}", "flags": "/flags", "a try": f"/try/{build}?tip=1+in"}.items():
            took.setdefault(what, []).append(asker.ask(path, is_all_read=False)[0])
        if 30 < time.perf_counter() - told:
            told = time.perf_counter()
            left = re.search(rb"(\d+) records? (are|is) still to be worked out", asker.text)
            print(f"  {left[1].decode() if left else 'no'} records are still to be worked out", flush=True)
        ready.join(0.2)
    for what, first in took.items():
        print(f"meanwhile, {what:<13} first byte {statistics.median(first):7.1f} ms median {max(first):7.1f} worst, of {len(first)}", flush=True)


def come_to_rest(shop):
    """Waits until the index is merged as well and nothing is done any more."""
    used, before = processor_ms(shop), None
    while used != before:
        time.sleep(3)
        used, before = processor_ms(shop), used


def row(shop, what, asker, paths):
    before = processor_ms(shop)
    first, whole, sizes = (list(column) for column in zip(*[asker.ask(path) for path in paths], strict=True))
    used = (processor_ms(shop) - before) / len(paths)
    print(
        f"{what:<24} processor {used:6.1f} ms, first byte {statistics.median(first):7.1f} ms median {max(first):7.1f} "
        f"worst, whole {statistics.median(whole):7.1f} ms median {max(whole):7.1f} worst, {max(sizes) / 1e3:6.1f} kB, of {len(first)}",
        flush=True,
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", default=ROOT / "target/release/taperbook", type=pathlib.Path)
    parser.add_argument("--records", default=10000, type=int)
    parser.add_argument("--requests", default=10000, type=int)
    parser.add_argument("--runs", default=50, type=int)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        place = pathlib.Path(place)
        generate = ["cargo", "run", "-q", "-p", "taperbook-testkit", "--example", "generate", "--"]
        subprocess.run([*generate, place / "made", str(chosen.records)], cwd=ROOT, check=True)
        start = time.perf_counter()
        shop = Shop(chosen.program.resolve(), place / "made", place)
        try:
            meanwhile(shop, chosen)
            print(f"{chosen.records} records, ready after {time.perf_counter() - start:.1f} s, {memory(shop):.0f} MB", flush=True)
            come_to_rest(shop)
            print(f"at rest after {time.perf_counter() - start:.1f} s, {memory(shop):.0f} MB", flush=True)
            measure(shop, chosen)
        finally:
            shop.end()


def measure(shop, chosen):
    asker = Asker(shop)
    dice = random.Random(1)
    builds, blanks = records(shop, "builds"), records(shop, "blanks")
    # Each another one, as far as there are so many: what was looked at before costs less.
    some = lambda of: dice.sample(of, min(chosen.runs, len(of)))
    for what, paths in {
        "all records": ["/"] * chosen.runs,
        "find power:200g..220g": ["/?q=power%3A200g..220g"] * chosen.runs,
        "find a word": ["/?q=spoon*"] * chosen.runs,
        "flags": ["/flags"] * chosen.runs,
        "problems": ["/problems"] * chosen.runs,
        "a build, another each": [f"/record/{build}" for build in some(builds)],
        "a build, once more": [f"/record/{builds[0]}"] * chosen.runs,
        "a blank, another each": [f"/record/{blank}" for blank in some(blanks)],
        "a blank, once more": [f"/record/{blanks[0]}"] * chosen.runs,
        "bench, another each": [f"/bench/{build}" for build in some(builds)],
        "a sheet, another each": [f"/sheet/{build}" for build in some(builds)],
        "guides, another each": [f"/guides/{build}" for build in some(builds)],
        "a handover, another each": [f"/handover/{build}" for build in some(builds)],
    }.items():
        if len(set(paths)) == 1:
            asker.ask(paths[0])
        row(shop, what, asker, paths)
    # A builder moves the cuts of one blank: its fit is at hand after the first.
    build = builds[0]
    moved = [f"/try/{build}?tip={n}%2F16+in&butt={n}%2F8+in&part=true" for n in range(chosen.runs)]
    asker.ask(moved[0])
    row(shop, "a try that follows", asker, moved)
    over_many(shop, asker, ["/", f"/record/{build}", moved[3], "/?q=power%3A200g..220g", "/flags"], chosen.requests)


def over_many(shop, asker, paths, n_requests):
    """Tells the memory after each tenth of the requests, so that a run which is ended early has told something too."""
    n_warm = min(500, n_requests)
    for n in range(n_warm):
        asker.ask(paths[n % len(paths)])
    print(f"memory after {n_warm} requests to warm: {memory(shop):.1f} MB", flush=True)
    tenth = max(1, n_requests // 10)
    start = time.perf_counter()
    for n in range(n_requests):
        asker.ask(paths[n % len(paths)])
        if (n + 1) % tenth == 0:
            took = time.perf_counter() - start
            print(f"memory after {n + 1} more: {memory(shop):.1f} MB, {took:.0f} s", flush=True)


if __name__ == "__main__":
    main()
