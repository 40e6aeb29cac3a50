"""Kill a process at random moments of its writes and count what is left: run as a script in a process of its own.

    kill_writer.py FOLDER WRITER KILLS SEED

WRITER is `text` (the writer of this tool), `yaml` (an edit of a campaign file) or `unsafe` (what must be caught: a file
opened and written in place). Prints one line: kills, how many fell into a write, whole files, halves.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

from cracktie.campaign.positions import parse_text
from cracktie.campaign.write import edit_yaml, write_text

SIZE = 3_000_000


def unsafe(path: Path, text: str) -> None:
    with path.open("w") as stream:
        for start in range(0, len(text), 65536):
            stream.write(text[start : start + 65536])


def yaml(path: Path, text: str) -> None:
    edit_yaml(path, {("tests", "T1", "note"): text[:1] * 20_000, ("tests", "T2", "note"): text[:1] * 20_000})


WRITERS = {"text": write_text, "yaml": yaml, "unsafe": unsafe}


def forever(path: Path, writer: str, flag: Path) -> None:
    while True:
        for letter in "BCDE":
            with flag.open("wb") as mark:
                mark.write(b"x")
            WRITERS[writer](path, letter * SIZE)
            flag.unlink()


def whole(path: Path, writer: str) -> bool:
    text = path.read_text()
    if writer != "yaml":
        return len(text) == SIZE and len(set(text)) == 1
    root, problems = parse_text(text, path.name)
    notes = [root.get("tests", t, "note").raw() for t in ("T1", "T2")] if root is not None and not problems else []
    return len(notes) == 2 and notes[0] == notes[1] and "# keep me" in text and text.endswith("\n")


def main() -> None:
    folder, writer, kills, seed = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    path, flag = folder / "file.yaml", folder / "writing"
    first = "# keep me\ntests:\n  T1: {note: A}\n  T2: {note: A}\n" if writer == "yaml" else "A" * SIZE
    path.write_text(first)
    rng, inside, good, halves = random.Random(seed), 0, 0, 0
    for _ in range(kills):
        flag.unlink(missing_ok=True)
        child = os.fork()
        if child == 0:
            forever(path, writer, flag)
        time.sleep(rng.uniform(0.001, 0.05))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        inside += flag.exists()
        if whole(path, writer):
            good += 1
        else:
            halves += 1
            path.write_text(first)
    print(kills, inside, good, halves)


main()
