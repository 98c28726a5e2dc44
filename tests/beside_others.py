#!/usr/bin/env python3
"""Sets this program beside ripgrep, SQLite's FTS5 with PyYAML, a bare tantivy index, and a plain walk, in one run.

    python3 tests/beside_others.py [--sizes 1000,10000,100000] [--million] [--idle 300]

Needs Rust, Python with PyYAML, and ripgrep. It makes folders of records of realistic make, measures each size, and
prints one table: each figure with its goal, what was measured and whether it holds. Everything is read once before, so
that all have warm caches; what is compared is run in turn and its median counts. What it makes lies in a directory for
temporary files and is deleted at the end. This is a bench, never a test: it asserts nothing about time.
"""

import argparse
import collections
import multiprocessing
import os
import pathlib
import random
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

from bench_daemon import Shop

ROOT = pathlib.Path(__file__).resolve().parent.parent
# What a record and everything that is made of it takes on the disk at most, in bytes.
ROOM_A_RECORD = 16_000
MILLION = 1_000_000
# FTS5 with PyYAML is run on so many records at most; what it takes for more is in proportion, in its favour.
MOST_FTS5 = 100_000
# So that a run with a million records ends within an hour: seconds that the plugins get there at first.
MOST_PATIENCE_FOR_A_MILLION = 600


class Table:
    """The figures, printed as they come and once more at the end."""

    def __init__(self):
        self.rows = []

    def add(self, size, figure, measured, goal="", holds=None):
        row = (f"{size:,}", figure, goal, measured, {True: "yes", False: "no", None: ""}[holds])
        self.rows.append(row)
        print(f"  {row[1]}: {measured}" + (f"  [{goal}: {row[4]}]" if goal else ""), flush=True)

    def print(self):
        print("\n| records | figure | goal | measured | holds |\n| --- | --- | --- | --- | --- |")
        for row in self.rows:
            print("| " + " | ".join(row) + " |")


