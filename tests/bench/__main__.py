"""``python -m tests.bench``: how fast the journal is, against bare libraries in the same run.

Every figure is a ratio of processor seconds, so that a busy machine and a slow one tell the
same; the clock is told beside it where two processes share the work. What is held against each
other is run in turn, and the middle of the rounds' ratios counts: a machine that others use is
now fast, now slow.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from statistics import median

from tests.bench.corpus import write_corpus
from tests.bench.edits import EDITS, SAID, Edit
from tests.bench.measuring import PROJECT, Took, run

#: Beyond the steps that files' times come in, so that they vouch for the files.
REST_S = 3.0


class Notebook:
    """A made-up notebook and its output, with a place of its own for kept answers."""

    def __init__(self, folder: Path, designs: int, photos: int, *, link: bool, seed: int) -> None:
        self.content, self.out, self.kept = folder / "content", folder / "out", folder / "kept"
        write_corpus(
            self.content, PROJECT / "content", designs, photos=photos, link=link, seed=seed
        )
        # A photo that is added is one of the demo's, whatever photos the notebook was made with.
        (folder / "pictures").mkdir()
        for number, path in enumerate(sorted(PROJECT.glob("content/designs/*/photos/*.jpg"))):
            shutil.copyfile(path, folder / "pictures" / f"{number:02d}.jpg")
        self.changes = 0

    def build(self, **environment: str) -> Took:
        return run(
            ["-m", "journal", "build", "--content", self.content, "--out", self.out],
            {"JOURNAL_CACHE": str(self.kept), **environment},
        )

    def from_nothing(self, **environment: str) -> Took:
        for folder in (self.out, self.kept):
            shutil.rmtree(folder, ignore_errors=True)
        return self.build(**environment)

    def nothing_changed(self, rounds: int) -> float:
        """How many times as long as bare Python a build of what is known takes."""
        time.sleep(REST_S)
        self.build()
        return median(self.build().cpu_s / bare_s() for _ in range(rounds))

    def after(self, edit: Edit, rounds: int) -> tuple[Took, float]:
        """The middle build after an edit, each round with an edit of its own; and how many times
        as long as bare Python it took.
        """
        took, times = [], []
        for _ in range(rounds):
            self.changes += 1
            edit(self.content, self.changes)
            time.sleep(REST_S)
            bare = bare_s()
            took.append(self.build())
            times.append(took[-1].cpu_s / bare)
        return middle(took), median(times)


def bare_s() -> float:
    """Processor seconds of Python that does nothing."""
    return median(run(["-I", "-c", "pass"], {}).cpu_s for _ in range(5))


def middle(took: list[Took]) -> Took:
    return sorted(took, key=lambda one: one.cpu_s)[len(took) // 2]


def measured(asked: argparse.Namespace, folder: Path) -> Mapping[str, object]:
    """Every figure of one run."""
    rounds, found = asked.rounds, {}
    notebook = Notebook(
        folder / "whole", asked.designs, asked.photos, link=asked.link, seed=asked.seed
    )
    baseline_at = PROJECT / "tests" / "bench" / "baseline.py"
    baselines, ones, shares = [], [], []
    for number in range(rounds):
        baselines.append(run([baseline_at, notebook.content, folder / f"baseline-{number}"], {}))
        ones.append(notebook.from_nothing(JOURNAL_WORKERS="1"))
        shares.append(notebook.from_nothing())
    one, shared, baseline = middle(ones), middle(shares), middle(baselines)
    stages = json.loads(
        run(["-m", "tests.bench.stages", notebook.content], {"JOURNAL_WORKERS": "1"}).said
    )
    kept_apart = stages["bond model"] + stages["comparisons and their power"]
    found["from nothing, one process / baseline"] = median(
        own.cpu_s / bare.cpu_s for own, bare in zip(ones, baselines, strict=True)
    )
    found["the same, bond model and comparisons apart / baseline"] = (
        one.cpu_s - kept_apart
    ) / baseline.cpu_s
    found["from nothing, all cores, by the clock / baseline"] = median(
        own.wall_s / bare.wall_s for own, bare in zip(shares, baselines, strict=True)
    )
    for name, seconds in stages.items():
        found[f"  share of {name}"] = seconds / sum(stages.values())
    found["nothing changed / bare Python"] = notebook.nothing_changed(max(5, rounds))
    for name, edit in EDITS.items():
        took, times = notebook.after(edit, rounds)
        found[f"{SAID[name]} / bare Python"] = times
        found[f"  from nothing / {SAID[name]}"] = one.cpu_s / took.cpu_s
        found["  its peak memory, MiB, " + SAID[name]] = took.peak_mib
    saved = json.loads(
        run(
            ["-m", "tests.bench.saving", notebook.content, folder / "shown"],
            {"JOURNAL_CACHE": str(folder / "kept while shown")},
        ).said
    )
    found["save to page in a preview / the page alone"] = saved["page"] / saved["baseline"]
    found["save to all pages in a preview / the page alone"] = saved["whole"] / saved["baseline"]
    small = Notebook(
        folder / "tenth", max(11, asked.designs // 10), asked.photos // 10, link=asked.link,
        seed=asked.seed,
    )  # fmt: skip
    tenth = middle([small.from_nothing(JOURNAL_WORKERS="1") for _ in range(rounds)])
    found[f"growth from {max(11, asked.designs // 10)} designs"] = one.cpu_s / tenth.cpu_s
    found["peak memory of a process, MiB"] = max(one.peak_mib, shared.peak_mib)
    weights = {
        "largest page of a design, kB": "designs/*-*.html",
        "largest card, kB": "cards/*-*.html",
        "largest page of all, kB": "**/*.html",
        "stylesheet, kB": "look.css",
    }
    for name, pattern in weights.items():
        found[name] = max(path.stat().st_size for path in notebook.out.glob(pattern)) / 1000
    found["scripts, kB"] = sum(p.stat().st_size for p in notebook.out.glob("*.js")) / 1000
    written = sum(path.stat().st_size for path in notebook.content.glob("designs/*/design.md"))
    index = {path: path.stat().st_size for path in notebook.out.glob("index/**/*.js")}
    found["index, share of the write-ups"] = sum(index.values()) / written
    # Words to quote from are loaded for the pages that are shown, twenty at a time.
    first = [
        size
        for path, size in index.items()
        if path.parent.name == "index" and not path.stem.endswith("-words")
    ]
    found["  loaded at the first key"] = sum(first) / written
    found["  scripts loaded at the first key"] = len(first)
    return found


def edited(asked: argparse.Namespace, folder: Path) -> Mapping[str, object]:
    """What builds cost after each of the edits that were picked, on all cores."""
    notebook = Notebook(
        folder / "edited", asked.designs, asked.photos, link=asked.link, seed=asked.seed
    )
    notebook.from_nothing()
    found: dict[str, object] = {
        "nothing changed / bare Python": notebook.nothing_changed(max(5, asked.rounds))
    }
    for name in asked.edits:
        took, times = notebook.after(EDITS[name], asked.rounds)
        found[f"{SAID[name]} / bare Python"] = times
        found["  its seconds, " + SAID[name]] = took.cpu_s
        found["  its peak memory, MiB, " + SAID[name]] = took.peak_mib
    return found


CURVE = (11, 100, 1000, 5000)  # the demo has 11 designs, which are always among them


def curve(asked: argparse.Namespace, folder: Path) -> Mapping[str, object]:
    """What builds cost on all cores, once from nothing, then after edits: by the number of designs,
    or for one number of designs and photos.
    """
    found: dict[str, object] = {}
    baseline_at = PROJECT / "tests" / "bench" / "baseline.py"
    for designs in CURVE if asked.curve else (asked.designs,):
        photos = 0 if asked.curve else asked.photos
        notebook = Notebook(
            folder / f"{designs}", designs, photos, link=asked.link, seed=asked.seed
        )
        baseline = run([baseline_at, notebook.content, folder / f"baseline-{designs}"], {})
        whole = notebook.from_nothing()
        name = f"{designs} designs: "
        found[f"{name}from nothing, ms a design"] = 1000 * whole.cpu_s / designs
        found[f"{name}from nothing, s by the clock"] = whole.wall_s
        found[f"{name}from nothing / baseline"] = whole.cpu_s / baseline.cpu_s
        found[f"{name}peak memory, MiB"] = whole.peak_mib
        found[f"{name}nothing changed / bare Python"] = notebook.nothing_changed(1)
        changed, times = notebook.after(EDITS["prose"], asked.rounds)
        found[f"{name}one write-up changed, s"] = changed.cpu_s
        found[f"{name}one write-up changed / bare Python"] = times
        found[f"{name}its peak memory, MiB"] = changed.peak_mib
        for leftover in (designs, f"baseline-{designs}"):
            shutil.rmtree(folder / f"{leftover}")
    return found


def main() -> int:
    asked = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    asked.add_argument("--designs", type=int, default=1000)
    asked.add_argument("--photos", type=int, default=0, help="in all, spread over the designs")
    asked.add_argument("--link", action="store_true", help="photos are second names of the demo's")
    asked.add_argument(
        "--rounds", type=int, default=3, help="runs of each, of which the middle counts"
    )
    asked.add_argument("--seed", type=int, default=7)
    asked.add_argument(
        "--curve", action="store_true", help="instead: 10, 100, 1,000 and 5,000 designs, a run each"
    )
    asked.add_argument(
        "--once", action="store_true", help="instead: one build from nothing, on all cores"
    )
    asked.add_argument(
        "--edits", nargs="*", choices=EDITS, metavar="EDIT",
        help=f"instead: builds after nothing and after these edits alone, of {', '.join(EDITS)}",
    )  # fmt: skip
    asked.add_argument("--json", type=Path, help="write the figures here too")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if given.edits is not None:
            found = edited(given, Path(folder))
        elif given.curve or given.once:
            found = curve(given, Path(folder))
        else:
            found = measured(given, Path(folder))
    cores = len(os.sched_getaffinity(0))
    lines = [
        f"{given.designs} designs, {given.photos} photos; {cores} cores,"
        f" Python {platform.python_version()}, {sys.platform}; {given.rounds} rounds",
        *(f"{name:<58} {value:9.2f}" for name, value in found.items()),
    ]
    sys.stdout.write("\n".join(lines) + "\n")
    if given.json:
        given.json.write_text(json.dumps(found, indent=1), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
