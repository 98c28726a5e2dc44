#!/usr/bin/env python3
"""Measures what an examination takes: of a thousand builds of one card at the first start, and after each edit of the card.

    python3 tests/examined.py [--edits 5]

It prints the wall time and the daemon's processor time, and the latter by the build, which other programs on the same
cores hardly change. This is a bench, never a test: it asserts nothing about time.
"""

import argparse
import collections
import pathlib
import re
import statistics
import subprocess
import tempfile
import time

from answers import processor, saved
from figures import ROOT, Shop, row, run

RECORDS = 10_000


def one_card(folder):
    """Leaves of a generated folder one card that about a thousand builds are of, and those; gives the card's path and their count."""
    builds = collections.defaultdict(list)
    for path in folder.rglob("*.md"):
        blank = re.search(r"^blank: (\S+)$", path.read_text(), re.M)
        if blank:
            builds[blank[1]].append(path)
    card = min(builds, key=lambda name: (abs(len(builds[name]) - 1000), name))
    for name, paths in builds.items():
        for path in paths if name != card else ():
            path.unlink()
    return next(folder.rglob(f"{card}.md")), len(builds[card])


def tell(what, wall, used, n_builds):
    each = used / n_builds
    row(what, text=f"{wall:8.0f} ms by the wall, {used:8.0f} ms of processor time, {each:.3f} ms a build")


# What is edited: its first diameter, which all that is known of its builds hangs on, its weight, which those builds tell nothing of
# that were weighed themselves and weigh about as much, and how many are on the rack, which nothing is computed with.
EDITS = {
    "diameter": lambda text, n: re.sub(r"(od: )([\d.]+)", lambda found: f"{found[1]}{float(found[2]) + n / 100:.2f}", text, count=1),
    "weight": lambda text, n: re.sub(r"^(weight: )([\d.]+)", lambda found: f"{found[1]}{float(found[2]) + n / 10:.1f}", text, flags=re.M),
    "stock": lambda text, n: text.replace("kind: blank\n", f"kind: blank\nstock: {n}\n"),
}


def edited(shop, card, n_builds, n_edits, what):
    """Edits the card and waits until its builds are examined."""
    text, walls, useds = card.read_text(), [], []
    for n in range(n_edits):
        before, start = processor(shop), time.perf_counter()
        saved(card, EDITS[what](text, n + 1))
        while "error" in shop.ask({"ask": "status"})[0]:
            pass
        walls.append((time.perf_counter() - start) * 1e3)
        useds.append(processor(shop) - before)
    saved(card, text)
    shop.ask({"ask": "status"})
    tell(f"edit of the card's {what} → {n_builds:,} builds up to date, median of {n_edits}", statistics.median(walls), statistics.median(useds), n_builds)


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--edits", type=int, default=5)
    options = options.parse_args()
    run(["cargo", "build", "--release", "-q"])
    run(["cargo", "build", "--release", "-q", "-p", "taperbook-testkit", "--example", "generate"])
    target = ROOT / "target" / "release"
    with tempfile.TemporaryDirectory() as place:
        place = pathlib.Path(place)
        folder = place / "shop"
        subprocess.run([target / "examples" / "generate", folder, str(RECORDS)], check=True, stdout=subprocess.DEVNULL)
        card, n_builds = one_card(folder)
        shop = Shop(str(target / "taperbook"), folder, place / "state")
        took = shop.start() * 1e3
        try:
            tell(f"first start → {n_builds:,} builds of one card examined", took, processor(shop), n_builds)
            for what in EDITS:
                edited(shop, card, n_builds, options.edits, what)
        finally:
            shop.stop()


if __name__ == "__main__":
    main()
