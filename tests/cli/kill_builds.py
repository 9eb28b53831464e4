"""Builds again and again and kills each build at a random moment; run by test_build_faults.

    python kill_builds.py OUT ONE OTHER WHOLE_ONE WHOLE_OTHER KILLS SEED

ONE and OTHER are two states of a content, WHOLE_… the notebooks made of them. After every kill
the next command must find, or make, one of the two whole. Says in JSON what it came to.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
from pathlib import Path

import journal.cli.build  # noqa: F401  # loaded once, for all that are forked
from journal.cli import main
from journal.output import OutputError, recover


def tree(root: Path) -> dict[str, bytes]:
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and ".journal-work" not in path.parts
    }


def start(content: Path, out: Path) -> int:
    process = os.fork()
    if process == 0:
        os.setpgid(0, 0)  # its own processes are killed with it
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        os._exit(main(["build", "--content", str(content), "--out", str(out)]))
    return process


def mended(out: Path) -> None:
    """``recover``, once the last process of a killed build has let go of the lock."""
    for _ in range(6000):  # of 20 ms: two minutes
        try:
            return recover(out)
        except OutputError:
            time.sleep(0.02)
    return recover(out)


def run() -> dict[str, object]:
    out, one, other, whole_one, whole_other = map(Path, sys.argv[1:6])
    kills, rng = int(sys.argv[6]), random.Random(int(sys.argv[7]))
    wholes = (tree(whole_one), tree(whole_other))
    shutil.copytree(whole_one, out)
    # The first build works out what later ones remember: the moments are spread over a later one.
    os.waitpid(start(other, out), 0)
    begun = time.perf_counter()
    os.waitpid(start(one, out), 0)
    longest = time.perf_counter() - begun
    assert tree(out) == wholes[0]
    came_to = {"killed": 0, "done": 0, "old": 0, "new": 0, "finished by the next": 0}
    for number in range(100 * kills):
        if came_to["killed"] >= kills:
            break
        content = (other, one)[number % 2]
        process = start(content, out)
        waited = rng.uniform(0.0, longest)
        time.sleep(waited)
        os.killpg(process, signal.SIGKILL) if os.getpgid(process) == process else os.kill(
            process, signal.SIGKILL
        )
        _, status = os.waitpid(process, 0)
        came_to["killed" if os.WIFSIGNALED(status) else "done"] += 1
        if not os.WIFSIGNALED(status):
            longest = waited  # the machine was busier when it was measured
        between = tree(out) not in wholes
        if between:
            assert (out / ".journal-work" / "note.json").exists(), f"torn by kill {number}"
            came_to["finished by the next"] += 1
        mended(out)
        assert tree(out) in wholes, f"neither the one nor the other after kill {number}"
        came_to["old" if tree(out) != wholes[1 - number % 2] else "new"] += 1
        if rng.random() < 0.3:
            os.waitpid(start(content, out), 0)
            assert tree(out) == wholes[1 - number % 2], f"not mended after kill {number}"
    # A build with nothing to do leaves what a killed one had ready; one that writes clears it.
    os.waitpid(start(one, out), 0)
    os.waitpid(start(other, out), 0)
    assert tree(out) == wholes[1]
    assert not (out / ".journal-work").exists()
    return came_to


if __name__ == "__main__":
    sys.stdout.write(json.dumps(run()))
