"""A copy of the demo notebook with every kind of mistake put in, all found in one run."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import NamedTuple

import demo
import pytest
from demo_book import demo_notebook

from journal.records.notebook import read_notebook

HONEY = f"designs/{demo.HONEYCOMB}/design.md"
BARLEY = f"designs/{demo.BARLEY}/design.md"
FAN = f"designs/{demo.FAN}/design.md"
LOAF = f"designs/{demo.OAT_LOAF}/design.md"
PEBBLES = f"designs/{demo.PEBBLES}/design.md"


class Mistake(NamedTuple):
    """What is put in place of what, and the words that it must be told with, at the ‹ in it.

    ``first`` is a text whose line is told besides, as {line}.
    """

    path: str
    old: str
    new: str
    told: str
    first: str = ""


MISTAKES = {
    "a typed key": Mistake(
        HONEY, "\nmould:", "\n‹moulds:", 'unknown key "moulds". Did you mean "mould"?'
    ),
    "a wrong unit": Mistake(
        HONEY, "amount: 3.3 oz", "amount: ‹3.3 F",
        '"3.3 F" is a temperature; a mass is wanted here. Write a mass, such as "85 g".',
    ),
    "a missing shelf id": Mistake(
        HONEY, "base: oatmeal", "base: ‹oatmeel",
        'no base "oatmeel" is on the shelf. Did you mean "oatmeal"?',
    ),
    "a missing shelf id, in a list": Mistake(
        HONEY, "{colourant: barley-ochre, by", "{colourant: ‹barley-ocre, by",
        'no colourant "barley-ocre" is on the shelf. Did you mean "barley-ochre"?',
    ),
    "a window upside down": Mistake(
        HONEY, "pour: 122-132 F", "pour: ‹132-122 F",
        'the range "132-122 F" is upside down. Write the smaller figure first.',
    ),
    "a decimal comma in braces": Mistake(
        HONEY, "lip: 1.1 mm, bleed: 0 mm, lifted: no, relief: 4, tidy: 5.5 min",
        "lip: ‹1,1 mm, bleed: 0 mm, lifted: no, relief: 4, tidy: 5.5 min",
        '"1,1 mm" has a decimal comma',
    ),
    "a bar twice": Mistake(
        HONEY, "{bar: A5, variant: close, lip: 1.6 mm", "{bar: ‹A2, variant: close, lip: 1.6 mm",
        'two bars are called "A2", first on line {line}. Rename one.', "{bar: A2,",
    ),
    "a rating out of range": Mistake(
        HONEY, "relief: 3, keep: yes, weight: 97.9 g", "relief: ‹6, keep: yes, weight: 97.9 g",
        'relief "6" lies outside 1 to 5.',
    ),
    "a reading going back in time": Mistake(
        HONEY, "[0:26, 130 F]", "[‹0:10, 130 F]",
        '"0:10" goes back in time in the pot "oat". Put readings in order.',
    ),
    "an unknown measure": Mistake(
        HONEY, "{day: 60, bar: A3, weight: 95.5 g}", "{day: 60, bar: A3, ‹wait: 95.5 g}",
        'unknown measure "wait". Did you mean "weight"?',
    ),
    "a rise that nothing explains": Mistake(
        HONEY, "137 F, reheated]", "‹137 F]",
        'warning: the pot "oat" rises to "137 F", and no mark says that it was reheated.',
    ),
    "a missing key": Mistake(
        BARLEY, "title: Barley ears\ndate: 2024-05-11\n", "‹title: Barley ears\n",
        'the design has no "date". Add "date: …"',
    ),
    "a date that is none": Mistake(
        BARLEY, "date: 2024-05-25", "date: ‹2024-05-32",
        '"2024-05-32" is no day of the calendar.',
    ),
    "keys where a list belongs": Mistake(
        BARLEY, "subjects: [field, harvest]", "subjects: ‹{field: harvest}",
        "keys stand where a list belongs.",
    ),
    "a key twice": Mistake(
        BARLEY, "    spritz: before\n", "    spritz: before\n    ‹pour: 120-130 F\n",
        'the key "pour" stands here twice, first on line {line}. Keep one of the two.',
        "pour: 122-132 F",
    ),
    "an unknown symptom": Mistake(
        BARLEY, "- what: floated\n    bar: A3", "- what: ‹flotated\n    bar: A3",
        '"flotated" is no known symptom. Did you mean "floated"?',
    ),
    "a variant that names no layer": Mistake(
        FAN, "cool: {layers: {detail:", "cool: {layers: {‹detal:",
        'no layer is called "detal". Did you mean "detail"?',
    ),
    "a decimal comma": Mistake(
        FAN, "amount: 3.2 oz", "amount: ‹3,2 oz",
        '"3,2 oz" has a decimal comma, which can be taken for a thousands separator.',
    ),
    "a mark to be used again": Mistake(
        FAN, "amount: 6 g", "amount: ‹&six 6 g", '"&six" marks a value to be used again.'
    ),
    "a type mark": Mistake(
        FAN, "overpour: 11 g", "overpour: ‹!!str 11 g", "is a type mark of YAML. Leave it away."
    ),
    "shares that do not sum": Mistake(
        LOAF, "base: white-shea", "base: ‹{white-shea: 60 %, oatmeal: 30 %}",
        "the shares of base sum to 90 %. Make them sum to 100 %.",
    ),
    "a wrong cell of a text table": Mistake(
        LOAF, "0:27   149 F", "0:27   ‹149 g",
        '"149 g" is a mass; a temperature is wanted here.',
    ),
    "a dose in a list of fragrances": Mistake(
        PEBBLES, "dose: 1 mL/lb", "dose: ‹1 mm/lb", '"1 mm/lb"'
    ),
    "a dead link in the prose": Mistake(
        PEBBLES, "[Aloe clear](../../shelf/bases.yaml#aloe-clear",
        "‹[Aloe clear](../../shelf/bases.yaml#aloe",
        'the link leads to "bases/aloe" of the shelf, and there is none.'
        ' Did you mean "bases/aloe-clear"?',
    ),
    "a photo that is missing": Mistake(
        f"designs/{demo.KELP_ON_GREY}/design.md",
        "file: photos/above.jpg", "file: ‹photos/abve.jpg",
        'there is no photo "photos/abve.jpg". Put it there, or mend its name.',
    ),
    "a path that leaves the notebook": Mistake(
        f"designs/{demo.MOTH}/design.md", "bars: readings/2026-08-08-bars.csv",
        "bars: ‹../../../2026-08-08-bars.csv",
        '"../../../2026-08-08-bars.csv" leads out of the notebook.',
    ),
    "a wrong cell of a CSV file": Mistake(
        f"designs/{demo.MOTH}/readings/2026-07-18-bars.csv", "C4,close,dye,1.1 mm",
        "C4,close,dye,‹1.1 F", '"1.1 F" is a temperature; a length is wanted here.',
    ),
    "an unclosed quote": Mistake(
        "comparisons/clear-or-milky.md", "title: A clear", 'title: ‹"A clear',
        "a quote is opened and never closed. Close the quote.",
    ),
    "a NUL byte": Mistake(
        "comparisons/dye-or-pigment.md", "warm for us", "warm‹\0 for us",
        "a control character (U+0000) stands in the text. Delete it.",
    ),
    "a tab": Mistake(
        "orders/inn-bedrooms.yaml", "  - {design: oat", "‹\t- {design: oat",
        "a tab stands where only spaces may. Put spaces in its place.",
    ),
    "an alias bomb": Mistake(
        "shelf/packaging.yaml", "gift-box:",
        "a: &a [x, x]\nb: &b [‹*a, *a]\nc: &c [*b, *b]\nd: [*c, *c]\ngift-box:",
        '"*a" points to another place of the file. Write the value out.',
    ),
    "a setting that is unknown": Mistake(
        "journal.yaml", "paper: letter", "paper: ‹lettre",
        '"lettre" is not known here. Did you mean "letter"?',
    ),
    "a share without its sign": Mistake(
        "shelf/fragrances.yaml", "Citral: 0.4 %", "Citral: ‹0.4", '"0.4" has no unit.'
    ),
}  # fmt: skip
UTF_16 = "orders/lantern-fair.yaml"


class Told(NamedTuple):
    """What one run says of the demo with all mistakes in it, and where they stand."""

    lines: list[str]
    at: dict[str, str]
    first: dict[str, int]


@pytest.fixture(scope="module")
def told(demo_content: Path, tmp_path_factory: pytest.TempPathFactory) -> Told:
    content = tmp_path_factory.mktemp("mistakes") / "content"
    shutil.copytree(demo_content, content)
    texts = {m.path: (content / m.path).read_text(encoding="utf-8") for m in MISTAKES.values()}
    for mistake in MISTAKES.values():
        text = texts[mistake.path]
        assert text.count(mistake.old) == 1, f"{mistake.old!r} stands once in {mistake.path}"
        texts[mistake.path] = text.replace(mistake.old, mistake.new)
    at, first = {}, {}
    for name, mistake in MISTAKES.items():
        text = texts[mistake.path]
        before = text[: text.index(mistake.new) + mistake.new.index("‹")].replace("‹", "")
        line = before.count("\n") + 1
        at[name] = f"{mistake.path}:{line}:{len(before) - before.rfind(chr(10))}: "
        first[name] = text[: text.index(mistake.first)].count("\n") + 1
    for path, text in texts.items():
        (content / path).write_text(text.replace("‹", ""), encoding="utf-8")
    file = content / UTF_16
    file.write_bytes(file.read_text(encoding="utf-8").encode("utf-16"))
    return Told([str(problem) for problem in read_notebook(content).problems], at, first)


@pytest.mark.parametrize("name", sorted(MISTAKES))
def test_each_mistake_is_told_at_its_own_place(name: str, told: Told) -> None:
    words = MISTAKES[name].told.replace("{line}", str(told.first[name]))
    here = [line for line in told.lines if line.startswith(told.at[name])]
    assert any(words in line for line in here), "\n".join(
        [f"{told.at[name]}… {words}", *told.lines]
    )


def test_a_file_in_utf_16_is_told_as_such(told: Told) -> None:
    assert f"{UTF_16}:1:1: the file is in UTF-16. Save it as UTF-8." in told.lines


def test_nothing_else_is_told(told: Told) -> None:
    """A mistake does not call up others that are none."""
    # The marks and aliases of the bomb stand beside its first alias.
    known = (*told.at.values(), "shelf/packaging.yaml:", f"{UTF_16}:1:1:")
    others = [line for line in told.lines if not line.startswith(known)]
    assert others == []


def test_the_demo_itself_has_no_mistake() -> None:
    assert demo_notebook().problems == ()
