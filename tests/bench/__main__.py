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
from collections.abc import Callable, Mapping
from pathlib import Path
from statistics import median

from tests.bench.corpus import write_corpus
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

    def after(self, change: Callable[[Notebook], None], rounds: int) -> tuple[Took, float]:
        """The middle build after a change, each round with a change of its own; and how many times
        as long as bare Python it took.
        """
        took, times = [], []
        for _ in range(rounds):
            self.changes += 1
            change(self)
            time.sleep(REST_S)
            bare = bare_s()
            took.append(self.build())
            times.append(took[-1].cpu_s / bare)
        return middle(took), median(times)


def bare_s() -> float:
    """Processor seconds of Python that does nothing."""
    return median(run(["-c", "pass"], {}).cpu_s for _ in range(5))


def middle(took: list[Took]) -> Took:
    return sorted(took, key=lambda one: one.cpu_s)[len(took) // 2]


def a_write_up(of: Notebook) -> None:
    path = sorted(of.content.glob("designs/*/design.md"))[
        len(list(of.content.glob("designs/*"))) // 2
    ]
    path.write_text(path.read_text("utf-8") + f"\nSeen again, number {of.changes}.\n", "utf-8")


def a_result(of: Notebook) -> None:
    """Something that failed, which the shelf, the index and other pages tell of too."""
    paths = sorted(of.content.glob("designs/*/design.md"))
    path = next(
        path for path in paths[len(paths) // 2 :] if "\nfailed:\n" in path.read_text("utf-8")
    )
    seen = f"\nfailed:\n- {{what: bubbles, saw: 'Seen in round {of.changes}.'}}\n"
    path.write_text(path.read_text("utf-8").replace("\nfailed:\n", seen, 1), "utf-8")


def a_shelf_item(of: Notebook) -> None:
    path = of.content / "shelf" / "mats.yaml"
    text = path.read_text("utf-8")
    path.write_text(text.replace("price: ", f"price: {of.changes}", 1), "utf-8")


def the_settings(of: Notebook) -> None:
    path = of.content / "journal.yaml"
    text = path.read_text("utf-8")
    path.write_text(text.replace("studio: ", "studio: The ", 1), "utf-8")


def the_theme(of: Notebook) -> None:
    (of.content / "theme").mkdir(exist_ok=True)
    (of.content / "theme" / "colours.css").write_text(f"/* {of.changes} */\n", "utf-8")


def measured(asked: argparse.Namespace, folder: Path) -> Mapping[str, object]:
    """Every figure of one run."""
    rounds, found = asked.rounds, {}
    notebook = Notebook(
        folder / "whole", asked.designs, asked.photos, link=asked.link, seed=asked.seed
    )
    floor_at = PROJECT / "tests" / "bench" / "floor.py"
    floors, ones, shares = [], [], []
    for number in range(rounds):
        floors.append(run([floor_at, notebook.content, folder / f"floor-{number}"], {}))
        ones.append(notebook.from_nothing(JOURNAL_WORKERS="1"))
        shares.append(notebook.from_nothing())
    one, shared, floor = middle(ones), middle(shares), middle(floors)
    stages = json.loads(
        run(["-m", "tests.bench.stages", notebook.content], {"JOURNAL_WORKERS": "1"}).said
    )
    kept_apart = stages["bond model"] + stages["comparisons and their power"]
    found["from nothing, one process / floor"] = median(
        own.cpu_s / bare.cpu_s for own, bare in zip(ones, floors, strict=True)
    )
    found["the same, bond model and comparisons apart / floor"] = (
        one.cpu_s - kept_apart
    ) / floor.cpu_s
    found["from nothing, all cores, by the clock / floor"] = median(
        own.wall_s / bare.wall_s for own, bare in zip(shares, floors, strict=True)
    )
    for name, seconds in stages.items():
        found[f"  share of {name}"] = seconds / sum(stages.values())
    time.sleep(REST_S)
    notebook.build()
    found["nothing changed / bare Python"] = median(
        notebook.build().cpu_s / bare_s() for _ in range(max(5, rounds))
    )
    changed, times = notebook.after(a_write_up, max(5, rounds))
    found["one write-up changed / bare Python"] = times
    found["from nothing / one write-up changed"] = one.cpu_s / changed.cpu_s
    found["its peak memory, MiB"] = changed.peak_mib
    for name, change in (
        ("a failure written down", a_result), ("one shelf item changed", a_shelf_item),
        ("the theme changed", the_theme), ("the settings changed", the_settings),
    ):  # fmt: skip
        took, _ = notebook.after(change, rounds)
        found[f"from nothing / {name}"] = one.cpu_s / took.cpu_s
    saved = json.loads(
        run(
            ["-m", "tests.bench.saving", notebook.content, folder / "shown"],
            {"JOURNAL_CACHE": str(folder / "kept while shown")},
        ).said
    )
    found["save to page in a preview / the page alone"] = saved["page"] / saved["floor"]
    found["save to all pages in a preview / the page alone"] = saved["whole"] / saved["floor"]
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
    found["index, share of the write-ups"] = sum(
        path.stat().st_size for path in notebook.out.glob("index/**/*.js")
    ) / sum(path.stat().st_size for path in notebook.content.glob("designs/*/design.md"))
    return found


CURVE = (11, 100, 1000, 5000)  # the demo has 11 designs, which are always among them


def curve(asked: argparse.Namespace, folder: Path) -> Mapping[str, object]:
    """What builds cost on all cores, once from nothing, then after edits: by the number of designs,
    or for one number of designs and photos.
    """
    found: dict[str, object] = {}
    floor_at = PROJECT / "tests" / "bench" / "floor.py"
    for designs in CURVE if asked.curve else (asked.designs,):
        photos = 0 if asked.curve else asked.photos
        notebook = Notebook(
            folder / f"{designs}", designs, photos, link=asked.link, seed=asked.seed
        )
        floor = run([floor_at, notebook.content, folder / f"floor-{designs}"], {})
        whole = notebook.from_nothing()
        time.sleep(REST_S)
        notebook.build()
        name = f"{designs} designs: "
        found[f"{name}from nothing, ms a design"] = 1000 * whole.cpu_s / designs
        found[f"{name}from nothing, s by the clock"] = whole.wall_s
        found[f"{name}from nothing / floor"] = whole.cpu_s / floor.cpu_s
        found[f"{name}peak memory, MiB"] = whole.peak_mib
        found[f"{name}nothing changed / bare Python"] = notebook.build().cpu_s / bare_s()
        changed, times = notebook.after(a_write_up, asked.rounds)
        found[f"{name}one write-up changed, s"] = changed.cpu_s
        found[f"{name}one write-up changed / bare Python"] = times
        found[f"{name}its peak memory, MiB"] = changed.peak_mib
        for leftover in (designs, f"floor-{designs}"):
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
    asked.add_argument("--json", type=Path, help="write the figures here too")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        measure = curve if given.curve or given.once else measured
        found = measure(given, Path(folder))
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
