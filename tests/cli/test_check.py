"""``journal check``: what it says, its exit status, and what becomes of a slip in the call."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from case_notebooks import CASES, cases, laid_out
from worked_notebook import lay_out

from journal.cli import main

KEYS = ["kind", "path", "line", "column", "what", "mend"]


@pytest.fixture
def content(tmp_path: Path) -> Path:
    """A sound notebook."""
    laid_out(None, tmp_path / "content")
    return tmp_path / "content"


def spoil(content: Path) -> None:
    """Put an error into the one write-up."""
    file = content / "designs" / "first-try" / "design.md"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("amount: 4 g", "amount: 4 F"), encoding="utf-8")


def rise(content: Path) -> None:
    """Put a warning into the one write-up, beside those that figures give."""
    file = content / "designs" / "first-try" / "design.md"
    text = file.read_text(encoding="utf-8")
    pours = "pours:\n  - {date: 2026-04-18, readings: {body: [[0:00, 150 F], [0:09, 160 F]]}}\n"
    file.write_text(text.replace("photos:", pours + "photos:"), encoding="utf-8")


MESSAGE = (
    'designs/first-try/design.md:10:41: "4 F" is a temperature; a mass is wanted here.'
    ' Write a mass, such as "85 g".'
)


def test_a_lot_past_its_date_goes_by_the_day_that_is_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    jar = "  on_hand: 10 mL"
    oil = ("shelf/fragrances.yaml", jar, f"{jar}\n  best_before: 2026-03-31")
    content = str(lay_out(tmp_path / "content", oil))
    said = {}
    for day in ("2026-03-31", "2026-04-01"):
        assert main(["check", "--on", day, "--content", content]) == 0
        told = capsys.readouterr()
        said[day] = told.out + told.err
    assert "past its date" not in said["2026-03-31"]
    assert "shelf/fragrances.yaml:9:16" in said["2026-04-01"]
    assert "Herb is past its date" in said["2026-04-01"]
    assert main(["check", "--on", "soon", "--content", content]) == 2


def test_a_sound_notebook_is_0(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--content", str(content)]) == 0
    said = capsys.readouterr()
    assert said.out.startswith("1 design read: 0 errors, ")
    assert "error" not in said.err


def test_an_error_is_1_and_told_with_its_place(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil(content)
    assert main(["check", "--content", str(content)]) == 1
    said = capsys.readouterr()
    assert MESSAGE in said.err.splitlines()
    assert said.out.startswith("1 design read: 1 error, ")


def test_warnings_alone_are_0(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rise(content)
    assert main(["check", "--content", str(content)]) == 0
    said = capsys.readouterr()
    line = (
        'designs/first-try/design.md:13:64: warning: the pot "body" rises to "160 F", and no mark'
    )
    assert any(found.startswith(line) for found in said.err.splitlines())


def test_json_of_a_sound_notebook(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--content", str(content), "--json"]) == 0
    said = capsys.readouterr()
    assert all(problem["kind"] == "warning" for problem in json.loads(said.out))
    assert said.err == ""


def test_json_of_mistakes(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spoil(content)
    assert main(["check", "--json", "--content", str(content)]) == 1
    said = capsys.readouterr()
    found = json.loads(said.out)
    assert all(list(problem) == KEYS for problem in found)
    assert {
        "kind": "error",
        "path": "designs/first-try/design.md",
        "line": 10,
        "column": 41,
        "what": '"4 F" is a temperature; a mass is wanted here',
        "mend": 'Write a mass, such as "85 g".',
    } in found
    assert said.err == ""


@pytest.mark.parametrize("form", [[], ["--json"]])
def test_mistakes_come_in_the_order_of_files_and_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], form: list[str]
) -> None:
    laid_out(CASES / "invalid" / "shelf", tmp_path / "content")
    assert main(["check", "--content", str(tmp_path / "content"), *form]) == 1
    said = capsys.readouterr()
    if form:
        places = [(p["path"], p["line"], p["column"]) for p in json.loads(said.out)]
    else:
        heads = [line.split(": ")[0].split(":") for line in said.err.splitlines() if ":" in line]
        places = [(path, int(line), int(column)) for path, line, column in heads]
    assert len(places) > 30
    assert places == sorted(places)


@pytest.mark.parametrize("case", cases("invalid"), ids=lambda case: case.stem)
def test_every_known_mistake_is_told_and_none_is_a_crash(
    case: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    notebook = laid_out(case, tmp_path / "content")
    assert main(["check", "--content", str(tmp_path / "content")]) == (1 if notebook.errors else 0)
    said = capsys.readouterr().err.splitlines()
    assert set(map(str, notebook.problems)) <= set(said)


def test_there_is_no_notebook(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--content", str(tmp_path / "none")]) == 1
    said = capsys.readouterr()
    assert "there is no notebook here. Begin one with: journal begin " in said.err


def test_a_notebook_with_settings_alone_is_sound(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.rmtree(content / "designs")
    shutil.rmtree(content / "shelf")
    assert main(["check", "--content", str(content)]) == 0
    assert capsys.readouterr().out == "0 designs read: 0 errors, 0 warnings.\n"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["chek"], 'journal: there is no command "chek". Did you mean: journal check'),
        (["Check"], 'journal: there is no command "Check". Did you mean: journal check'),
        (
            ["cards", "fern", "--langauge", "es"],
            'journal: journal cards has no option "--langauge". Did you mean: --language',
        ),
        (
            ["cards", "fern", "--xyz"],
            'journal: journal cards has no option "--xyz". See: journal cards --help',
        ),
        (["order", "fair", "inn"], 'journal: "inn" is one too many. See: journal order --help'),
        (["--wrong"], 'journal: journal has no option "--wrong". See: journal --help'),
        (["frobnicate"], 'journal: there is no command "frobnicate". See: journal --help'),
        ([], "journal: no command was given. See: journal --help"),
        (["check", "--jsn"], "--jsn"),
        (["check", "--content"], "--content"),
        (["check", "kelp"], "kelp"),
        (["--chek"], "--chek"),
    ],
)
def test_a_slip_in_the_call_is_2_with_advice(
    arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    said = capsys.readouterr()
    assert told in said.err
    assert said.err.startswith("journal: ")
    assert len(said.err.splitlines()) == 1
    assert said.out == ""


@pytest.mark.parametrize(
    ("leftover", "said"),
    [
        ("base: plane", 'shelf/leftovers.yaml:1:26: no base "plane" is on the shelf.'),
        (
            "base: plain, scented: {oil: hreb, concentration: 1 %}",
            'shelf/leftovers.yaml:1:48: no fragrance "hreb" is on the shelf.',
        ),
        (
            "base: plain, tinted: brik",
            'shelf/leftovers.yaml:1:41: no colourant "brik" is on the shelf.',
        ),
    ],
)
@pytest.mark.parametrize("command", ["check", "build", "figures", "order", "cards"])
def test_a_layer_of_a_leftover_that_names_what_is_not_there(
    tmp_path: Path, command: str, leftover: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever looks at the design tells it, and makes nothing."""
    design = "designs/leaf/design.md"
    content = lay_out(
        tmp_path / "content",
        (design, "base: plain\n    amount: 80 g", "base: {leftover: ends}\n    amount: 80 g"),
        more={"shelf/leftovers.yaml": f"ends: {{name: Ends, {leftover}}}\n"},
    )
    own = {"order": ["dozen"], "cards": ["leaf", "--out", str(tmp_path / "out")]}
    own["build"] = ["--out", str(tmp_path / "out")]
    assert main([command, *own.get(command, []), "--content", str(content)]) == 1
    told = capsys.readouterr()
    assert said in told.out + told.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("did", "name", "said"),
    [
        ("{mould: fuor}", "fuor", 'no mould "fuor" is on the shelf. Did you mean "four"?'),
        ("{packaging: [sleve]}", "sleve", 'no packaging "sleve" is on the shelf.'),
        (
            "{layers: {body: {fragrance: {oil: hreb, dose: 1 %}}}}", "hreb",
            'no fragrance "hreb" is on the shelf.',
        ),
        (
            "{layers: {body: {colours: [{colourant: brik, by: eye}]}}}", "brik",
            'no colourant "brik" is on the shelf.',
        ),
    ],
)  # fmt: skip
def test_a_day_on_which_something_was_used_that_is_not_there(
    tmp_path: Path, did: str, name: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Told once, however many variants the design has."""
    design = "designs/leaf/design.md"
    pour = f"pours:\n  - {{pour: D, date: 2026-03-05, did: {did}}}\n"
    content = lay_out(
        tmp_path / "content",
        (design, "pours:\n", f"variants: {{one: {{trim: close}}, two: }}\n{pour}"),
        *((design, f"bar: A{n},", f"bar: A{n}, variant: one,") for n in (1, 2, 3, 4)),
    )  # fmt: skip
    lines = (content / design).read_text("utf-8").split("\n")
    at = next(n for n, line in enumerate(lines) if name in line)
    assert main(["check", "--content", str(content)]) == 1
    told = capsys.readouterr()
    place = f"{design}:{at + 1}:{lines[at].index(name) + 1}: "
    assert (told.out + told.err).count(place + said) == 1, told


def test_a_theme_of_its_own_is_looked_through(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (content / "theme").mkdir()
    there = tmp_path / "there"
    line = f'{{{{ cycler.__init__.__globals__.os.system("touch {there}") and "" }}}}'
    (content / "theme" / "page.html").write_text(f"one\n{line}", encoding="utf-8")
    assert main(["check", "--content", str(content)]) == 1
    said = capsys.readouterr()
    assert (
        "theme/page.html:2:1: the template reaches for something that a theme may not" in said.err
    )
    out = tmp_path / "out"
    assert main(["build", "--content", str(content), "--out", str(out)]) == 1
    assert "theme/page.html:2:1: the template " in capsys.readouterr().err
    assert not out.exists()
    assert not there.exists()


# A check without a mistake means that a build succeeds.


def both(content: Path, out: Path, *edition: str) -> tuple[int, int]:
    """The exit status of a check, and of a build after it."""
    checked = main(["check", "--content", str(content), *edition])
    return checked, main(["build", "--content", str(content), "--out", str(out), *edition])


def test_what_only_the_setting_of_a_page_shows_is_told(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A template of the notebook's own is sound by itself, and fails on the page that it sets."""
    (content / "theme").mkdir()
    (content / "theme" / "safety.html").write_text("one\n{{ page.titel }}", "utf-8")
    assert main(["check", "--content", str(content)]) == 1
    told = capsys.readouterr().err
    assert "theme/safety.html:2:1: " in told
    assert both(content, tmp_path / "out") == (1, 1)


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("comparisons/index.md", "---\ntitle: Q\nby: [lip]\nbetween: trim\n---\n"),
        ("orders/index.yaml",
         "title: A\ndue: 2027-05-01\ndesigns: [{design: first-try, bars: 6}]\n"),
        ("designs/index/design.md",
         "---\ntitle: Index\ndate: 2026-04-18\nstate: trial\nbars: 6\n"
         "layers: [{name: body, base: clear, amount: 90 g}]\n---\n"),
    ],
)  # fmt: skip
def test_a_name_of_the_notebooks_own_pages_is_refused(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], path: str, text: str
) -> None:
    """Two pages were to stand at one address, which ended a build."""
    (content / path).parent.mkdir(parents=True)
    (content / path).write_text(text, "utf-8")
    assert both(content, tmp_path / "out") == (1, 1)
    told = capsys.readouterr().err
    assert 'the notebook has a page of its own that is called "index". Rename it, such as' in told


