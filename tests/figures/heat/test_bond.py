"""The bond model: numbers of common practice, an independent sketch, its own convergence."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.heat import bond as bonds
from journal.figures.heat import bond_stack
from journal.figures.heat.bond import BondOutcome, BondWindow, matching_softens, solve_bond
from journal.figures.heat.bond_case import FOLLOWED_MIN, BondCase, DetailStay
from journal.figures.recipe.base_properties import SILICONE, PropertyRange, base_properties
from journal.quantities.units import c_to_f, f_to_c

USUAL = base_properties()
ROOM_C = 21.0
CHILLED = (DetailStay(15.0, ROOM_C), DetailStay(10.0, f_to_c(39.0)), DetailStay(5.0, ROOM_C))
JUST_SET = (DetailStay(None, ROOM_C),)
COOLED_THROUGH = (DetailStay(240.0, ROOM_C),)

FOUND_K = 0.15  # brackets of 0.9 K and a straight line
TOGETHER = 1e-9  # rounding alone
FINER_K = 0.3  # cells and steps halved or better; the band's ends move most


def case(stays: tuple[DetailStay, ...] = CHILLED, **changes: object) -> BondCase:
    """A 2 mm detail poured at 172 F under 18 mm of body, all properties as usual."""
    usual = BondCase(
        detail=USUAL,
        body=USUAL,
        detail_mm=2.0,
        body_mm=18.0,
        mat_mm=4.0,
        room_c=ROOM_C,
        detail_pour_c=f_to_c(172.0),
        stays=stays,
    )
    return replace(usual, **changes)  # type: ignore[arg-type]


def bond_window(case: BondCase) -> BondWindow:
    return solve_bond(case, 55.0, ()).window


def bond(case: BondCase, pours_c: tuple[float, ...]) -> tuple[BondOutcome, ...]:
    """Pours without the search for a window."""
    model = bond_stack.BondModel(case, (bond_stack.setting_of(case),))
    course = model.pour([0] * len(pours_c), pours_c)
    return tuple(bonds._outcome(model, course, column, at_c) for column, at_c in enumerate(pours_c))


def exactly(value: float) -> PropertyRange:
    return PropertyRange(value, value, value)


# Common practice of the trade: a body at 122-132 F on a chilled detail spares it, and one poured
# hot onto a detail that has only just set melts it.
@pytest.mark.parametrize("pour_f", [122.0, 127.0, 132.0])
def test_a_body_in_the_usual_window_spares_a_chilled_detail(pour_f: float) -> None:
    assert bond(case(), (f_to_c(pour_f),))[0].remelted_share < 0.25


def test_a_hot_body_straight_after_setting_melts_the_detail() -> None:
    outcome = bond(case(JUST_SET), (f_to_c(176.0),))[0]
    assert outcome.remelted_share > 0.25
    assert outcome.softened_min == FOLLOWED_MIN


def test_the_band_of_the_cool_end_reaches_into_the_usual_window() -> None:
    band = bond_window(case((), detail_c=22.0)).low_band_c
    assert band is not None
    assert band[0] < f_to_c(132.0)
    assert band[1] > f_to_c(122.0)


# An independent sketch of the same physics: 2 mm detail at 22 C, softens 48 C, melts 54 C,
# 90 kJ/kg, 0.25 W/mK: it softens from about 128 F and loses a quarter at about 156-160 F. Its mat,
# mould and body are not known, hence the width of the second check.
def test_an_independent_sketch_is_met() -> None:
    base = base_properties(
        softens_c=(48.0, 48.0),
        melts_c=(54.0, 54.0),
        latent_heat_kj_kg=(90.0, 90.0),
        thermal_conductivity_w_mk=(0.25, 0.25),
    )
    window = bond_window(case((), detail_c=22.0, detail=base, body=base, body_mm=15.0))
    assert window.low_c is not None
    assert window.high_c is not None
    assert c_to_f(window.low_c) == pytest.approx(128.0, abs=2.0)
    assert 153.0 < c_to_f(window.high_c) < 160.0


def test_the_ends_of_the_window_do_what_they_say() -> None:
    window = bond_window(case())
    assert window.low_c is not None
    assert window.high_c is not None
    assert window.why == ""
    just, cooler = bond(case(), (window.low_c + FOUND_K, window.low_c - FOUND_K))
    assert just.softened_min >= 1.0 > cooler.softened_min
    less, more = bond(case(), (window.high_c - FOUND_K, window.high_c + FOUND_K))
    assert less.remelted_share < 0.25 < more.remelted_share


def test_each_band_encloses_its_end_and_the_properties_explain_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    window = bond_window(case())
    assert window.low_band_c is not None
    assert window.high_band_c is not None
    assert window.low_c is not None
    assert window.low_band_c[0] < window.low_c < window.low_band_c[1]
    # One property alone left with its range, the rest as worked: its shift of the cool end.
    shifts = []
    for what in bond_stack.VARIED:
        monkeypatch.setattr(bond_stack, "VARIED", (what,))
        alone = bond_window(case())
        assert alone.low_c is not None
        assert alone.low_band_c is not None
        shifts.append(alone.low_band_c[1] - alone.low_c)
    up = math.sqrt(sum(shift**2 for shift in shifts))
    assert window.low_band_c[1] == pytest.approx(window.low_c + up, rel=1e-9)


@pytest.mark.parametrize("stays", [CHILLED, JUST_SET], ids=["chilled", "just set"])
@pytest.mark.parametrize("seat", ["gap", "cold mould", "gap and cold mould"])
def test_the_bands_cover_how_the_mould_stands(
    stays: tuple[DetailStay, ...], seat: bond_stack.VariedProperty
) -> None:
    """Air of 0.05 m2K/W under it, or a mould at the detail's temperature, move the hot end by up
    to 3 K: less warmth goes down, so that more of the detail melts."""
    whole = bond_window(case(stays))
    usual, seated = (bond_stack.setting_of(case(stays), seat, end) for end in (0, 1))
    model = bond_stack.BondModel(case(stays), (usual, seated))
    alone = bonds._window(model, ())[0]
    for end, band in ((alone.low_band_c, whole.low_band_c), (alone.high_band_c, whole.high_band_c)):
        assert end is not None
        assert band is not None
        assert band[0] - TOGETHER <= end[0] <= end[1] <= band[1] + TOGETHER
    assert alone.high_band_c is not None
    assert alone.high_c is not None
    moved = max(alone.high_c - alone.high_band_c[0], alone.high_band_c[1] - alone.high_c)
    assert 0.2 < moved < 4.0
    if "gap" in seat:
        assert alone.high_c - alone.high_band_c[0] == pytest.approx(moved)


def test_known_properties_leave_no_band(monkeypatch: pytest.MonkeyPatch) -> None:
    """But for how the mould stands, which no data sheet says."""
    seats = ("gap", "cold mould", "gap and cold mould")
    assert bond_stack.VARIED[-3:] == seats
    monkeypatch.setattr(bond_stack, "VARIED", bond_stack.VARIED[:-3])
    known = base_properties(
        softens_c=(48.0, 48.0),
        melts_c=(56.0, 56.0),
        latent_heat_kj_kg=(40.0, 40.0),
        thermal_conductivity_w_mk=(0.3, 0.3),
        heat_capacity_j_kgk=(2800.0, 2800.0),
    )
    silicone = replace(SILICONE, thermal_conductivity_w_mk=exactly(0.25))
    window = bond_window(
        case(
            detail=known,
            body=known,
            mat_material=silicone,
            mould_material=silicone,
            mould_mm=exactly(2.0),
            air_film_w_m2k=exactly(10.0),
        )
    )
    assert window.low_band_c == (window.low_c, window.low_c)


@pytest.mark.parametrize("stays", [CHILLED, JUST_SET], ids=["chilled", "just set"])
def test_finer_cells_and_steps_move_the_window_little(
    stays: tuple[DetailStay, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = bond_window(case(stays))
    for name, value in (
        ("FINEST_MM", 0.1),
        ("GROWTH", 1.1),
        ("FIRST_STEP_S", 0.1),
        ("STEP_GROWTH", 1.1),
        ("LONGEST_STEP_S", 60.0),
    ):
        monkeypatch.setattr(bond_stack, name, value)
    monkeypatch.setattr(bonds, "WINDOW_TOLERANCE_C", 0.1)
    finer = bond_window(case(stays))
    for ours, theirs in (
        ((usual.low_c, usual.high_c), (finer.low_c, finer.high_c)),
        (usual.low_band_c, finer.low_band_c),
        (usual.high_band_c, finer.high_band_c),
    ):
        assert ours == pytest.approx(theirs, abs=FINER_K)


def test_how_long_it_must_stay_soft_matters_only_on_a_detail_just_set() -> None:
    def low_c(stays: tuple[DetailStay, ...], hold_min: float) -> float:
        found = bond_window(case(stays, hold_min=hold_min)).low_c
        assert found is not None
        return found

    assert low_c(CHILLED, 5.0) - low_c(CHILLED, 0.1) < 0.1
    assert 2.0 < low_c(JUST_SET, 5.0) - low_c(JUST_SET, 0.5) < 5.0


def test_hotter_pours_soften_longer_and_remelt_more() -> None:
    curve = solve_bond(case(), 55.0, tuple(f_to_c(f) for f in range(100, 200, 5))).curve
    for name in ("peak_interface_c", "softened_min", "remelted_share"):
        values = [getattr(point, name) for point in curve]
        assert values == sorted(values)
    assert 0.0 == curve[0].remelted_share < curve[-1].remelted_share <= 1.0


def test_a_warmer_detail_bonds_at_a_cooler_pour_and_melts_sooner() -> None:
    windows = [bond_window(case((), detail_c=at)) for at in (4.0, 14.0, 24.0, 34.0)]
    for name in ("low_c", "high_c"):
        ends = [getattr(window, name) for window in windows]
        assert ends == sorted(ends, reverse=True)


def test_a_thicker_detail_keeps_more_of_itself() -> None:
    shares = [
        bond(case((), detail_c=21.0, detail_mm=thick), (66.0,))[0].remelted_share
        for thick in (1.0, 2.0, 3.0)
    ]
    assert shares == sorted(shares, reverse=True)


def flat(outcome: BondOutcome) -> list[float]:
    """Times and temperatures of the interface, one after the other."""
    return [number for point in outcome.interface_c for number in point]


@pytest.mark.parametrize("stays", [CHILLED, JUST_SET], ids=["chilled", "just set"])
def test_pours_solved_together_are_those_solved_alone(stays: tuple[DetailStay, ...]) -> None:
    pours_c = tuple(float(at) for at in range(35, 100, 5))
    together = bond(case(stays), pours_c)
    for at_c, beside in zip(pours_c, together, strict=True):
        (alone,) = bond(case(stays), (at_c,))
        assert alone.remelted_share == pytest.approx(beside.remelted_share, abs=TOGETHER)
        assert alone.softened_min == pytest.approx(beside.softened_min, abs=TOGETHER)
        assert flat(alone) == pytest.approx(flat(beside), abs=TOGETHER)


def test_all_that_is_asked_at_once_is_what_is_asked_one_by_one() -> None:
    chart_c = (45.0, 55.0, 75.0)
    answers = solve_bond(case(), 52.0, chart_c)
    assert answers.window == bond_window(case())
    assert flat(answers.planned) == pytest.approx(flat(bond(case(), (52.0,))[0]), abs=TOGETHER)
    curve = bond(case(), chart_c)
    for name in ("pour_c", "peak_interface_c", "softened_min", "remelted_share"):
        assert [getattr(point, name) for point in answers.curve] == pytest.approx(
            [getattr(point, name) for point in curve], abs=TOGETHER
        )


def test_the_detail_cools_through_its_stays() -> None:
    at_once, rested, chilled, through = (
        bond(case(stays), (55.0,))[0].detail_c
        for stays in ((), (DetailStay(15.0, ROOM_C),), CHILLED[:2], COOLED_THROUGH)
    )
    assert at_once == pytest.approx(f_to_c(172.0))
    assert at_once > rested > chilled
    assert ROOM_C < rested < 46.0
    assert f_to_c(39.0) < chilled < ROOM_C
    assert through == pytest.approx(ROOM_C, abs=0.1)
    just_set = bond(case(JUST_SET), (55.0,))[0].detail_c
    assert USUAL.sets_c.nominal - 1.5 < just_set < USUAL.sets_c.nominal


# Lumped cooling (Incropera eq. 5.6), Bi 0.1 x: detail and mat between two films, nothing melting
def test_a_thin_detail_cools_as_a_lump_does() -> None:
    start_c, minutes = 40.0, 20.0
    thin = case((DetailStay(minutes, ROOM_C),), detail_mm=0.5, mat_mm=0.0, detail_pour_c=start_c)
    held = 1060.0 * 2800.0 * 0.5e-3
    exact = ROOM_C + (start_c - ROOM_C) * math.exp(-2.0 * 10.0 * 60.0 * minutes / held)
    assert bond(thin, (55.0,))[0].detail_c == pytest.approx(exact, abs=0.2)


def test_the_contact_temperature_is_the_plain_mean_of_one_base() -> None:
    outcome = bond(case((), detail_c=22.0), (60.0,))[0]
    assert outcome.contact_c == pytest.approx(41.0, abs=1e-9)
    assert outcome.interface_c[0][0] == 0.0
    assert max(value for _, value in outcome.interface_c) == outcome.peak_interface_c


# Two half-spaces with nothing melting: the interface stands at the contact temperature
def test_without_melting_the_interface_starts_at_the_contact_temperature() -> None:
    apart = base_properties(softens_c=(98.0, 98.0), melts_c=(99.0, 99.0))
    cold = case((), detail=apart, body=apart, detail_c=22.0, detail_mm=30.0, body_mm=30.0)
    outcome = bond(cold, (70.0,))[0]
    for minutes, value in outcome.interface_c:
        if 0.05 < minutes < 5.0:
            assert value == pytest.approx(46.0, abs=0.1)
    assert outcome.softened_min == 0.0
    assert outcome.remelted_share == 0.0


def test_what_softens_would_have_to_be_brings_the_window_there() -> None:
    observed = (50.0, 52.0, 54.0)
    found = matching_softens(case(), observed)
    width = USUAL.melts_c.nominal - USUAL.softens_c.nominal
    for wanted, softens_c in zip(observed, found, strict=True):
        assert softens_c is not None
        moved = base_properties(
            softens_c=(softens_c, softens_c), melts_c=(softens_c + width, softens_c + width)
        )
        window = bond_window(case(detail=moved, body=moved))
        assert window.low_c == pytest.approx(wanted, abs=2 * FOUND_K)
    # What the model says itself needs no change.
    low_c = bond_window(case()).low_c
    assert low_c is not None
    assert matching_softens(case(), (low_c,))[0] == pytest.approx(46.0, abs=2 * FOUND_K)


def test_softens_is_found_for_a_detail_that_is_waited_for() -> None:
    found = matching_softens(case(JUST_SET), (46.0, 48.0))
    assert all(value is not None and 30.0 < value < 48.0 for value in found)


def test_no_softens_is_none() -> None:
    assert matching_softens(case(), (ROOM_C + 1.0,)) == (None,)
    assert matching_softens(case(), ()) == ()


def test_a_window_that_closes_is_said() -> None:
    # To be held soft for half an hour a film of a detail that has only just set must be lost.
    window = bond_window(case(JUST_SET, detail_mm=0.5, hold_min=30.0, body_mm=8.0))
    assert window.low_c is not None
    assert window.high_c is not None
    assert window.low_c > window.high_c
    assert window.why == "a pour hot enough to bond remelts more than a quarter of the detail"


def test_no_cool_end_is_said() -> None:
    window = bond_window(case((), detail_c=-40.0, body_mm=2.0))
    assert window.low_c is None
    assert window.low_band_c is None
    assert window.why == "no pour up to 100 C softens the detail's face for long enough"


def test_no_hot_end_is_said() -> None:
    window = bond_window(case((), detail_c=4.0, body_mm=2.0, detail_mm=6.0))
    assert window.high_c is None
    assert window.high_band_c is None
    assert "100 C" in window.why


def test_a_detail_still_liquid_has_no_hot_end() -> None:
    window = bond_window(case((), detail_c=60.0))
    assert (window.high_c, window.high_band_c) == (None, None)
    assert window.why.startswith("the detail is still so soft")


def test_no_pour_is_cooler_than_the_body_sets() -> None:
    window = bond_window(case((), detail_c=60.0))
    assert window.low_c == USUAL.softens_c.nominal


def test_a_detail_that_cannot_set_is_refused() -> None:
    with pytest.raises(FigureError, match="does not set"):
        bond(case((DetailStay(None, 50.0),)), (55.0,))


def test_a_case_is_its_own_key() -> None:
    assert hash(case()) == hash(case())
    assert case() == case()
    assert case() != case(JUST_SET)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"detail_mm": 0.0}, "detail_mm must be above 0"),
        ({"body_mm": math.inf}, "body_mm must be above 0"),
        ({"mat_mm": -1.0}, "mat_mm must be 0 or above"),
        ({"room_c": math.nan}, "room_c must be finite"),
        ({"hold_min": 0.0}, "hold_min must be above 0"),
        ({"hold_min": FOLLOWED_MIN}, "a bar is followed for"),
        ({"detail_pour_c": None}, "the detail's temperature or its pour must be known"),
        ({"detail_c": math.nan}, "detail_c must be finite"),
        ({"air_film_w_m2k": exactly(0.0)}, "the air film must be above 0"),
        ({"mould_mm": exactly(-1.0)}, "the wall of the mould"),
    ],
    ids=str,
)
def test_a_case_that_cannot_be_is_refused(changes: dict[str, object], said: str) -> None:
    with pytest.raises(FigureError, match=said):
        case(**changes)


@pytest.mark.parametrize("minutes", [0.0, -1.0, math.inf])
def test_a_stay_that_cannot_be_is_refused(minutes: float) -> None:
    with pytest.raises(FigureError, match="a wait must be longer than 0 min"):
        DetailStay(minutes, 20.0)


def test_temperatures_that_are_none_are_refused() -> None:
    for refused, said in (
        (lambda: DetailStay(1.0, math.nan), "an air temperature must be finite"),
        (lambda: bond(case(), (math.nan,)), "a pour temperature must be finite"),
        (lambda: matching_softens(case(), (math.inf,)), "a pour temperature must be finite"),
    ):
        with pytest.raises(FigureError, match=said):
            refused()
