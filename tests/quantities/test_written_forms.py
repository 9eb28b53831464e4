"""What an editor takes for a quantity is what its reader takes."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from journal.errors import QuantityError
from journal.quantities import read
from journal.quantities.units import DENSITIES, UNITS
from journal.quantities.written_forms import FORMS, WrittenForm, some_of

NUMBERS = ("4", "2.5", ".5", "2 1/2", "2½", "½", "1⁄4", "0", "1,5", "1e3", "-3", "four")
SPELLINGS = tuple(word for unit in UNITS for word in (unit.symbol, *unit.spellings))
WRITTEN = (
    "", " ", "g", "4  g", " 4\u00a0oz ", "4 lb 5.2 oz", "4lb5.2oz", "4 oz 3 lb", "1 h 20 min",
    "1 d 2 h 5 min 3 s", "20 min 1 h", "2 tbsp 1 tsp", "3 mL 2 tsp", "1 1/2 lb 3 oz", "4 lb 20 oz",
    "165-176 F", "165–176 °F", "165 to 176 F", "165 F - 80 C", "-5--3 C", "176-165 F", "60-70",
    "3.6-3.8 oz", "3.8 oz-", "80 x 55 mm", "8 cm × 55 mm", "80 x 55", "0 x 4 mm", "5 mL/lb",
    "1/4 tsp/lb", "8 g/100 g", "2 drops/bar", "3 %/lb", "2.5 mL/pot", "5 mL/tsp", "5/lb", "120 %",
    "100 %", "100.0 %", "100.5 %", "1,5 %", "40 each", "2.5 each", "4.10/lb", "6.20/100 mL",
    "0.85/each", "$4/lb", "4/drop", "4,10", "0.08 mm/px", "0 mm/px", "0.8 px", "0:08", "14:05",
    "2:05 pm", "12:00 A.M.", "1:75", "14.05", "13:00 pm", "2026-04-18", "2026-4-18", "18.4.2026",
    "2026-04", "2026-13", "1026-04", "2026-4",
    "2026-02-30", "2026-04-31", "2026-13-01", "1026-01-01", "2024-02-29", "yes", "no", "Yes",
    "1.03 g/mL", "1020-1050 kg/m3", "1 kg/m³", "1.03", "0 g/mL", "0.3 W/(m·K)", "0.25-0.30 W/mK",
    "2800 J/kgK", "45 kJ/kg", "-300 C", "5/0 g", "2 5/4 g", f"{'9' * 20} g", "+4 g", "4 g.",
)  # fmt: skip
#: What no pattern tells: the reader says it of a text whose form is clear.
LEFT_TO_THE_READER = re.compile(
    "upside down|absolute zero|is a whole|has a fraction before|divides by 0|is not less than 1"
    "|more digits|is a scale of 0|a side of 0|nothing at all|no twelve-hour clock"
)


def texts() -> Iterator[str]:
    yield from WRITTEN
    yield from (f"{number} oz" for number in NUMBERS)
    yield from (f"{number} %" for number in NUMBERS)
    yield from NUMBERS
    yield from (f"2{between}{unit}" for between in ("", " ") for unit in (*SPELLINGS, *DENSITIES))


@pytest.mark.parametrize("reader", FORMS, ids=[name for name in vars(read) if "read_" in name])
def test_an_editor_takes_what_the_reader_takes(reader: object) -> None:
    assert callable(reader)
    form = re.compile(FORMS[reader].expression)
    taken = 0
    for text in texts():
        fits = form.search(text) is not None
        try:
            reader(text)
        except QuantityError as error:
            assert not fits or LEFT_TO_THE_READER.search(error.what), (text, error.what)
        else:
            taken += 1
            assert fits, text
    assert taken


def test_every_reader_has_a_form() -> None:
    readers = {reader for name, reader in vars(read).items() if name.startswith("read_")}
    assert readers == set(FORMS)


@pytest.mark.parametrize("form", FORMS.values())
def test_an_expression_is_one_of_every_editor(form: WrittenForm) -> None:
    """No escape and no group that ECMA-262 with the flag "u" refuses."""
    expression = form.expression
    assert set(re.findall(r"\\(.)", expression)) <= set("s^$\\.*+?()[]{}|")
    assert set(re.findall(r"\(\?(.)", expression)) <= set(":=!")


def test_nothing_at_all_is_no_amount() -> None:
    some = re.compile(some_of(FORMS[read.read_mass]).expression)
    assert some.search("0.5 g")
    assert some.search("½ oz")
    assert not some.search("0.0 g")
