"""The list of licences names all that is installed, and nothing that would bind who uses it."""

from __future__ import annotations

import licences

#: Licences that leave whoever calls the package free, one of which each has.
FREE = ("MIT", "BSD", "Apache", "PSF", "Python Software Foundation", "HPND", "MPL", "ISC", "Zlib")


def listed() -> dict[str, tuple[str, str]]:
    table = [line.strip("| ").split(" | ") for line in licences.LIST.read_text("utf-8").split("\n")]
    return {row[0]: (row[1].strip(), row[-1]) for row in table if len(row) > 1}


def test_every_package_stands_in_the_list() -> None:
    """With its extra; what it says of its licence may change its words from version to version."""
    installed = {name: extra for name, (extra, _) in licences.rows().items()}
    assert len(installed) > 15
    assert installed.items() <= {name: extra for name, (extra, _) in listed().items()}.items()


def test_every_licence_is_a_free_one() -> None:
    odd = {name: said for name, (_, said) in licences.rows().items()
           if not any(word in said for word in FREE)}  # fmt: skip
    assert not odd
