"""A notebook with private values of every kind, and what makes all of them others.

Names, prices and notes are invented.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import yaml
from differing_notebook import FILES, lay_out

#: A supplier for each thing of the shelf, so that each way to give one away has its own.
SUPPLIERS: Mapping[str, str] = {
    "shelf/bases.yaml milk": "Pellam Base Works",
    "shelf/bases.yaml clear": "Yarrow & Lode",
    "shelf/bases.yaml honey": "Corrie Larch Oils",
    "shelf/fragrances.yaml thyme": "Ostrey Scent",
    "shelf/fragrances.yaml resin": "Linnet Vale",
    "shelf/colourants.yaml brick": "Quoin Pigment Co.",
    "shelf/moulds.yaml tray": "Tarn Hollow Moulds",
    "shelf/moulds.yaml box": "Gadfly Print",
    "shelf/mats.yaml fern": "Fernie Sheet",
    "shelf/mats.yaml dots": "Marram Mats",
    "shelf/packaging.yaml sleeve": "Bracken Card",
}
#: A note in a file, by the thing of the shelf that has it.
NOTES: Mapping[str, tuple[str, str]] = {
    "shelf/bases.yaml": ("milk", "Smells of the drum that it came in."),
    "shelf/pieces.yaml": ("fern-b", "Cut on somebody else's bench."),
    "comparisons/blade.md": ("", "Asked for a bet that was lost."),
}
#: A keeper on a piece, and a trial that is called as that piece is.
RIDGE = """\
---
title: Ridge
date: 2026-05-04
state: keeper
mat: fern
mould: tray
trim: close
piece: fern-b
bars: 3
private: Dearer than she thinks it is, by a long way.
layers:
  - {name: bar, base: clear, amount: 35 g}
pours:
  - date: 2026-05-04
    private: The clear came late again.
    batch: R26A
    lots: {clear: C-11}
    complaints: [{date: 2026-06-30, bar: A1, what: "It left a weal upon somebody's elbow."}]
    bars: [{bar: A1, keep: yes}]
---
A ridge.
"""
OTHER = RIDGE.replace("R26A", "R26B").replace("A ridge.", "Not shown to anybody.")
NAMESAKE = OTHER.replace("keeper", "trial").replace("Ridge", "Fern close")


def lay_out_private(root: Path) -> Path:
    """The notebook in which everything differs, with private values of every kind."""
    lay_out(root)
    _edit_yaml(root, _with_suppliers_and_notes)
    for name, text in (("ridge", RIDGE), ("fern-b", NAMESAKE)):
        (root / f"designs/{name}").mkdir()
        (root / f"designs/{name}/design.md").write_text(text, "utf-8")
    order = FILES["orders/thirteen.yaml"] + "private: Pays on the day, in coins.\n"
    (root / "orders/thirteen.yaml").write_text(order, "utf-8")
    return root


def _with_suppliers_and_notes(path: str, tree: Any) -> None:
    if path in NOTES:
        holder = tree[NOTES[path][0]] if NOTES[path][0] else tree
        holder["private"] = NOTES[path][1]
    for place, supplier in SUPPLIERS.items():
        file, _, thing = place.partition(" ")
        if file == path:
            tree[thing]["supplier"] = supplier


#: Private keys, and what another studio would have under each.
OTHERS: Mapping[str, Callable[[str, int], str]] = {
    "supplier": lambda _, number: f"Another Merchant {number}",
    "customer": lambda _, number: f"Somebody Else, Number {number}",
    "private": lambda _, number: f"Of this nobody may hear, nor of the other {number} things.",
    "price": lambda price, number: f"{7 + number}.{number:02}{''.join(price.partition('/')[1:])}",
    "labour": lambda _, number: "31.00",
    "fixed_costs": lambda _, number: "77.00",
    "margin": lambda _, number: "37 %",
    "wholesale": lambda _, number: "53 %",
}  # fmt: skip


def change_every_private_value(root: Path) -> int:
    """Put another value under every private key of a notebook; gives how many there were."""
    numbers = itertools.count(1)

    def change(tree: Any) -> None:
        if isinstance(tree, dict):
            for key, value in tree.items():
                if key == "complaints":
                    for one in value:
                        one["what"] = f"Nobody said a word of it but {next(numbers)} times."
                elif key in OTHERS:
                    tree[key] = OTHERS[key](str(value), next(numbers))
                else:
                    change(value)
        elif isinstance(tree, list):
            for value in tree:
                change(value)

    _edit_yaml(root, lambda _, tree: change(tree))
    return next(numbers) - 1


def change_every_trial(root: Path) -> int:
    """Change what trials say, and give them other titles and ids; gives how many there were."""
    changed, ids = 0, dict[str, str]()
    for path in sorted(root.glob("designs/*/design.md")):
        text = path.read_text("utf-8")
        if "\nstate: keeper\n" in text:
            continue
        changed += 1
        ids[path.parent.name] = f"unlike-{changed}"
        front, body = text.split("\n---\n", 1)
        lines = (f"title: Unlike {changed}" if line.startswith("title: ") else
                 f"summary: Unlike {changed}." if line.startswith("summary: ") else line
                 for line in front.split("\n"))  # fmt: skip
        path.write_text("\n".join(lines) + f"\n---\nUnlike {changed}. {body}", "utf-8")
        path.parent.rename(path.parent.with_name(f"unlike-{changed}"))
    names = "|".join(map(re.escape, sorted(ids, key=len, reverse=True)))
    named = re.compile(rf"((?:\bfrom: |grew_from: |design: |\.\./))({names})(?![\w-])")
    for path in (*root.rglob("*.yaml"), *root.rglob("*.md")):
        text = path.read_text("utf-8")
        path.write_text(named.sub(lambda one: one[1] + ids[one[2]], text), "utf-8")
    return changed


def _edit_yaml(root: Path, edit: Callable[[str, Any], None]) -> None:
    """Read every file of the notebook, change it, and write it again."""
    for path in sorted((*root.rglob("*.yaml"), *root.rglob("*.md"))):
        text = path.read_text("utf-8")
        head, mark, body = "", "", ""
        if path.suffix == ".md":
            if not text.startswith("---\n"):
                continue
            head, mark, body = "---\n", "---\n", text[4:].split("\n---\n", 1)[1]
            text = text[4:].split("\n---\n", 1)[0]
        tree = yaml.load(text, yaml.BaseLoader)
        edit(path.relative_to(root).as_posix(), tree)
        written = yaml.dump(tree, Dumper=_Dumper, allow_unicode=True, sort_keys=False, width=1000)
        path.write_text(f"{head}{written}{mark}{body}", "utf-8")


class _Dumper(yaml.SafeDumper):
    """Tables in a text keep their lines."""


def _written(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    style = "|" if "\n" in text else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _written)
