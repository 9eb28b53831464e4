"""The words of cards and cautions: in each language all of them, and the same figures."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from card_cases import LONG_SHELF, ONE_LAYER, SIX_LAYERS, TWO_LAYERS, card_of, lay_notebook
from conftest import CallJournal
from demo_book import demo_notebook
from long_run import LONG

from journal.cli import arguments
from journal.figures.derive import derive_figures
from journal.figures.derive_notebook import card_rates, studio_pot_rates
from journal.html.blocks import PageFrame, TextRun
from journal.html.card_page import CardLeaf, CardSize, plain_text
from journal.html.theme import read_theme
from journal.records.models import settings
from journal.records.models.own_words import OwnWords
from journal.records.notebook import Notebook
from journal.views.card.card import card_page, cards_of
from journal.views.shared.catalogue import (
    ENGLISH,
    FOLDER,
    PhraseCatalogue,
    catalogue_of,
    phrases_of,
)

SPANISH = PhraseCatalogue("es")
#: Said in one language alone: that the other has not been checked, and what it is called.
ALONE = {"care.unchecked", "safety.language"}
#: The same word in both.
ALIKE = {"at", "beside", "cut.cut", "measure.dash", "measure.part", "watch"}
PHRASES = phrases_of("en")


def places(phrase: str) -> set[str]:
    """The places of a phrase; those that are set bold alone in their asterisks."""
    return set(re.findall(r"\*\*\{\w+\}\*\*|\{\w+\}", phrase))


def numbers(text: str) -> list[str]:
    return sorted(re.findall(r"\d+(?:[.,]\d+)*", text))


def test_every_language_is_known_everywhere() -> None:
    tables = {path.stem for path in FOLDER.iterdir()}
    options = {option["name"]: option for option in arguments.commands()["cards"]["options"]}
    assert tables == set(settings.LANGUAGES) == set(options["--language"]["choices"])
    assert {catalogue_of(language).language for language in tables} == tables
    with pytest.raises(ValueError, match="not in tuple"):
        catalogue_of("xx")


def test_all_languages_have_the_same_keys() -> None:
    assert list(PHRASES) == list(phrases_of("es"))


@pytest.mark.parametrize("key", sorted(PHRASES))
def test_every_english_phrase_has_its_spanish(key: str) -> None:
    english, spanish = PHRASES[key], phrases_of("es")[key]
    assert spanish.strip()
    if key in ALONE:
        assert not english
        return
    assert english.strip()
    assert (spanish == english) == (key in ALIKE)
    assert places(spanish) == places(english)
    assert spanish.count("**") == english.count("**")
    assert spanish.count("**") % 2 == 0
    if key != "care.heat":
        # A word in one language may be a figure in the other, but here none is.
        assert numbers(spanish) == numbers(english)
    assert (spanish[0] == " ", spanish[-1] == " ") == (english[0] == " ", english[-1] == " ")
    assert (english[-1] in ".:") == (spanish[-1] in ".:")


def test_built_in_symptoms_have_their_words() -> None:
    for symptom in settings.BUILT_IN_SYMPTOMS:
        assert ENGLISH.symptom(symptom) == symptom
        assert SPANISH.symptom(symptom) != symptom
    assert SPANISH.symptom("muddied") == "muddied"


def test_words_keep_what_stands_in_their_places() -> None:
    bold = TextRun("122 °F", "strong")
    words = PhraseCatalogue("es", "es").words("reheat", pot="body", temperature="122 °F")
    assert words == ("Recalentar el recipiente body, tapado, hasta ", bold, ".")
    marked = SPANISH.words("reheat", pot="body", temperature="122 °F")
    assert TextRun("body", language="en-GB") in marked
    with pytest.raises(KeyError, match="temperature"):
        SPANISH.text("reheat", pot="body")


def test_every_unit_of_a_sum_is_in_the_language() -> None:
    assert SPANISH.units("1/4\u00a0tsp\u00a0+ 1/8\u00a0tsp") == (
        "1/4\u00a0cdta\u00a0+ 1/8\u00a0cdta"
    )
    assert SPANISH.units("2\u00a0lb\u00a03.4\u00a0oz") == "2\u00a0lb\u00a03.4\u00a0oz"
    assert ENGLISH.units("6\u00a0drops") == "6\u00a0drops"


CASES = {"two": TWO_LAYERS, "six": SIX_LAYERS, "one": ONE_LAYER}


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    found = lay_notebook(tmp_path_factory.mktemp("cards"), more=LONG_SHELF, **CASES)
    assert not found.errors
    return found


def told(leaves: tuple[CardLeaf, ...]) -> str:
    """All that stands on a card, without what only the number of its leaves changes."""
    found = [leaves[0].sub, leaves[0].bars, leaves[0].dated, leaves[0].printed]
    for leaf in leaves:
        found += map(plain_text, (leaf.state, leaf.rounds, *leaf.intro))
        for weight in leaf.weights:
            found += [weight.layer, weight.what]
            found += map(plain_text, (weight.first, weight.second, weight.mind))
        for step in leaf.steps:
            found += map(plain_text, (step.words, step.at))
        for row in leaf.rows:
            found += [*leaf.heads, row.layer, row.what, *row.cells]
        found += map(plain_text, (*leaf.rescue, *leaf.watch))
        found.append(leaf.scrapings if leaf.rows else "")
        blanks = (blank for row in leaf.lines for blank in row)
        found += [leaf.cautions, *(blank.label for blank in blanks if not blank.spare)]
    return "\n".join(found)


@pytest.mark.parametrize("bars", [1, 6, 14])
@pytest.mark.parametrize("name", sorted(CASES))
def test_a_spanish_card_has_the_same_figures(notebook: Notebook, name: str, bars: int) -> None:
    english = card_of(notebook, name, bars, size="a6")
    spanish = card_of(notebook, name, bars, size="a6", say=SPANISH, rescaled=True)
    assert numbers(told(spanish)) == numbers(told(english))
    assert {leaf.version for leaf in spanish} == {leaf.version for leaf in english}
    assert any("Traducción sin revisar" in leaf.cautions for leaf in spanish)
    assert not any(leaf.numbers for leaf in spanish)


@pytest.mark.parametrize("size", ["half-letter", "a5"])
def test_a_spanish_card_of_the_demo_has_as_many_leaves(size: CardSize) -> None:
    demo = demo_notebook()
    known = derive_figures(demo, models=False).summaries
    rates = card_rates(known, studio_pot_rates(known))
    for number, (name, design) in enumerate(demo.designs.items()):
        # By turns a few and many; in the long command all.
        for bars in (1, 6, 24, 100) if LONG else ((1, 24), (6, 100))[number % 2]:
            english, spanish = (
                cards_of(demo, design, None, bars, size, rates[name], known[name].dew_min, say=say)
                for say in (ENGLISH, SPANISH)
            )
            assert len(spanish) == len(english), (name, bars)


def test_what_is_in_another_language_is_marked_and_the_card_says_so(tmp_path: Path) -> None:
    notebook = lay_notebook(tmp_path, card=TWO_LAYERS)
    spanish = card_of(notebook, "card", 6, say=SPANISH)
    assert {leaf.names for leaf in spanish} == {"en-GB"}
    assert any("Lo que está en inglés" in leaf.cautions for leaf in spanish)
    runs = [word for leaf in spanish for step in leaf.steps for word in step.words
            if isinstance(word, TextRun) and word.language]  # fmt: skip
    assert {"White base", "Slate", "body"} <= {run.text for run in runs}
    # Of a maker who writes in Spanish nothing is marked.
    own = card_of(notebook, "card", 6, say=PhraseCatalogue("es", "es"))
    assert {leaf.names for leaf in own} == {""}
    assert not any("en inglés" in leaf.cautions for leaf in own)
    assert 'lang="en' not in "".join(repr(step.words) for leaf in own for step in leaf.steps)


#: Words that a Spanish text has not, and our own phrases are full of.
ENGLISH_WORDS = re.compile(
    r"\b(the|of|and|with|from|until|each|into|about|melt|pour|stir|round|bars?|pieces?|cut|take"
    r"|leave|spritz|never|weigh|leftover|tinted|variant|straight|close|date|result|start|drops?)\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("name", ["two", "one"])
@pytest.mark.parametrize("bars", [1, 14])
def test_no_phrase_of_a_spanish_card_is_left_in_english(
    tmp_path: Path, name: str, bars: int
) -> None:
    # The maker's own words are taken out: what is left is ours.
    own = {"two": TWO_LAYERS, "one": ONE_LAYER}[name]
    own = own.replace("Leave a border.", "Bxrdr.").replace("Wet it first.", "Wxt.")
    own = own.replace("A hem all round.", "Hxm.").replace("Freckles.", "Frxckles.")
    own = own.replace("Frond on slate", "Frxnd").replace("name: bar,", "name: bxr,")
    found = lay_notebook(tmp_path, more=LONG_SHELF, card=own)
    design = found.designs["card"]
    for variant in (None, *(one.name for one in design.variants)):
        text = told(card_of(found, "card", bars, variant=variant, say=SPANISH))
        text = re.sub(r"“[^”]*”|\b(White|Clear) base\b|variante \w+", "", text)
        assert not ENGLISH_WORDS.findall(text)
        assert len(ENGLISH_WORDS.findall(told(card_of(found, "card", bars, variant=variant)))) > 5


def test_the_usual_waits_are_said_and_other_words_stand(tmp_path: Path) -> None:
    front = TWO_LAYERS.replace(
        "[rest 15 min, chill 10 min at 39 F]", "[rest 15 min, chill 10 min at 39 F, sing to it]"
    )
    found = lay_notebook(tmp_path, card=front)
    text = told(card_of(found, "card", 6, say=SPANISH))
    assert "Dejar reposar 15\u00a0min." in text
    assert "Enfriar 10\u00a0min a 39\u00a0°F (4\u00a0°C)." in text
    # What is said of unmoulding in general says how long as well.
    assert "Dejar 12\u00a0h, tapado." in text
    assert "Sing to it." in text


def test_a_card_says_its_language_to_the_browser(notebook: Notebook) -> None:
    for say, language in ((ENGLISH, None), (SPANISH, "es")):
        leaves = card_of(notebook, "two", 6, size="a6", say=say)
        html = read_theme().set_page("card.html", card_page(PageFrame("A", "", ()), leaves, "a6"))
        article = BeautifulSoup(html, "html.parser").article
        assert article is not None
        assert article.get("lang") == language


def test_the_setting_and_the_option(tmp_path: Path, call_journal: CallJournal) -> None:
    lay_notebook(tmp_path / "content", kelp=TWO_LAYERS)
    path = tmp_path / "content" / "journal.yaml"
    for setting, option, wanted in (("es", "", "Para"), ("es", "en", "For"), ("en", "es", "Para")):
        text = re.sub(r"language: .*\n", "", path.read_text("utf-8"))
        path.write_text(f"{text}language: {setting}\n", "utf-8")
        chosen = ["--language", option] if option else []
        done = call_journal(
            "cards", "kelp", "--content", tmp_path / "content", "--out", tmp_path / "out", *chosen
        )
        assert done.returncode == 0, done.stderr
        page = (tmp_path / "out" / "index.html").read_text("utf-8")
        assert f"{wanted}\u00a06\u00a0" in page


def test_the_page_of_cautions_has_both(tmp_path: Path, call_journal: CallJournal) -> None:
    lay_notebook(tmp_path / "content", bar=ONE_LAYER)
    with (tmp_path / "content" / "journal.yaml").open("a", encoding="utf-8") as file:
        file.write("language: es\n")
    out = tmp_path / "out"
    done = call_journal("build", "--content", tmp_path / "content", "--out", out)
    assert done.returncode == 0, done.stderr
    soup = BeautifulSoup((out / "safety.html").read_text("utf-8"), "html.parser")
    for language, say in ((None, ENGLISH), ("es", SPANISH)):
        text = " ".join(part.get_text() for part in soup.find_all("section", lang=language))
        for name in ("heat", "alcohol", "blades", "skin", "law"):
            points = list(say.points(f"safety.{name}"))
            assert points
            assert all(point in text for point in points)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (OwnWords("Peel, pare the edges."), "despegar el tapete, repasar los bordes"),
        ("Clean the ends", "limpiar los extremos"),
        (OwnWords("sing to it", "en", (("es", "cantarle"),)), "cantarle"),
        (OwnWords("cantarle", "es"), "cantarle"),
        ("peel, sing to it", TextRun("peel, sing to it", language="en-GB")),
    ],
)
def test_a_makers_words_in_spanish(written: str, said: str | TextRun) -> None:
    assert SPANISH.own_words(written) == said


def test_a_makers_words_in_english() -> None:
    assert ENGLISH.own_words(OwnWords("sing to it ", "en", (("es", "cantarle"),))) == "sing to it"
    assert ENGLISH.own_words(OwnWords("cantarle", "es")) == TextRun("cantarle", language="es")


def test_what_stays_english_on_a_spanish_card_says_so(tmp_path: Path) -> None:
    front = TWO_LAYERS.replace(
        "mend: Wet it first.", "mend: {en: Wet it first., es: Mojarla antes.}"
    )
    assert front != TWO_LAYERS
    found = lay_notebook(tmp_path, card=front)
    assert not found.errors, found.errors
    leaves = card_of(found, "card", 6, size="a6", say=SPANISH)
    html = read_theme().set_page("card.html", card_page(PageFrame("A", "", ()), leaves, "a6"))
    assert "Mojarla antes." in html
    assert "Wet it first." not in html
    assert '<span lang="en-GB">Freckles.</span>' in html
