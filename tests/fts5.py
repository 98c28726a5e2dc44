#!/usr/bin/env python3
"""Puts a folder of records into SQLite's FTS5, front matter read by PyYAML: what a short script would do.

    python3 tests/fts5.py FOLDER DATABASE [AT_MOST]

Text is a full-text table; each value of the front matter is a row of `path, key, words, number`, with an index on key
and number. Quantities are only taken by their leading number: units, fractions and ranges are left out, in its favour.
Files past AT_MOST are left out. `tests/beside_others.py` runs it beside the project's own index.
"""

import os
import re
import sqlite3
import sys
import time

import yaml

LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
NUMBER = re.compile(r"\s*(\d+(?:\.\d+)?)")


def values(key, node):
    """Each value below a node of the front matter, with its keys joined by dots."""
    if isinstance(node, dict):
        for name, inner in node.items():
            yield from values(f"{key}.{name}" if key else str(name), inner)
    elif isinstance(node, list):
        for inner in node:
            yield from values(key, inner)
    elif node is not None:
        yield key, str(node)


def main():
    folder, database = sys.argv[1:3]
    at_most = int(sys.argv[3]) if 3 < len(sys.argv) else sys.maxsize
    begun = time.perf_counter()
    connection = sqlite3.connect(database)
    connection.executescript(
        "pragma journal_mode = off; pragma synchronous = off;"
        "create virtual table text using fts5(path unindexed, body);"
        "create table field (path text, key text, words text, number real);"
    )
    n_files = n_unread = 0
    for top, _, names in os.walk(folder):
        for name in names:
            if not name.endswith(".md") or n_files == at_most:
                continue
            path = os.path.join(top, name)
            with open(path, encoding="utf-8", errors="replace") as file:
                text = file.read()
            n_files += 1
            connection.execute("insert into text values (?, ?)", (path, text))
            if not text.startswith("---\n"):
                continue
            try:
                front = yaml.load(text[4 : text.index("\n---", 3) + 1], LOADER)
            except (yaml.YAMLError, ValueError):
                n_unread += 1
                continue
            rows = []
            for key, words in values("", front):
                number = NUMBER.match(words)
                rows.append((path, key, words, float(number[1]) if number else None))
            connection.executemany("insert into field values (?, ?, ?, ?)", rows)
    connection.execute("create index by_key on field (key, number)")
    connection.commit()
    took = time.perf_counter() - begun
    print(f"{n_files} files, {n_unread} with front matter that was not read, {LOADER.__name__}, after {took:.3f} s")


if __name__ == "__main__":
    main()
