"""Names of columns as they are written at the bench: with a unit, with a capital."""

from __future__ import annotations

import re
from collections.abc import Collection

from journal.errors import Problem
from journal.quantities.number import MINUS, NUMBER, excerpt, normalised
from journal.quantities.units import UNIT_BY_SPELLING
from journal.records.yaml.tree import WrittenList, WrittenTable, WrittenText

_UNITS = "|".join(map(re.escape, sorted(UNIT_BY_SPELLING, key=len, reverse=True)))
# "lip mm", "lip_mm", "Lip, mm", "lip (mm)".
_NAME_AND_UNIT = re.compile(
    rf"(?P<name>.+?)(?:[ _]+|\s*,\s*|\s*(?P<open>[(\[])\s*)(?P<unit>{_UNITS})(?(open)\s*[)\]])"
)
_PLAIN = re.compile(rf"[{MINUS}]?{NUMBER}")


def column_and_unit(written: str, names: Collection[str]) -> tuple[str, str]:
    """The one of ``names`` that a column's written name means, and its unit; "" for none.

    A name that means none of them is given back as it is written.
    """
    if written in names:
        return written, ""
    match = _NAME_AND_UNIT.fullmatch(normalised(written))
    name, unit = (match["name"], match["unit"]) if match else (normalised(written), "")
    if name not in names:
        alike = [known for known in names if known.casefold() == name.casefold()]
        if len(alike) != 1:
            return written, ""
        (name,) = alike
    return name, unit


def named_and_measured(
    rows: WrittenList, names: Collection[str], problems: list[Problem]
) -> WrittenList:
    """Rows by the ``names`` that their columns mean; plain numbers get the unit of their column.

    Where two columns mean one name, the problem is added and there are no rows.
    """
    found = WrittenList(rows.at)
    for row in rows:
        means = {key: column_and_unit(key, names) for key in row}
        if all(name == key for key, (name, _) in means.items()):
            found.append(row)
            continue
        table = WrittenTable(row.at)
        for key, (name, unit) in means.items():
            if name in table:
                what = f"two columns are called {excerpt(name)}"
                problems.append(Problem(row.key_at(key), what, "Rename one."))
                return WrittenList(rows.at)
            cell = row[key]
            if unit and _PLAIN.fullmatch(normalised(cell)):
                cell = WrittenText(f"{cell} {unit}", cell.at)
            table.put(name, cell, row.key_at(key))
        found.append(table)
    return found