def test_a_check_tells_what_an_edition_would_give_away(content: Path, tmp_path: Path) -> None:
    bases = content / "shelf" / "bases.yaml"
    text = bases.read_text("utf-8")
    first = text.split(":")[0]
    bases.write_text(text.replace(f"{first}:", f"{first}:\n  supplier: Harkness and Tolliver", 1))
    design = content / "designs" / "first-try" / "design.md"
    with design.open("a", encoding="utf-8") as prose:
        prose.write("\nFrom Harkness and Tolliver.\n")
    assert both(content, tmp_path / "studio") == (0, 0)
    assert both(content, tmp_path / "helpers", "--edition", "helpers") == (1, 1)


def test_a_check_writes_nothing_but_the_cache_from_which_a_build_is_the_same(
    content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JOURNAL_CACHE", "")
    assert main(["build", "--content", str(content), "--out", str(tmp_path / "alone")]) == 0
    before = {path: path.read_bytes() for path in content.rglob("*") if path.is_file()}
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache"))
    assert both(content, tmp_path / "out") == (0, 0)
    assert {path: path.read_bytes() for path in content.rglob("*") if path.is_file()} == before
    alone, out = (
        {
            path.relative_to(folder): path.read_bytes()
            for path in folder.rglob("*")
            if path.is_file()
        }
        for folder in (tmp_path / "alone", tmp_path / "out")
    )
    assert alone == out
