"""What is written down is read back to the digit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.quantities import read, write
from journal.quantities.kinds import Amount, Dose
from journal.quantities.rounding import significant
from journal.quantities.units import G_PER_KG, G_PER_LB, G_PER_OZ

sizes = st.just(0.0) | st.floats(1e-20, 1e12)
degrees_c = st.floats(-273, 1e4).filter(lambda c: c == 0 or abs(c) > 1e-20)
shares = st.just(0.0) | st.floats(1e-18, 1)
per_g = st.sampled_from([1.0, float(G_PER_KG), float(G_PER_LB), float(G_PER_OZ), 100.0])


@given(sizes)
def test_plain_quantities(value: float) -> None:
    for written, reader in (
        (write.write_number(value), read.read_number),
        (write.write_mass(value), read.read_mass),
        (write.write_volume(value), read.read_volume),
        (write.write_length(value), read.read_length),
        (write.write_duration(value), read.read_duration),
    ):
        assert reader(written) == significant(value), written


@given(degrees_c, degrees_c)
def test_temperatures(one_c: float, other_c: float) -> None:
    low_c, high_c = sorted((one_c, other_c))
    assert read.read_temperature(write.write_temperature(low_c)) == significant(low_c)
    window = read.read_temperatures(write.write_temperatures(low_c, high_c))
    assert window == (significant(low_c), significant(high_c))


@given(shares)
def test_shares(share: float) -> None:
    assert read.read_share(write.write_share(share)) == significant(share)


@given(st.floats(1e-9, 1e9), st.floats(1e-9, 1e9))
def test_sizes(width_mm: float, height_mm: float) -> None:
    both = read.read_size(write.write_size(width_mm, height_mm))
    assert both == (significant(width_mm), significant(height_mm))


doses = st.one_of(
    st.builds(Dose, st.just("share"), shares, st.just("base")),
    st.builds(Dose, st.sampled_from(["mass", "volume"]), sizes, st.just("base"), per_g),
    st.builds(Dose, st.sampled_from(["mass", "volume"]), sizes, st.sampled_from(["bar", "pot"])),
    st.builds(
        Dose, st.just("volume"), sizes, st.sampled_from(["bar", "pot"]), st.none(), st.just(True)
    ),
    st.builds(Dose, st.just("volume"), sizes, st.just("base"), per_g, st.just(True)),
)


@given(doses)
def test_doses(dose: Dose) -> None:
    kept = Dose(dose.kind, significant(dose.value), dose.per, dose.per_g, dose.rough)
    assert read.read_dose(write.write_dose(dose)) == kept


amounts = st.one_of(
    st.builds(Amount, st.sampled_from(["mass", "volume"]), sizes),
    st.builds(Amount, st.just("volume"), sizes, st.just(True)),
    st.builds(Amount, st.just("count"), st.integers(0, 10**9).map(float)),
)


@given(amounts)
def test_amounts(amount: Amount) -> None:
    kept = Amount(amount.kind, significant(amount.value), amount.rough)
    assert read.read_amount(write.write_amount(amount)) == kept


@pytest.mark.parametrize(
    ("written", "text"),
    [
        (write.write_mass(85.0), "85 g"),
        (write.write_mass(0.1 + 0.2), "0.3 g"),
        (write.write_volume(1e-7), "0.0000001 mL"),
        (write.write_temperature(-5.5), "-5.5 C"),
        (write.write_temperatures(50, 55), "50 to 55 C"),
        (write.write_temperatures(55, 55), "55 C"),
        (write.write_share(0.03), "3 %"),
        (write.write_size(80, 55), "80 x 55 mm"),
        (write.write_dose(read.read_dose("5 mL/lb")), "5 mL/lb"),
        (write.write_dose(read.read_dose("3 drops/oz")), "3 drops/oz"),
        (write.write_dose(read.read_dose("8 g/100 g")), "8 g/100 g"),
        (write.write_amount(read.read_amount("12 drops")), "12 drops"),
        (write.write_amount(read.read_amount("40")), "40"),
    ],
)
def test_texts(written: str, text: str) -> None:
    assert written == text


@pytest.mark.parametrize("bad", [1e15, 1e300, 1e-26, float("nan"), float("inf")])
def test_what_cannot_be_written(bad: float) -> None:
    with pytest.raises(FigureError, match="cannot be written"):
        write.write_mass(bad)
