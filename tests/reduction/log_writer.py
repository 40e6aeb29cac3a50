"""A logger in a process of its own, told line by line what to do: holds its file open and writes with a buffer.

    log_writer.py FILE TEXT

`write N` hands the next N bytes of TEXT to a stream with a buffer of 4096 bytes; `flush`; `roll NAME` renames the file
and goes on in a new one; `header` starts TEXT again; `truncate` cuts the file to nothing and goes on at its start;
`delete`; `again` makes the file anew. Answers each with the size of the file.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path


def main() -> None:
    path, text = Path(sys.argv[1]), Path(sys.argv[2]).read_bytes()
    stream, at = path.open("wb", buffering=4096), 0
    for line in sys.stdin:
        word, *rest = line.split()
        if word == "write":
            stream.write(text[at : at + int(rest[0])])
            at += int(rest[0])
        elif word == "flush":
            stream.flush()
        elif word == "header":
            at = 0
        elif word == "roll":
            stream.close()
            path.rename(path.with_name(rest[0]))
            stream = path.open("wb", buffering=4096)
        elif word == "truncate":
            stream.flush()
            stream.truncate(0)
            stream.seek(0)
        elif word == "delete":
            stream.close()
            path.unlink()
        elif word == "again":
            stream = path.open("wb", buffering=4096)
        print(os.stat(path).st_size if path.exists() else -1, flush=True)


main()