class Tools:
    """The programs that are set beside each other, built from this tree where they are ours."""

    def __init__(self, built):
        target = pathlib.Path(built or pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release")
        if not built:
            self.build()
        self.ours = str(target / "taperbook")
        self.generate, self.bare, self.floor = (str(target / "examples" / name) for name in ("generate", "bare", "floor"))
        self.ripgrep = shutil.which("rg") or sys.exit("ripgrep is missing: install the package `ripgrep`")

    @staticmethod
    def build():
        build = ["cargo", "build", "--release", "--locked", "-q"]
        subprocess.run(build, cwd=ROOT, check=True)
        for package, example in (("testkit", "generate"), ("index", "bare"), ("folder", "floor")):
            subprocess.run([*build, "-p", f"taperbook-{package}", "--example", example], cwd=ROOT, check=True)


def seconds(command, env=None):
    """How long a whole process takes, and what it printed."""
    start = time.perf_counter()
    done = subprocess.run(command, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    return time.perf_counter() - start, done.stdout


def in_turn(runs, **commands):
    """Medians of whole processes in milliseconds; they are run in turn, after a turn that does not count."""
    times = collections.defaultdict(list)
    for run in range(runs + 1):
        for name, (command, env) in commands.items():
            took, _ = seconds(command, env)
            if run:
                times[name].append(took * 1e3)
    return {name: statistics.median(all) for name, all in times.items()}


def part(times, share):
    """The value below which this share of the times lies."""
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


class Folder:
    """A generated folder, read through once: which words are rare, which stand in a quarter, which card has builds."""

    def __init__(self, path, size):
        self.path, self.size = path, size
        self.files, self.bytes = [], 0
        every = max(1, size // 5000)
        counts, builds, n_sampled = collections.Counter(), collections.Counter(), 0
        for top, _, names in os.walk(path):
            for name in names:
                if not name.endswith(".md"):
                    continue
                text = pathlib.Path(top, name).read_text()
                self.files.append(os.path.join(top, name))
                self.bytes += len(text.encode())
                blank = re.search(r"^blank: (\S+)$", text, re.M)
                if blank:
                    builds[blank[1]] += 1
                if len(self.files) % every == 0:
                    n_sampled += 1
                    counts.update(set(re.findall(r"\b[a-z]{4,}\b", text)))
        self.files.sort()
        # Whole words that few records have; a key of the front matter is none.
        rare = sorted((count, word) for word, count in counts.items() if 8 <= len(word))
        self.rarest = [word for _, word in rare[:200]]
        self.rare = self.rarest[0]
        self.quarter = min(counts, key=lambda word: (abs(counts[word] / n_sampled - 0.25), word))
        self.card, self.n_builds = min(builds.items(), key=lambda item: (abs(item[1] - 1000), item[0]))


def build(table, tools, folder, work, rounds):
    """Builds the index in turn with the others; gives the shop of the last round with its daemon working on."""
    times = collections.defaultdict(list)
    shop = None
    for n in range(rounds):
        if shop:
            shop.stop()
            shutil.rmtree(shop.state)
        for name, words in (("bare", []), ("words", ["words"])):
            _, told = seconds([tools.bare, str(folder.path), str(work / "bare"), *words])
            times[name].append(float(re.search(r"committed after ([\d.]+)", told)[1]))
            shutil.rmtree(work / "bare")
        if n == 0 or folder.size <= 10_000:
            at_most = min(folder.size, MOST_FTS5)
            command = [sys.executable, str(ROOT / "tests/fts5.py"), str(folder.path), str(work / "fts5"), str(at_most)]
            _, told = seconds(command)
            times["fts5"].append(float(re.search(r"after ([\d.]+) s", told)[1]) * folder.size / at_most)
            os.remove(work / "fts5")
        shop = Shop(tools.ours, folder.path, work / f"state-{n}")
        shop.spawn()
        # Asking more often than this would take a good part of the cores.
        is_there = lambda status: status["state"] != "scanning" and folder.size <= status["records"]
        times["ours"].append(shop.wait_for(is_there, pause=0.01))
    median = {name: statistics.median(all) for name, all in times.items()}
    ours = median["ours"]
    table.add(folder.size, "first start until all words and fields are searchable", f"{ours:.2f} s")
    beside = f"{ours / median['bare']:.2f} × its {median['bare']:.2f} s (words alone, nothing stored: {median['words']:.2f} s)"
    table.add(folder.size, "the same beside bare tantivy", beside, "≤ 1.5 ×", ours <= 1.5 * median["bare"])
    part = f", taken from {MOST_FTS5:,} records" if MOST_FTS5 < folder.size else ""
    beside = f"{median['fts5'] / ours:.2f} × as fast as its {median['fts5']:.2f} s{part}"
    table.add(folder.size, "the same beside FTS5 and PyYAML", beside, "≥ 1.5 ×", 1.5 * ours <= median["fts5"])
    return shop


def examined(table, shop, folder, patience):
    """Waits for the plugins, and for the index to come to rest."""
    if folder.size == MILLION:
        patience = min(patience, MOST_PATIENCE_FOR_A_MILLION)
    took = shop.wait_for(lambda status: not status["pending"], patience, 0.05)
    told = f"{took:.1f} s" if took else f"not after {patience} s: what follows is measured while they work"
    table.add(folder.size, "first start until the plugins have examined all", told)
    memory(table, shop, folder, "resident memory before the first rest")
    if took:
        rested = shop.wait_until_renewed()
        told = f"{rested:.1f} s" if rested else "not within a minute"
        table.add(folder.size, "from there until the daemon has begun anew", told)
    time.sleep(2)
    memory(table, shop, folder, "resident memory after the first start")
    return took is not None


def memory(table, shop, folder, when):
    resident, peak, own = shop.memory()
    is_named = folder.size == 100_000
    goal, holds = ("≤ 100 MB", resident <= 100) if is_named and "before" not in when else ("", None)
    told = f"{resident:.0f} MB ({own:.0f} MB its own, {peak:.0f} MB at most, index on disk {shop.status()['index_bytes'] / 1e6:.0f} MB)"
    table.add(folder.size, when, told, goal, holds)
    return resident


def finds(table, tools, shop, folder):
    """Questions as whole processes, beside ripgrep."""
    folder.rare = next(word for word in folder.rarest if shop.find(word)["total"])
    numbers = ["tip_cut:1in..1.2in", "length:..7ft"]
    env = shop.env
    ripgrep = [tools.ripgrep, "-il", folder.rare, str(folder.path)]
    took = in_turn(
        21 if folder.size <= 100_000 else 5,
        word=([tools.ours, "find", folder.rare], env),
        numbers=([tools.ours, "find", *numbers], env),
        ripgrep=(ripgrep, env),
    )
    for name, what in (("word", f"rare word ({shop.find(folder.rare)['total']} hits)"),
                       ("numbers", f"{' '.join(numbers)} ({shop.find(' '.join(numbers))['total']} hits)")):
        figure = f"one-shot `find` with the daemon, {what}"
        table.add(folder.size, figure, f"{took[name]:.2f} ms", "≤ 10 ms", took[name] <= 10)
        times = took["ripgrep"] / took[name]
        table.add(folder.size, "the same beside ripgrep", f"{times:.1f} × as fast as its {took['ripgrep']:.1f} ms", "≥ 30 ×", 30 <= times)
    answers = [shop.find(folder.quarter, fence=False) for _ in range(201)][1:]
    inside = [answer["took_ms"] for answer in answers]
    told = f"{statistics.median(inside):.3f} ms, 99 % within {part(inside, 0.99):.3f} ms"
    share = answers[0]["total"] / folder.size
    figure = f"find inside the daemon, a word in {share:.0%} of the records"
    table.add(folder.size, figure, told, "≤ 1 ms", statistics.median(inside) <= 1)


def save(path, text):
    """Saves as most editors do."""
    part = f"{os.path.dirname(path)}/.{os.path.basename(path)}.part"
    with open(part, "w", encoding="utf-8") as file:
        file.write(text)
    os.rename(part, path)


def keep_saving(files, a_second, is_over):
    """Saves so many of these files a second, each with a line more below its front matter or the last one changed."""
    dice, begun, n_saved = random.Random(1), time.monotonic(), 0
    while not is_over.is_set():
        path = dice.choice(files)
        text = pathlib.Path(path).read_text(encoding="utf-8").split("\nSaved once more,")[0]
        save(path, f"{text}\nSaved once more, number {n_saved}.\n")
        n_saved += 1
        time.sleep(max(0, begun + n_saved / a_second - time.monotonic()))


def searchable(shop, n_saves):
    """From the end of a save to the first answer that has it, without a fence."""
    times, dice = [], random.Random(2)
    (shop.folder / "notes").mkdir(exist_ok=True)
    for n in range(n_saves):
        time.sleep(0.1 * dice.random())
        word = f"qwv{n}zx{dice.randrange(1 << 30):x}"
        text = f"# Figure\n\n{word} in a note.\n"
        path = shop.folder / "notes" / f"figure-{n % 20}.md"
        if n % 2:
            save(str(path), text)
        else:
            path.write_text(text)
        start = time.perf_counter()
        while not shop.find(word, fence=False)["total"]:
            if 30 < time.perf_counter() - start:
                raise SystemExit(f"{word} never became searchable")
            time.sleep(0.001)
        times.append((time.perf_counter() - start) * 1e3)
    return times


def saves(table, shop, folder, n_saves=300):
    """Save to searchable, at rest and while others save."""
    for figure, a_second in (("save → searchable, at rest", 0), ("save → searchable while 50 files a second are saved", 50)):
        is_over = multiprocessing.Event()
        writer = multiprocessing.Process(target=keep_saving, args=(folder.files, a_second, is_over))
        if a_second:
            writer.start()
        try:
            times = searchable(shop, n_saves)
        finally:
            is_over.set()
            if a_second:
                writer.join()
        middle, late = statistics.median(times), part(times, 0.99)
        told = f"p50 {middle:.0f} ms, p99 {late:.0f} ms, worst of {n_saves} {max(times):.0f} ms"
        table.add(folder.size, figure, told, "p50 ≤ 50 ms, p99 ≤ 150 ms", middle <= 50 and late <= 150)


def card(table, shop, folder, n_edits=3):
    """An edit of a card until all its builds are examined again."""
    path = next(path for path in folder.files if path.endswith(f"/{folder.card}.md"))
    text, times = pathlib.Path(path).read_text(), []
    for n in range(n_edits):
        # All that is known of its builds hangs on a diameter; not so on its weight.
        edited = re.sub(r"(od: )([\d.]+)", lambda found: f"{found[1]}{float(found[2]) + (n + 1) / 100:.2f}", text, count=1)
        save(path, edited)
        start = time.perf_counter()
        while "error" in shop.ask({"ask": "status"})[0]:
            pass
        times.append((time.perf_counter() - start) * 1e3)
    took = statistics.median(times)
    figure = f"edit of a blank card → its {folder.n_builds:,} builds re-examined"
    is_named = 900 <= folder.n_builds <= 1100
    table.add(folder.size, figure, f"{took:.0f} ms", "≤ 500 ms" if is_named else "", took <= 500 if is_named else None)


def idle(table, shop, folder, how_long):
    """What the daemon does while nothing happens."""
    # Until threads that had something to do have ended.
    time.sleep(20)
    early, woken_before = shop.work()
    names_before = shop.threads()
    time.sleep(how_long)
    late, woken = shop.work()
    names = names_before | shop.threads()
    by_name = collections.Counter()
    for thread, count in woken.items():
        by_name[names.get(thread, "ended since")] += count - woken_before.get(thread, 0)
    by_name = +by_name
    share = (late - early) / how_long
    which = " (" + ", ".join(f"{count} {name}" for name, count in by_name.most_common()) + ")" if by_name else ""
    told = f"{share:.4%} of a core over {how_long} s, {by_name.total()} wake-ups{which}"
    table.add(folder.size, "idle processor use", told, "< 0.1 %, no wake-ups", share < 0.001 and not by_name)


def without_daemon(table, tools, shop, folder):
    """A question without a daemon, and a restart, beside a plain walk."""
    shop.stop()
    runs = 11 if folder.size <= 100_000 else 3
    took = in_turn(runs, ours=([tools.ours, "find", folder.rare], shop.env), floor=([tools.floor, str(folder.path)], None))
    ours, floor = took["ours"], took["floor"]
    told = f"{ours:.1f} ms, {ours / floor:.2f} × the walk's {floor:.1f} ms"
    table.add(folder.size, "one-shot `find` without a daemon, index up to date", told, "≤ 1.5 × walk + 20 ms", ours <= 1.5 * floor + 20)
    starts, floors = [], []
    for _ in range(max(3, runs // 2)):
        floors.append(seconds([tools.floor, str(folder.path)])[0] * 1e3)
        starts.append(shop.start() * 1e3)
        shop.stop()
    started, floor = statistics.median(starts), statistics.median(floors)
    told = f"{started:.1f} ms, {started / floor:.2f} × the walk's {floor:.1f} ms"
    table.add(folder.size, "restart with nothing changed", told, "≤ 1.3 × walk", started <= 1.3 * floor)


def measure(table, tools, work, size, options):
    room = shutil.disk_usage(work).free
    if room < size * ROOM_A_RECORD:
        table.add(size, "all", f"left out: {room / 1e9:.0f} GB of room, {size * ROOM_A_RECORD / 1e9:.0f} GB needed")
        return
    path = work / f"shop-{size}"
    subprocess.run([tools.generate, str(path), str(size)], check=True)
    folder = Folder(path, size)
    print(f"\n{size:,} records, {folder.bytes / 1e6:.0f} MB of text; load {os.getloadavg()[0]:.1f}", flush=True)
    rounds = 3 if size <= 10_000 else 2 if size <= 100_000 else 1
    with build(table, tools, folder, work, rounds) as shop:
        is_examined = examined(table, shop, folder, options.patience)
        finds(table, tools, shop, folder)
        saves(table, shop, folder)
        if is_examined:
            card(table, shop, folder)
        memory(table, shop, folder, "resident memory after all that")
        if is_examined:
            if options.idle and size == max(n for n in options.sizes if n < MILLION or len(options.sizes) == 1):
                idle(table, shop, folder, options.idle)
            without_daemon(table, tools, shop, folder)
        else:
            # Each of these would wait until the plugins are done.
            n_waiting = shop.status()["pending"]
            told = f"left out: {n_waiting:,} records wait for the plugins"
            table.add(size, "edit of a card, rest, questions without a daemon, restart", told)
    shutil.rmtree(path)
    for state in work.glob("state-*"):
        shutil.rmtree(state)


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--sizes", default="1000,10000,100000", help="how many records, with commas between")
    options.add_argument("--million", action="store_true", help="a million records too, which needs about 16 GB of disk")
    options.add_argument("--idle", type=int, default=300, metavar="SECONDS", help="how long an idle daemon is watched; 0 for not at all")
    options.add_argument("--patience", type=int, default=3600, metavar="SECONDS", help="how long the plugins may take at first")
    options.add_argument("--built", metavar="DIR", help="a directory like `target/release` whose programs are taken instead of building them")
    options.add_argument("--work", help="where to work, in place of the directory for temporary files")
    options = options.parse_args()
    options.sizes = [int(size) for size in options.sizes.split(",")] + [MILLION] * options.million
    # Whoever reads a file of it sees each line when it is there.
    sys.stdout.reconfigure(line_buffering=True)
    tools, table = Tools(options.built), Table()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start")
    with tempfile.TemporaryDirectory(dir=options.work, prefix="taperbook-beside-") as work:
        try:
            for size in options.sizes:
                measure(table, tools, pathlib.Path(work), size, options)
        finally:
            table.print()


if __name__ == "__main__":
    main()
