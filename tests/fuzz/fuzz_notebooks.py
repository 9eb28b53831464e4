"""Looks for whole notebooks on which ``check`` or ``build`` stumbles, or about which they differ.

    PYTHONPATH=tests .venv/bin/python -m fuzz.fuzz_notebooks --into FOLDER --seconds 3600

Each notebook is a sound one with mistakes put in by a seed (``spoil.py``), and is tried in a
process of its own. A stumble is an exception that nothing declares, more than ``--most`` seconds
of processor, a problem without a place, a check without errors before a build that fails, or
errors that the one tells and the other does not. The first of each kind is kept in FOLDER, and
the search goes on; ``--seed N`` tries one again.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import differing_notebook
import worked_notebook
from case_notebooks import CASES, laid_out
from fuzz.spoil import Files, Spoiler
from fuzz.stumbles import keep_first, refuse_without_place
from paths import PROJECT
from small_notebook import lay_down_asking

from journal.cli import CONTENT_WRONG, DONE, WRONG_USE, main
from journal.errors import Position, Problem

_PLACED = re.compile(r"(?s)(.+?):(\d+):(\d+): (warning: )?(.+)")
_COUNT = re.compile(r"\d+ errors?\.")
CAME_TO = {DONE: "sound", CONTENT_WRONG: "refused", 3: "stumble", 4: "stumble known"}
EDITIONS = ("studio", "studio", "studio", "helpers", "public")


#: A busy machine may take so many seconds for one of a process, and so many to begin it.
SECONDS_FOR_ONE, SECONDS_TO_BEGIN = 10, 120


class Hang(Exception):
    """It took too long."""


def files_of(root: Path) -> Files:
    """Every file under a folder."""
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in sorted(root.rglob("*"))
        if path.is_file()
    }


def sound_notebooks(folder: Path) -> list[Files]:
    """The notebooks to begin from."""
    lay_down_asking(folder / "small", PROJECT / "content")
    worked_notebook.lay_out(folder / "worked")
    differing_notebook.lay_out(folder / "differing")
    laid_out(None, folder / "cases")
    for case in sorted((CASES / "valid").glob("*.md")):
        made = folder / "cases" / "designs" / case.stem
        made.mkdir()
        (made / "design.md").write_bytes(case.read_bytes())
    return [files_of(folder / name) for name in ("small", "worked", "differing", "cases")]


def lay_down(files: Files, root: Path) -> None:
    """Write the files into a new folder; those that no disk takes are left out."""
    root.mkdir()
    for path, data in files.items():
        with contextlib.suppress(OSError, ValueError):
            (root / path).parent.mkdir(parents=True, exist_ok=True)
            (root / path).write_bytes(data)


def run(*arguments: str) -> tuple[int, list[str]]:
    """The exit status of a command, and the lines that it says are wrong."""
    said = io.StringIO()
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(io.StringIO()):
        status = main(arguments)
    return status, [line for line in said.getvalue().splitlines() if not _COUNT.fullmatch(line)]


def problem_of(line: str) -> Problem:
    """A problem as it was printed."""
    placed = _PLACED.fullmatch(line)
    assert placed is not None, f"no place: {line}"
    at = Position(placed[1], int(placed[2]), int(placed[3]))
    return Problem(at, placed[5], "", placed[4] is not None)


def try_notebook(root: Path, out: Path, edition: str = "studio") -> int:
    """Check and build a notebook; AssertionError where it stumbles, else the exit status."""
    checked, told = run("check", "--content", str(root), "--edition", edition)
    built, said = run("build", "--content", str(root), "--out", str(out), "--edition", edition)
    assert checked in (DONE, CONTENT_WRONG), told
    assert built != WRONG_USE, said
    assert checked == built, f"check {checked} and build {built}: {told} {said}"
    problems = [problem_of(line) for line in told]
    refuse_without_place(root, problems)
    assert any(not one.warning for one in problems) == (checked == CONTENT_WRONG), told
    errors = ({line for line in lines if not problem_of(line).warning} for lines in (told, said))
    assert len(set(map(frozenset, errors))) == 1, f"check says {told}; build says {said}"
    return checked


def _stop(*_: object) -> None:
    raise Hang


def try_alone(seed: int, sound: list[Files], into: Path, most_s: float) -> str:
    """Try the notebook of a seed in a process of its own; gives what came of it, in a word."""
    child = os.fork()
    if child:
        # It stops itself, unless it waits or hangs where no signal reaches.
        until = time.monotonic() + SECONDS_TO_BEGIN + SECONDS_FOR_ONE * most_s
        while time.monotonic() < until:
            ended, status = os.waitpid(child, os.WNOHANG)
            if ended:
                code = os.waitstatus_to_exitcode(status)
                return {0: "sound", 1: "refused", 3: "stumble", 4: "stumble known"}.get(
                    code, "died"
                )
            time.sleep(0.01)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        (into / f"hang-{seed}").touch()
        return "hang"
    status = 5
    try:
        status = _try_seed(seed, sound, into, most_s)
    finally:
        os._exit(status)


def spoilt_by(seed: int, sound: list[Files]) -> tuple[Files, list[str], str]:
    """The notebook of a seed, what is wrong with it, and its edition."""
    chance = random.Random(seed)
    files, done = Spoiler(seed).spoilt(chance.choices(sound, OFTEN[: len(sound)])[0])
    return files, done, chance.choice(EDITIONS)


#: How often each sound notebook is begun from: the large one takes ten times as long.
OFTEN = (1, 4, 2, 3)


def _try_seed(seed: int, sound: list[Files], into: Path, most_s: float) -> int:
    files, done, edition = spoilt_by(seed, sound)
    signal.signal(signal.SIGPROF, _stop)
    signal.setitimer(signal.ITIMER_PROF, most_s)
    with tempfile.TemporaryDirectory(prefix="spoilt-") as folder:
        root = Path(folder) / "content"
        lay_down(files, root)
        # With a cache what was checked is built from what is kept of it; without, from nothing.
        os.environ["JOURNAL_CACHE"] = f"{folder}/cache" if seed % 2 else ""
        try:
            return try_notebook(root, Path(folder) / "out", edition)
        except BaseException as stumble:  # noqa: BLE001 - whatever it is, it is what is looked for
            signal.setitimer(signal.ITIMER_PROF, 0)
            told = "\n".join((f"seed {seed}, {edition}", *done))
            return 3 if keep_first(into, stumble, told.encode("utf-8", "replace")) else 4


def search(into: Path, seconds: float, first: int, most_s: float) -> Counter[str]:
    """Try notebooks, from a seed on, for so long; gives how many came to what."""
    os.environ.update(JOURNAL_CACHE="", JOURNAL_WORKERS="1")
    into.mkdir(parents=True, exist_ok=True)
    came: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="sound-") as folder:
        sound = sound_notebooks(Path(folder))
    until, seed = time.monotonic() + seconds, first
    while time.monotonic() < until:
        word = try_alone(seed, sound, into, most_s)
        came[word] += 1
        if word in ("stumble", "hang", "died"):
            sys.stdout.write(f"seed {seed}: {word}\n")
            sys.stdout.flush()
        seed += 1
    return came


def ask() -> None:
    """Read the arguments, and search."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--into", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=3600.0)
    parser.add_argument("--seed", type=int)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--most", type=float, default=60.0)
    args = parser.parse_args()
    if args.seed is not None:
        came = search(args.into, 0.001, args.seed, args.most)
    else:
        came = search(args.into, args.seconds, args.first, args.most)
    sys.stdout.write(", ".join(f"{word} {count}" for word, count in came.most_common()) + "\n")


if __name__ == "__main__":
    ask()
