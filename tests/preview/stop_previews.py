"""Previews again and again and stops each at a random moment; run by test_preview_stopped.

    python stop_previews.py OUT CONTENT ONE OTHER STOPS SEED

ONE and OTHER are two states of a content; CONTENT is brought from one to the other and back
while it is previewed. However a preview ends, the next command must find, or make, one of the
two notebooks, whole; and the next build be right. Says in JSON what it came to.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
from collections import Counter
from pathlib import Path

import journal.preview.session  # noqa: F401  # loaded once, for all that are forked
from journal.cli import main
from journal.output import OutputError, recover

#: How a maker, another program and the machine end a preview.
ENDS = (signal.SIGINT, signal.SIGTERM, signal.SIGKILL)
Files = dict[str, bytes]
#: What the last preview said of what went wrong.
ERRORS = f"{sys.argv[1]}-said.txt"


def tree(root: Path) -> Files:
    """Every file but what the notebook is known by, which tells a preview from a build."""
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file()
        and ".journal-work" not in path.parts
        and path.name != ".journal-made.json"
    }


def bring(content: Path, state: Path) -> None:
    """Save what differs, each file at once, as an editor does."""
    wanted, there = tree(state), tree(content)
    for path, data in wanted.items():
        if there.get(path) != data:
            (content / ".saving").write_bytes(data)
            os.replace(content / ".saving", content / path)
    for path in there.keys() - wanted.keys():
        (content / path).unlink()


def start(content: Path, out: Path) -> tuple[int, int]:
    """A preview in a process group of its own, and the end to read what it says from."""
    reader, writer = os.pipe()
    process = os.fork()
    if process == 0:
        os.setpgid(0, 0)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        os.dup2(writer, 1)
        os.dup2(os.open(ERRORS, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
        sys.stdout = os.fdopen(1, "w", buffering=1)
        os.write(writer, b"Begun.")
        os._exit(main(["preview", "--content", str(content), "--out", str(out), "--port", "0"]))
    os.setpgid(process, process)
    os.close(writer)
    assert os.read(reader, 6) == b"Begun."
    return process, reader


def wait_until_made(reader: int) -> None:
    said = b""
    while b"See it at" not in said:
        more = os.read(reader, 4096)
        assert more, "the preview ended by itself"
        said += more


def ended(process: int, how: signal.Signals) -> None:
    """Stop a preview: the keyboard stops all of its processes, a program the first."""
    if how == signal.SIGTERM:
        os.kill(process, how)
    else:
        os.killpg(process, how)
    _, status = os.waitpid(process, 0)
    if how == signal.SIGINT:
        assert os.WIFEXITED(status), status
        assert os.WEXITSTATUS(status) in (0, 130), Path(ERRORS).read_text("utf-8")
    else:
        assert os.WTERMSIG(status) == how, status


def mended(out: Path) -> None:
    """``recover``, once the last process of a preview has let go of the lock."""
    for _ in range(6000):
        try:
            return recover(out)
        except OutputError:
            time.sleep(0.02)
    return recover(out)


def run() -> dict[str, int]:
    out, content, *states = map(Path, sys.argv[1:5])
    stops, rng = int(sys.argv[5]), random.Random(int(sys.argv[6]))
    wholes = []
    for state in states:
        shutil.rmtree(content, ignore_errors=True)
        shutil.copytree(state, content)
        assert main(["build", "--content", str(content), "--out", str(out)]) == 0
        wholes.append(tree(out))
    began = time.perf_counter()
    process, reader = start(content, out)
    wait_until_made(reader)
    longest = time.perf_counter() - began
    ended(process, signal.SIGINT)
    os.close(reader)
    came_to = Counter[str]()
    now = 1
    for number in range(stops):
        how = ENDS[number % len(ENDS)]
        process, reader = start(content, out)
        if number // len(ENDS) % 2:  # in the first making, else after a save
            wait_until_made(reader)
        else:
            time.sleep(rng.uniform(0.0, longest / 4))
        now = 1 - now
        bring(content, states[now])
        time.sleep(rng.uniform(0.0, 1.5 * longest))
        ended(process, how)
        os.close(reader)
        came_to[how.name] += 1
        if tree(out) not in wholes:
            assert (out / ".journal-work" / "note.json").exists(), f"torn by stop {number}"
            came_to["finished by the next"] += 1
        mended(out)
        assert tree(out) in wholes, f"neither the one nor the other after stop {number}"
        came_to["new" if tree(out) == wholes[now] else "old"] += 1
        if rng.random() < 0.3 or number == stops - 1:
            assert main(["build", "--content", str(content), "--out", str(out)]) == 0
            assert tree(out) == wholes[now], f"not right after stop {number}"
    return dict(came_to)


if __name__ == "__main__":
    said, sys.stdout = sys.stdout, sys.stderr
    found = run()
    said.write(json.dumps(found))
