#!/usr/bin/env python3
"""Measures what DEVELOPERS.md reports, on this machine, and prints it as a table.

    python3 tests/figures.py [--records 20000] [--build]

Needs Rust and Python; ripgrep is measured beside `find` where it is installed. `--build` also times a first release
build into an empty directory. This is a bench, never a test: it asserts nothing about time.
"""

import argparse
import json
import os
import pathlib
import shutil
import signal
import socket
import statistics
import subprocess
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent


def run(command, **options):
    return subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True, **options)


def timed(command, env, runs=21):
    """The median and worst wall time of a whole process, in milliseconds, after one run that does not count."""
    times = []
    for n in range(runs + 1):
        start = time.perf_counter()
        subprocess.run(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        if n:
            times.append((time.perf_counter() - start) * 1e3)
    return times


def row(what, times=None, text=None):
    if times:
        text = f"{statistics.median(times):8.2f} ms median, {max(times):8.2f} ms worst of {len(times)}"
    print(f"{what:<66} {text}", flush=True)


class Shop:
    """A shop folder with a daemon of its own."""

    def __init__(self, program, folder, state):
        self.program, self.folder, self.state = program, folder, state
        self.env = dict(os.environ, TAPERBOOK_FOLDER=str(folder), TAPERBOOK_STATE=str(state), NO_COLOR="1")

    def start(self):
        self.daemon = subprocess.Popen([self.program, "watch", self.folder], env=self.env, stdout=subprocess.DEVNULL)
        start = time.perf_counter()
        while True:
            found = subprocess.run([self.program, "status", "--json"], env=self.env, capture_output=True, text=True)
            if found.returncode == 0:
                status = json.loads(found.stdout)
                if status["state"] != "scanning" and status["pending"] == 0 and 0 < status["records"]:
                    self.status = status
                    break
            time.sleep(0.05)
        return time.perf_counter() - start

    def stop(self):
        self.daemon.send_signal(signal.SIGTERM)
        self.daemon.wait()

    def memory(self):
        text = pathlib.Path(f"/proc/{self.daemon.pid}/status").read_text()
        read = lambda key: int(text.split(key + ":")[1].split()[0]) / 1024
        anonymous = read("RssAnon")
        return read("VmRSS"), read("VmHWM"), anonymous

    def ask(self, request, fence=True):
        """One question over the socket; gives the answer and what it took, in milliseconds."""
        where = next(self.state.rglob("socket"), None)
        if where is None:
            where = pathlib.Path(next(self.state.rglob("socket-at")).read_text().strip())
        start = time.perf_counter()
        with socket.socket(socket.AF_UNIX) as wire:
            wire.connect(str(where))
            wire.sendall(json.dumps({"fence": fence, "request": request}).encode() + b"\n")
            answer = b""
            while not answer.endswith(b"\n"):
                answer += wire.recv(1 << 16)
        return json.loads(answer), (time.perf_counter() - start) * 1e3


def searchable(shop, n_saves=200):
    """From the end of a save to the first answer that has it, without a fence; saved as editors do, in turn."""
    times = []
    for n in range(n_saves):
        path = shop.folder / "notes" / f"figure-{n % 20}.md"
        word = f"qwv{n}zx"
        if n % 2:
            part = path.with_name("." + path.name + ".part")
            part.write_text(f"# Figure\n\n{word} in a note.\n")
            part.rename(path)
        else:
            path.write_text(f"# Figure\n\n{word} in a note.\n")
        start = time.perf_counter()
        while True:
            answer, _ = shop.ask({"ask": "find", "query": word, "limit": 1}, fence=False)
            if answer["answer"]["total"]:
                break
            if 10 < time.perf_counter() - start:
                raise SystemExit(f"{word} never became searchable")
        times.append((time.perf_counter() - start) * 1e3)
    return times


def measure(program, folder, state, name, words, numbers):
    shop = Shop(program, folder, state)
    text = sum(1 for _ in folder.rglob("*.md"))
    took = shop.start()
    row(f"{name}: first start until all is searchable and worked out", text=f"{took:8.2f} s for {text} files")
    row(f"{name}: `find` with the daemon, words {words}", timed([program, "find", *words], shop.env))
    row(f"{name}: `find` with the daemon, {numbers}", timed([program, "find", *numbers], shop.env))
    if shutil.which("rg"):
        # ripgrep has no `all of these words`; one word is the fairest to it.
        row(f"{name}: ripgrep -il for `{words[0]}`", timed(["rg", "-il", words[0], str(folder)], shop.env))
    times = [shop.ask({"ask": "find", "query": " ".join(words), "limit": 20})[1] for _ in range(101)]
    row(f"{name}: the same question over the socket, fence included", times[1:])
    row(f"{name}: save to searchable, no fence", searchable(shop))
    resident, peak, anonymous = shop.memory()
    row(f"{name}: memory of the daemon", text=f"{resident:8.1f} MB resident, {anonymous:.1f} MB of it its own, {peak:.1f} MB at most")
    build = shop.ask({"ask": "find", "query": "kind:build length:60in.. power:1g..", "limit": 1})[0]["answer"]["hits"][0]["record"]
    for ask in ({"ask": "try", "record": build, "tip_mm": 25.4, "butt_mm": 76.2}, {"ask": "suggest", "record": build}):
        times = [shop.ask(ask)[1] for _ in range(101)]
        row(f"{name}: {ask['ask']} of {build} over the socket", times[1:])
        command = ["try", build, "--tip", "1in", "--butt", "3in"] if ask["ask"] == "try" else ["suggest", build]
        row(f"{name}: {ask['ask']} as a whole process", timed([program, *command], shop.env))
    for around in (["fittings"], ["sheet", "--tip", "1in"], ["guides"], ["handover"]):
        row(f"{name}: {around[0]} as a whole process", timed([program, around[0], build, *around[1:]], shop.env))
    shop.stop()
    start = time.perf_counter()
    shop.start()
    row(f"{name}: restart with nothing changed", text=f"{time.perf_counter() - start:8.2f} s")
    shop.stop()
    row(f"{name}: `find` without a daemon, index up to date", timed([program, "find", *words], shop.env, runs=11))


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--records", type=int, default=20_000)
    options.add_argument("--build", action="store_true", help="time a first release build too")
    options = options.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start")
    with tempfile.TemporaryDirectory() as work:
        work = pathlib.Path(work)
        if options.build:
            start = time.perf_counter()
            run(["cargo", "build", "--release", "--locked", "--target-dir", work / "target"])
            size = (work / "target/release/taperbook").stat().st_size / 1e6
            row("first release build", text=f"{time.perf_counter() - start:8.1f} s, program {size:.1f} MB")
        run(["cargo", "build", "--release", "--locked"])
        program = str(ROOT / "target/release/taperbook")
        if "CARGO_TARGET_DIR" in os.environ:
            program = os.path.join(os.environ["CARGO_TARGET_DIR"], "release/taperbook")
        shutil.copytree(ROOT / "vault-example", work / "demo")
        measure(program, work / "demo", work / "demo-state", "demo", ["spoons", "trout"], ["tip_cut:1in..", "length:..7ft"])
        large = work / "large"
        run(["cargo", "run", "--release", "--locked", "-q", "-p", "taperbook-testkit", "--example", "generate", "--", large, str(options.records)])
        measure(program, large, work / "large-state", f"{options.records} records", ["spoons", "trout"], ["tip_cut:1in..2in", "length:..7ft"])


if __name__ == "__main__":
    main()
