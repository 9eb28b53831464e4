"""``python -m tests.mutation``: do the tests of the figures notice when a figure is wrong?

Makes small mistakes in `journal/figures/` and `journal/comparison/`, one at a time, and runs
the tests that reach the function, until one fails. The mistakes and the runs are mutmut's; here
is only which of them count, and which are drawn. Nothing is written in the checkout.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from math import sqrt
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
COPIED = ("journal", "tests", "content", "themes", "pyproject.toml", "DEVELOPERS.md", "README.md")
PACKAGES = ("figures", "comparison")

#: mutmut's own mark for one that is left out; kept over a run, as every mark but None is.
LEFT_OUT = 34
#: pytest's ends, and the ends of a process that was stopped for want of time.
ENDS = {0: "survived", 1: "killed", 3: "killed", 33: "no test", 36: "timed out", 255: "timed out"}
ENDS.update(dict.fromkeys((-24, 24, 152, -9), "timed out"))
KILLED = ("killed", "timed out")

#: The normal quantile of a 95 % interval.
Z = 1.959964

#: Between the figures of a report and what was not noticed.
PARTED = "\n\n"

Marks = dict[str, int | None]


def copy_checkout(into: Path) -> None:
    """Times of files are kept, by which mutmut knows what to make anew."""
    for name in COPIED:
        source = PROJECT / name
        if source.is_file():
            shutil.copy2(source, into / name)
        else:
            leave = shutil.ignore_patterns("__pycache__", ".*")
            shutil.copytree(source, into / name, ignore=leave, dirs_exist_ok=True)


def meta_files() -> Iterator[Path]:
    for package in PACKAGES:
        yield from sorted(Path("mutants", "journal", package).glob("*.py.meta"))


def package_of(mutant: str) -> str:
    return mutant.split(".")[1]


def marks() -> Marks:
    """How every mutant ended: pytest's status, or None before it was tried."""
    found: Marks = {}
    for path in meta_files():
        found.update(json.loads(path.read_text("utf-8"))["exit_code_by_key"])
    return found


def mark(new: Marks) -> None:
    for path in meta_files():
        meta = json.loads(path.read_text("utf-8"))
        own = meta["exit_code_by_key"]
        own.update((name, new[name]) for name in own if name in new)
        path.write_text(json.dumps(meta, indent=4), "utf-8")


def change(mutant: str) -> str:
    """The mistake as a diff of its function."""
    from mutmut.mutation.diff_apply import get_diff_for_mutant

    module = mutant.rpartition(".")[0]
    return get_diff_for_mutant(mutant, path=Path(*module.split(".")).with_suffix(".py"))


PROSE = re.compile(r'"(?:[^"\\]|\\.)*\s(?:[^"\\]|\\.)*"')
STRICT = re.compile(r", strict=(True|False|None)\b|, *(?=\))")


def counts(diff: str) -> bool:
    """Whether a mistake is one that tests should notice.

    Left out: the wording of a sentence (a text with a space in it), and `strict=` of zip(),
    which says of two lines what holds of them by how they were made.
    """
    lines = diff.splitlines()[2:]
    old = "\n".join(line[1:] for line in lines if line.startswith("-"))
    new = "\n".join(line[1:] for line in lines if line.startswith("+"))
    if STRICT.sub("", old) == STRICT.sub("", new):
        return False
    for text in PROSE.finditer(old):
        before, after = old[: text.start() + 1], old[text.end() - 1 :]
        if new.startswith(before) and new.endswith(after) and new != before + after:
            return False
    return True


def draw(names: Sequence[str], sample: int, seed: int) -> list[str]:
    """So many of a package's mistakes that count, each as likely as any other."""
    order = sorted(names)
    random.Random(seed).shuffle(order)
    drawn: list[str] = []
    for name in order:
        if len(drawn) == sample:
            break
        if counts(change(name)):
            drawn.append(name)
    return drawn


def wilson(hits: int, of: int) -> tuple[float, float]:
    """95 % interval of a share.

    Source: Wilson, J. Am. Stat. Assoc. 22 (1927) 209
    """
    share, more = hits / of, Z * Z / of
    middle = (share + more / 2) / (1 + more)
    half = Z / (1 + more) * sqrt(share * (1 - share) / of + more / (4 * of))
    return middle - half, middle + half


def report(names: Sequence[str], found: Marks) -> str:
    """By package: how many were noticed; then, with its diff, every one that no test failed on."""
    lines, alive = [], []
    for package in PACKAGES:
        ends = Counter[str]()
        for name in names:
            status = found[name]
            if package_of(name) != package or status is None or status == LEFT_OUT:
                continue
            end, diff = ENDS.get(status, f"status {status}"), change(name)
            if not counts(diff):
                continue
            ends[end] += 1
            # A busy machine runs out of time as well, so these are listed to be tried again.
            if end != "killed":
                alive.append(f"# {name}: {end}\n{diff}\n")
        of = ends.total()
        if of:
            killed = sum(ends[end] for end in KILLED)
            low, high = wilson(killed, of)
            each = ", ".join(f"{number} {end}" for end, number in sorted(ends.items()))
            lines.append(
                f"{package}: {killed} of {of} noticed, {killed / of:.1%}"
                f" (95 % interval {low:.1%} to {high:.1%}): {each}"
            )
    return "\n".join(lines) + PARTED + "\n".join(alive)


def generate() -> None:
    from mutmut.__main__ import CatchOutput, copy_also_copy_files, copy_src_dir, create_mutants

    Path("mutants").mkdir(exist_ok=True)
    with CatchOutput():
        copy_src_dir()
        copy_also_copy_files()
        create_mutants(1)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--into", type=Path, required=True, help="a folder to work in")
    parser.add_argument("--sample", type=int, help="mistakes a package; none: all, for hours")
    parser.add_argument("--seed", type=int, default=1, help="of the sample")
    parser.add_argument("--again", type=Path, help="a report: try what it lists once more")
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()

    again = asked.again and re.findall(r"^# (\S+):", asked.again.read_text("utf-8"), re.M)
    asked.into.mkdir(parents=True, exist_ok=True)
    os.chdir(asked.into)
    copy_checkout(Path.cwd())
    generate()
    names = list(marks())
    if again or asked.sample:
        drawn = again or [
            name
            for package in PACKAGES
            for name in draw(
                [name for name in names if package_of(name) == package], asked.sample, asked.seed
            )
        ]
        mark({**dict.fromkeys(names, LEFT_OUT), **dict.fromkeys(drawn, None)})
        names = drawn
    else:
        mark({name: None for name, status in marks().items() if status == LEFT_OUT})
    # What is shared out over processes, no test is known to have reached.
    environment = {**os.environ, "JOURNAL_WORKERS": "1", "OMP_NUM_THREADS": "1"}
    mutmut = shutil.which("mutmut", path=str(Path(sys.executable).parent)) or "mutmut"
    run = [mutmut, "run", "--max-children", str(asked.processes)]
    done = subprocess.run(run, env=environment, check=False)
    text = report(names, marks())
    Path("report.txt").write_text(text, "utf-8")
    sys.stdout.write(f"\n{text.split(PARTED)[0]}\nThe others: {Path.cwd() / 'report.txt'}\n")
    raise SystemExit(done.returncode)


if __name__ == "__main__":
    main()
