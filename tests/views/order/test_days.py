"""The days of an order: what is melted, the chart, the steps, whose turn it is."""

from __future__ import annotations

import re
import shutil
from itertools import pairwise
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from demo import KELP_ON_GREY
from paths import PROJECT
from worked_notebook import lay_out

from journal.charts.day import NARROW_EM, ROOMY_EM
from journal.charts.drawing import Band
from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.figures.derive_notebook import OrderPlan, plan_order, studio_pot_rates
from journal.figures.pieces.derive_pieces import bars_by_piece
from journal.html.blocks import PageFrame
from journal.html.text_width import text_width
from journal.html.theme import read_theme
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.day_chart import chart_of_day
from journal.views.notebook import open_book
from journal.views.order.day import day_step_text, planned_days, rounds_of_plan
from journal.views.order.orders import day_page, order_page
from journal.views.order.words import limit_texts
from journal.views.shared.book import Book
from journal.views.shared.catalogue import PhraseCatalogue
from journal.views.shared.editions import Edition, cut_to_edition
from journal.views.shared.words import NO_BREAK

ORDER = """\
title: Two trims
due: 2026-12-18
customer: Odile Marsh
designs:
  - {design: kelp-on-sea-grey, bars: 12, variant: straight}
  - {design: kelp-on-sea-grey, bars: 12, variant: close}
"""


def planned(content: Path, name: str) -> tuple[Notebook, OrderPlan]:
    notebook = read_notebook(content)
    assert not notebook.errors
    figures = derive_figures(notebook, models=False)
    rates = studio_pot_rates(figures.summaries)
    casts = bars_by_piece(notebook.summaries, notebook.shelf)
    return notebook, plan_order(notebook, notebook.orders[name], casts, rates)


@pytest.fixture(scope="module")
def trims(tmp_path_factory: pytest.TempPathFactory) -> tuple[Notebook, OrderPlan]:
    """The demo with an order of two variants of one design."""
    content = tmp_path_factory.mktemp("trims") / "content"
    shutil.copytree(PROJECT / "content", content)
    (content / "orders" / "trims.yaml").write_text(ORDER, "utf-8")
    return planned(content, "trims")


def test_variants_of_a_design_take_turns(trims: tuple[Notebook, OrderPlan]) -> None:
    _, plan = trims
    assert plan.day.sheet is not None
    first_pours: dict[int, int] = {}
    for timed in plan.day.sheet.steps:
        if timed.step.kind == "pour":
            first_pours.setdefault(timed.number, timed.start_min)
    turns = [number for number, _ in sorted(first_pours.items(), key=lambda one: one[1])]
    variants = [plan.day.rounds[number].name.split(", ")[1] for number in turns]
    both = 2 * min(variants.count("straight trim"), variants.count("close trim"))
    assert both >= 4
    assert all(one != other for one, other in pairwise(variants[:both])), variants


def test_pieces_are_set_out_once_those_before_are_free(trims: tuple[Notebook, OrderPlan]) -> None:
    """What lies in the mould overnight is not taken for another round, nor a day too early."""
    _, plan = trims
    assert plan.day.sheet is not None
    by_line: dict[str, list[tuple[int, int]]] = {}
    for number, one in enumerate(plan.day.rounds):
        steps = [timed for timed in plan.day.sheet.steps if timed.number == number]
        taken = next(timed.start_min for timed in steps if timed.step.kind == "pieces")
        poured = next(timed.start_min for timed in steps if timed.step.kind == "pour")
        assert poured - taken <= 95
        by_line.setdefault(one.kind.split()[0], []).append((taken, steps[-1].end_min))
    for rounds in by_line.values():
        assert all(before[1] <= after[0] for before, after in pairwise(sorted(rounds)))


def test_a_day_melts_what_its_pots_take(trims: tuple[Notebook, OrderPlan]) -> None:
    notebook, plan = trims
    rounds = rounds_of_plan(notebook.settings, notebook.shelf, plan)
    melted: dict[str, float] = {}
    days = list(planned_days(plan, rounds))
    for day in days:
        for one in day.melts:
            melted[one.thing[1]] = melted.get(one.thing[1], 0.0) + one.mass_g
        # By hand: the sum of the pots that are set to melt on the day.
        pots = [
            next(pot.melt_g for pot in rounds[timed.number].amounts.masses.pots
                 if pot.name == timed.step.pot)
            for timed in day.steps if timed.step.kind == "melt"
        ]  # fmt: skip
        assert sum(one.mass_g for one in day.melts) == pytest.approx(sum(pots))
    needed = {need.item: float(need.amount) for need in plan.figures.needs if need.kind == "bases"}
    assert melted == pytest.approx(needed)
    assert not days[-1].melts


