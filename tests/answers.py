#!/usr/bin/env python3
"""Measures what suggestions and choices take, with few and with very many past builds, and prints it as a table.

    python3 tests/answers.py [--builds 10 2000] [--blanks 50 100 200 400]

Each answer is asked for over the daemon's socket, as the command line does, with the wait for what was written before
it. This is a bench, never a test: it asserts nothing about time.
"""

import argparse
import json
import os
import pathlib
import random
import statistics
import subprocess
import tempfile
import time

from figures import ROOT, Shop, row, run

CARD = """---
kind: blank
maker: Northfell
length: 7'2"
pieces: 1
stock: 1
material: carbon
weight: {weight:.1f} g
calipers:
  - {{ at: 0 in, od: {a:.2f} mm, wall: 1.05 mm }}
  - {{ at: 30 in, od: {b:.2f} mm }}
  - {{ at: 60 in, od: {c:.2f} mm }}
  - {{ at: 86 in, od: {d:.2f} mm }}
---
# {name}
"""

BRIEF = {"aim": "length: 6'10\", power: 235 g", "limits": "length: 6'8\" .. 7'0\", power: 200 g .. 260 g"}
LIMITS = "limits: { length: 6'8\" .. 7'0\", power: 180 g .. 300 g }\naim: { length: 6'10\", power: 240 g }\n"


def card(dice, name):
    """A blank whose size is near the others'."""
    part = dice.uniform(0.9, 1.1)
    sizes = {key: part * od for key, od in {"a": 11.2, "b": 8.4, "c": 4.9, "d": 1.8}.items()}
    return CARD.format(name=name, weight=46 * part * part, **sizes)


def build(dice, blank, n, power, ratios):
    """A finished build: read, cut at the tip, read, cut at the butt, read."""
    own = power * dice.gauss(1.0, 0.05)
    read = lambda ratio: own * ratio * dice.gauss(1.0, 0.015)
    date = f"{2010 + n // 150}-{1 + n // 13 % 12:02}-{1 + n % 28:02}"
    return (
        f"---\nkind: build\nblank: {blank}\ncustomer: Customer {n}\ndate: {date}\nheld_at: 9 in\n{LIMITS}bench:\n"
        f"  - read: {{ length: 7'2\", weight: {46 * dice.gauss(1.0, 0.02):.1f} g, power: {read(1):.0f} g }}\n"
        f"  - cut: {{ tip: 1 in }}\n  - read: {{ power: {read(ratios[0]):.0f} g }}\n"
        f"  - cut: {{ butt: 2 in }}\n  - read: {{ length: 6'11\", power: {read(ratios[1]):.0f} g }}\n"
        f"  - feel: build {n} throws well\nverdict: keep\nrating: {dice.choice([3, 4, 4, 5])}\n---\n# Build {n}\n"
    )


def ratios_of(program, place):
    """What an inch off the tip, and two off the butt besides, do to power, by the program itself."""
    folder = place / "plain"
    (folder / "blanks").mkdir(parents=True)
    (folder / "shop.yaml").write_text("held_at: 9 in\n")
    (folder / "blanks" / "heron.md").write_text(card(random.Random(1), "heron"))
    env = dict(os.environ, TAPERBOOK_FOLDER=str(folder), TAPERBOOK_STATE=str(place / "plain-state"))
    powers = []
    for cuts in (["--tip", "1in"], ["--tip", "1in", "--butt", "2in"]):
        told = subprocess.run([program, "try", "heron", *cuts, "--json"], env=env, capture_output=True, text=True, check=True)
        told = json.loads(told.stdout)
        powers.append(told["after"]["power_g"]["value"] / told["before"]["power_g"]["value"])
    return told["before"]["power_g"]["value"], powers


def processor(shop):
    """The processor time of the daemon so far, in milliseconds, by the clock that the kernel keeps of a process."""
    return time.clock_gettime((~shop.daemon.pid << 3) | 2) * 1e3


def asked(shop, request, runs):
    """What a question takes, each time: wall time and the daemon's processor time, in milliseconds."""
    times = []
    for _ in range(runs):
        before = processor(shop)
        reply, took = shop.ask(request)
        if "answer" not in reply or "refused" in reply:
            raise SystemExit(reply)
        times.append((took, processor(shop) - before))
    return times


def tell(what, times):
    """Prints times: the median and the worst by the wall, and the median of the processor time."""
    wall, used = zip(*times)
    median = statistics.median
    row(what, text=f"{median(wall):8.2f} ms median, {max(wall):8.2f} ms worst of {len(wall)}; processor {median(used):8.2f} ms")


def saved(path, text):
    """Saves as most editors do: beside it, then in its place."""
    part = path.with_name("." + path.name + ".part")
    part.write_text(text)
    part.rename(path)


