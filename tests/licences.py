"""The licences of all that the program installs, as its metadata gives them.

    .venv/bin/python tests/licences.py

writes ``licences.md`` anew: read the diff. Optional extras of what is needed are not followed.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[1]
LIST = PROJECT / "tests" / "licences.md"
PROGRAM = "soap-design-journal"
#: What a maker may install; the other extras are tools of those who work on the program.
EXTRAS = ("", "pdf", "heic")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_EXTRA = re.compile(r"""extra\s*==\s*['"]([^'"]+)['"]""")
HEAD = """\
# Licences

What `pip install` brings beside this program, which is under the MIT licence (`LICENSE`), as the
metadata of each package says; `tests/licences.py` writes this list. "with" is the extra that needs
it. The wheels of numpy, scipy, pillow and pillow-heif bring compiled libraries under licences of
their own, which lie beside their metadata; those of pillow-heif are under the LGPL 3 and, x265, the
GPL 2 (its `LICENSES_bundled.txt`, 1.8.1).

| package | with | licence |
| --- | --- | --- |
"""


def plain_name(name: str) -> str:
    """A name as indexes compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def needed_by(package: Distribution, extra: str) -> Iterator[str]:
    """The names of what a package needs, with one of its extras or "" for none."""
    for line in package.requires or ():
        found, asked = _NAME.match(line), _EXTRA.search(line)
        if found is not None and (asked[1] if asked is not None else "") == extra:
            yield plain_name(found[0])


def installed_with(extra: str) -> dict[str, Distribution]:
    """All that an extra of the program installs, by name; what is not here is not for here."""
    todo, found = list(needed_by(distribution(PROGRAM), extra)), dict[str, Distribution]()
    while todo:
        name = todo.pop()
        if name in found:
            continue
        try:
            found[name] = distribution(name)
        except PackageNotFoundError:  # of another system, or of another Python
            continue
        todo += needed_by(found[name], "")
    return found


def licence_of(package: Distribution) -> str:
    """The licence that a package's metadata gives: an expression, else classifiers, else a line."""
    said = package.metadata.get_all("License-Expression") or ()
    classified = [
        line.rpartition(" :: ")[2]
        for line in package.metadata.get_all("Classifier") or ()
        if line.startswith("License ::")
    ]
    lines = package.metadata.get_all("License") or ("not said",)
    return ", ".join(said or classified) or lines[0].partition("\n")[0]


def rows() -> dict[str, tuple[str, str]]:
    """The extra and the licence of every package, by its name."""
    found: dict[str, tuple[str, str]] = {}
    for extra in EXTRAS:
        for name, package in installed_with(extra).items():
            found.setdefault(name, (extra, licence_of(package)))
    return dict(sorted(found.items()))


if __name__ == "__main__":
    lines = (f"| {name} | {extra} | {said} |\n" for name, (extra, said) in rows().items())
    LIST.write_text(HEAD + "".join(lines), encoding="utf-8")
    sys.stdout.write(f"wrote {LIST.name}\n")