def test_bars_of_a_day_span_its_steps(trims: tuple[Notebook, OrderPlan]) -> None:
    """Each step of the first day has a bar as long as it, on the scale of the hours."""
    notebook, plan = trims
    rounds = rounds_of_plan(notebook.settings, notebook.shelf, plan)
    named = [(one.name, steps) for one, steps in zip(plan.day.rounds, rounds, strict=True)]
    day = next(planned_days(plan, rounds))
    chart = chart_of_day("day-1", "Day 1", day.steps, named)
    scale = {one.text: float(one.x.removesuffix("%")) for one in chart.scale}
    (first, at), *_, (last, end) = scale.items()
    minutes = [60 * int(text.split(":")[0]) + int(text.split(":")[1]) for text in (first, last)]
    per_minute = (end - at) / (minutes[1] - minutes[0])
    drawn = {
        (round(minutes[0] + (float(band.x.removesuffix("%")) - at) / per_minute),
         round(float(band.width.removesuffix("%")) / per_minute), band.tone)
        for band in chart.bands if band.tone != "tick"
    }  # fmt: skip
    closes = max(timed.end_min for timed in day.steps if timed.step.kind != "set")
    for timed in day.steps:
        tone = {"pour": "pour", "cool": "wait"}.get(timed.step.kind, "alone")
        tone = "hands" if timed.step.hands and tone == "alone" else tone
        long = min(timed.end_min, closes) - timed.start_min
        assert not long or (timed.start_min, long, tone) in drawn, timed
    assert "pour" in chart.desc
    assert chart.desc.startswith("From 8:00 to ")
    for label in chart.labels:
        room = NARROW_EM if "brief" in label.tone else ROOMY_EM
        assert text_width(label.text, "bold", 1.0) <= room, label.text


def test_windows_hold_the_pours_that_are_made_in_them(trims: tuple[Notebook, OrderPlan]) -> None:
    """A shaded window lies about every pour in the row of its pot.

    The last of the pieces, a third of them at most, is sprayed when it may have ended.
    """
    notebook, plan = trims
    rounds = rounds_of_plan(notebook.settings, notebook.shelf, plan)
    named = [(one.name, steps) for one, steps in zip(plan.day.rounds, rounds, strict=True)]
    chart = chart_of_day("day-1", "", next(planned_days(plan, rounds)).steps, named)

    def reach(band: Band) -> tuple[float, float]:
        left = float(band.x.removesuffix("%"))
        return left, left + float(band.width.removesuffix("%"))

    pours = [band for band in chart.bands if band.tone == "pour"]
    windows = [band for band in chart.bands if band.tone == "window"]
    held = 0
    for pour in pours:
        (left, right), rows = reach(pour), [band for band in windows if band.y == pour.y]
        held += any(
            first <= left + 0.05 and left + (right - left) * 2 / 3 <= last + 0.05
            for first, last in map(reach, rows)
        )
    # A pour stands in the row of its pot, with its window, and in that of the pieces.
    assert held * 2 == len(pours) > 0


def test_a_day_says_what_is_done_on_it(trims: tuple[Notebook, OrderPlan]) -> None:
    """A card says in one step that bars are left and unmoulded; two days say one each."""
    notebook, plan = trims
    rounds = rounds_of_plan(notebook.settings, notebook.shelf, plan)
    first, second, *_ = planned_days(plan, rounds)
    said = [
        [day_step_text(rounds[one.number], one) for one in day.steps] for day in (first, second)
    ]
    assert any(text.startswith("Leave it 12") for text in said[0])
    assert not any("Unmould" in text for text in said[0])
    assert said[1][0].startswith("Unmould when it is cold")


@pytest.fixture(scope="module")
def books(trims: tuple[Notebook, OrderPlan]) -> dict[str, Book]:
    """The book of that notebook, by edition."""
    notebook, _ = trims
    figures, compared = derive_figures(notebook, models=False), compare_designs(notebook)
    editions: tuple[Edition, ...] = ("studio", "helpers")
    return {
        edition: open_book(
            cut_to_edition(notebook, edition), figures, compared, read_theme(), edition
        )
        for edition in editions
    }


def test_helpers_and_studio(trims: tuple[Notebook, OrderPlan], books: dict[str, Book]) -> None:
    """What an order's page says of whom it is for and what it costs, by edition."""
    notebook, plan = trims
    order = notebook.orders["trims"]
    for edition, told in (("studio", True), ("helpers", False)):
        book = books[edition]
        page = order_page(book, book.places.orders["trims"], order, plan)
        raw = read_theme().set_page("order.html", page)
        text = BeautifulSoup(raw, "html.parser").get_text(" ").replace(NO_BREAK, " ")
        assert ("Odile Marsh" in text) == told
        assert ("Cost and price" in text) == told
        assert (re.search(r"\$\d", text) is not None) == told
        assert "Today melt: " in text
        assert KELP_ON_GREY in raw