def suggestions(program, place, n_builds):
    """The times of a suggestion on a model with so many finished builds."""
    power, ratios = ratios_of(program, place / "ratios")
    dice = random.Random(n_builds)
    folder = place / f"builds-{n_builds}"
    for name in ("blanks", "builds"):
        (folder / name).mkdir(parents=True)
    (folder / "shop.yaml").write_text("held_at: 9 in\n")
    (folder / "blanks" / "heron.md").write_text(card(random.Random(1), "heron"))
    for n in range(n_builds):
        (folder / "builds" / f"past-{n:05}.md").write_text(build(dice, "heron", n, power, ratios))
    hand = folder / "builds" / "in-hand.md"
    bench = lambda power: f"  - read: {{ length: 7'2\", power: {power:.1f} g, tip_angle: 60 deg }}\n"
    in_hand = lambda power: (
        f"---\nkind: build\nblank: heron\ndate: 2026-03-14\nheld_at: 9 in\n{LIMITS}bench:\n{bench(power)}---\n# In hand\n"
    )
    hand.write_text(in_hand(power))
    name = f"{n_builds} past builds"
    shop = Shop(program, folder, place / f"state-{n_builds}")
    ask = {"ask": "suggest", "record": "builds/in-hand"}
    row(f"{name}: first start until all is worked out", text=f"{shop.start():8.2f} s")
    tell(f"{name}: first suggestion", asked(shop, ask, 1))
    tell(f"{name}: suggestion with nothing new", asked(shop, ask, 101))
    times = []
    for n in range(21):
        # The answer waits until the saved reading is seen, read and worked in.
        saved(hand, in_hand(power + 0.1 * n))
        times += asked(shop, ask, 1)
    tell(f"{name}: save a reading of the piece in hand and ask", times[1:])
    times = []
    past = folder / "builds" / "past-00003.md"
    text = past.read_text()
    for n in range(21):
        saved(past, text.replace(" g }\n  - cut: { tip", f".{n % 10} g }}\n  - cut: {{ tip"))
        times += asked(shop, ask, 1)
    tell(f"{name}: save a reading of a past build and ask", times[1:])
    explain = {"ask": "explain", "what": "heron"}
    tell(f"{name}: the page of the model, first time", asked(shop, explain, 1))
    tell(f"{name}: the page of the model", asked(shop, explain, 5))
    while shop.ask({"ask": "status"})[0]["answer"]["pending"]:
        time.sleep(0.1)
    shop.stop()
    start = time.perf_counter()
    shop.start()
    row(f"{name}: restart with nothing changed", text=f"{time.perf_counter() - start:8.2f} s")
    tell(f"{name}: first suggestion after a restart", asked(shop, ask, 1))
    shop.stop()


def choices(program, place, n_blanks, n_builds):
    """The times of a choice among so many blanks, with so many builds of each."""
    power, ratios = ratios_of(program, place / "ratios")
    dice = random.Random(n_blanks)
    folder = place / f"blanks-{n_blanks}-{n_builds}"
    for name in ("blanks", "builds"):
        (folder / name).mkdir(parents=True)
    (folder / "shop.yaml").write_text("held_at: 9 in\n")
    for n in range(n_blanks):
        (folder / "blanks" / f"blank-{n:04}.md").write_text(card(dice, f"blank-{n:04}"))
        for k in range(n_builds):
            (folder / "builds" / f"build-{n:04}-{k}.md").write_text(build(dice, f"blank-{n:04}", n + k, power, ratios))
    name = f"choose, {n_blanks} blanks with {n_builds} builds each"
    shop = Shop(program, folder, place / f"state-{n_blanks}-{n_builds}")
    shop.start()
    ask = {"ask": "choose", **BRIEF, "use_words": "spoons", "limit": 5}
    tell(f"{name}: first", asked(shop, ask, 1))
    tell(name, asked(shop, ask, 21))
    shop.stop()


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--builds", type=int, nargs="*", default=[10, 2000])
    parser.add_argument("--blanks", type=int, nargs="*", default=[50, 100, 200, 400])
    arguments = parser.parse_args()
    run(["cargo", "build", "--release", "-q"])
    program = ROOT / "target" / "release" / "taperbook"
    with tempfile.TemporaryDirectory(prefix="taperbook-answers-") as temporary:
        place = pathlib.Path(temporary)
        for n in arguments.builds:
            suggestions(program, place / f"suggest-{n}", n)
        for n in arguments.blanks:
            for n_builds in (0, 3):
                choices(program, place / f"choose-{n}-{n_builds}", n, n_builds)


if __name__ == "__main__":
    main()