def test_a_day_in_spanish_has_the_same_figures_and_no_english(
    trims: tuple[Notebook, OrderPlan], books: dict[str, Book]
) -> None:
    """Beside names, and what the maker wrote, which are marked: they are in English here."""
    figures: list[set[str]] = []
    for language in ("en", "es"):
        frame = PageFrame("Corran Bench", "", ())
        sheet = day_page(books["helpers"], frame, trims[1], PhraseCatalogue(language))
        page = BeautifulSoup(read_theme().set_page("order.html", sheet), "html.parser")
        assert page.main is not None
        # Drawn letters stand there twice where a phone has shorter ones.
        told = [str(chart.extract()["aria-label"]) for chart in page.select("svg.chart")]
        figures.append(set(re.findall(r"\d+(?:[.:]\d+)?", page.main.get_text(" "))))
    assert figures[0] == figures[1]
    parts = page.main.find_all("section")
    assert {part.get("lang") for part in parts} == {"es"}
    for written in page.main.select("[lang=en-GB]"):
        written.extract()
    said = " ".join([*(part.get_text(" ") for part in parts), *told])
    words = set(re.findall(r"[a-z]+", said.casefold()))
    english = {"the", "of", "to", "and", "pour", "melt", "rest", "pot", "day", "trim"}
    assert words & english == set()
    assert "corte recto, 1 de 2" in said
    assert "Traducción sin revisar por un nativo" in said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        # Two pieces for a mould of four.
        ((), "two pieces make it 7 rounds over 8 days; 2 more pieces: 4 rounds."),
        ((("shelf/pieces.yaml", "on_hand: 2", "on_hand: 9"),), "cavities make it"),
        ((("shelf/pieces.yaml", "on_hand: 2", "on_hand: 1"),), "one piece makes it 14 rounds"),
    ],
)
def test_what_limits_an_order(
    tmp_path: Path, changes: tuple[tuple[str, str, str], ...], said: str
) -> None:
    _, plan = planned(lay_out(tmp_path, *changes), "dozen")
    (text,) = limit_texts(plan)
    assert said in text.replace(NO_BREAK, " "), text


def test_one_round_is_limited_by_nothing(tmp_path: Path) -> None:
    _, plan = planned(lay_out(tmp_path, ("orders/dozen.yaml", "bars: 14", "bars: 2")), "dozen")
    assert limit_texts(plan) == []


def test_a_pot_of_scrapings_alone_is_melted_again(tmp_path: Path) -> None:
    """What was poured over and scraped back is more than the last, small round takes."""
    over = ("designs/leaf/design.md", "overpour: 5 g", "overpour: 30 g")
    fewer = ("orders/dozen.yaml", "bars: 14", "bars: 3")
    notebook, plan = planned(lay_out(tmp_path, over, fewer), "dozen")
    rounds = rounds_of_plan(notebook.settings, notebook.shelf, plan)
    last = rounds[-1]
    assert last.amounts.masses.pots[0].melt_g == 0
    said = [day_step_text(last, timed) for timed in last.steps if timed.step.kind == "melt"]
    assert said[0].startswith("Melt what was scraped back of the detail: nothing to weigh.")


def test_lines_that_share_a_full_mould_are_told_of_it() -> None:
    """72 bars, 12 cavities a day, each full until the next: six days; with 18, four, and
    four rounds of the moth one after the other: four."""
    _, plan = planned(PROJECT / "content", "lantern-fair")
    (text,) = limit_texts(plan)
    assert text.replace(NO_BREAK, " ") == (
        "6 days of pouring: 72 bars share twelve cavities, each full until the next day. One more"
        " mould: 4 at best."
    )


def test_a_title_too_long_for_a_phone_loses_its_middle_first(notebook: Path) -> None:
    """``A Moth and moon, straight trim, pigment, 1 of 4``: its design and its round stay."""
    page = (notebook / "orders" / "lantern-fair.html").read_text("utf-8")
    pairs = re.findall(
        r'class="head roomy">([^<:]+)[^<]*</text><text [^>]*class="head brief">([^<]+)<', page
    )
    shorter = 0
    for roomy, brief in pairs:
        whole, kept = roomy.split(", "), brief.split(", ")
        assert (kept[0], kept[-1]) == (whole[0], whole[-1])
        assert text_width(brief, "bold", 1.0) <= NARROW_EM
        assert "…" not in brief
        # What went is what stood next to the design, and no more than had to.
        gone = len(whole) - len(kept)
        assert kept[1:] == whole[1 + gone :]
        if gone:
            shorter += 1
            more = ", ".join((whole[0], *whole[gone:]))
            assert text_width(more, "bold", 1.0) > NARROW_EM
    assert shorter
