"""What the maker is told about a text that cannot be used: whole messages."""

from __future__ import annotations

import pytest

from journal.errors import QuantityError
from journal.quantities import read


def message(kind: str, text: str) -> str:
    with pytest.raises(QuantityError) as caught:
        getattr(read, f"read_{kind}")(text)
    return str(caught.value)


@pytest.mark.parametrize(
    ("kind", "text", "said"),
    [
        (
            "volume",
            "2,5 mL",
            '"2,5 mL" has a decimal comma, which can be taken for a thousands separator. '
            'Write "2.5 mL".',
        ),
        (
            "mass",
            "1,000 g",
            '"1,000 g" has a thousands separator, which can be taken for a decimal mark or for '
            'two numbers. Write "1000 g".',
        ),
        (
            "mass",
            "1\u202f000 g",
            '"1 000 g" has a thousands separator, which can be taken for a decimal mark or for '
            'two numbers. Write "1000 g".',
        ),
        (
            "mass",
            "1_000 g",
            '"1_000 g" has a thousands separator, which can be taken for a decimal mark or for '
            'two numbers. Write "1000 g".',
        ),
        (
            "mass",
            "1,234,000.5 g",
            '"1,234,000.5 g" has a thousands separator, which can be taken for a decimal mark or '
            'for two numbers. Write "1234000.5 g".',
        ),
        (
            "mass",
            "1.000,5 g",
            '"1.000,5 g" has a decimal comma, which can be taken for a thousands separator. '
            'Write plain digits with a point for decimals, such as "2.5".',
        ),
        (
            "mass",
            "1e3 g",
            '"1e3 g" has a power of ten in its number. '
            'Write plain digits with a point for decimals, such as "2.5".',
        ),
        (
            "mass",
            "0x10 g",
            '"0x10 g" is not a decimal number. '
            'Write plain digits with a point for decimals, such as "2.5".',
        ),
        ("number", "nan", '"nan" is not a number. Write a number, such as "2.5".'),
        ("mass", "-inf g", '"-inf g" is not a number. Write a mass, such as "85 g".'),
        ("mass", "-3 g", '"-3 g" is below 0. Write a mass of 0 or more, such as "85 g".'),
        ("mass", "+3 g", '"+3 g" has a sign. Write "3 g".'),
        ("mass", "3. g", '"3. g" has a point with no digit behind it. Write "3 g".'),
        (
            "mass",
            "４ g",
            '"４ g" has the character "４", which is not one of the digits 0 to 9. Write "4 g".',
        ),
        (
            "mass",
            "٤ g",
            '"٤ g" has the character "٤", which is not one of the digits 0 to 9. Write "4 g".',
        ),
        (
            "mass",
            "9" * 30 + " g",
            'the number "999999999999999999999999999999" has more digits than can be meant. '
            "Write it with fewer digits.",
        ),
        ("mass", "1/0 lb", 'the fraction "1/0" divides by 0. Write it as "1/4".'),
        (
            "mass",
            "2 3/2 lb",
            'the fraction in "2 3/2" is not less than 1. '
            'Write a whole number and a smaller fraction, such as "2 1/2".',
        ),
        ("mass", "2-1/2 lb", '"2-1/2 lb" has a dash before its fraction. Write "2 1/2 lb".'),
    ],
)
def test_numbers_that_are_not_taken(kind: str, text: str, said: str) -> None:
    assert message(kind, text) == said


@pytest.mark.parametrize(
    ("kind", "text", "said"),
    [
        (
            "volume",
            "3 g",
            '"3 g" is a mass; a volume is wanted here. Write a volume, such as "2.5 mL".',
        ),
        (
            "volume",
            "3 oz",
            '"3 oz" is a mass; a volume is wanted here. A liquid takes fluid ounces. '
            'Write "3 fl oz".',
        ),
        (
            "mass",
            "3 fl oz",
            '"3 fl oz" is a volume; a mass is wanted here. Write a mass, such as "85 g".',
        ),
        (
            "temperature",
            "165-176 F",
            '"165-176 F" is a range of temperatures; a temperature is wanted here. '
            'Write a temperature, such as "131 F".',
        ),
        (
            "temperature",
            "165",
            '"165" has no unit. Write a temperature with its unit, such as "131 F".',
        ),
        (
            "temperatures",
            "1 h",
            '"1 h" is a duration; a temperature or a range is wanted here. '
            'Write a temperature or a range, such as "165-176 F".',
        ),
        (
            "duration",
            "1:20",
            '"1:20" is a time; a duration is wanted here. Write a duration, such as "15 min".',
        ),
        ("share", "0.03", '"0.03" has no unit. Write a share with its unit, such as "3 %".'),
        ("share", "3 g", '"3 g" is a mass; a share is wanted here. Write a share, such as "3 %".'),
        (
            "size",
            "80 mm",
            '"80 mm" is a length; a size is wanted here. Write a size, such as "80 x 55 mm".',
        ),
        (
            "mm_per_px",
            "0.08 mm",
            '"0.08 mm" is a length; a scale is wanted here. Write a scale, such as "0.08 mm/px".',
        ),
        (
            "density",
            "1.03",
            '"1.03" has no unit. Write a density with its unit, such as "1.03 g/mL".',
        ),
        (
            "dose",
            "5/lb",
            '"5/lb" is a price; a dose is wanted here. Write a dose, such as "5 mL/lb".',
        ),
    ],
)
def test_another_kind_is_named(kind: str, text: str, said: str) -> None:
    assert message(kind, text) == said


@pytest.mark.parametrize(
    ("kind", "text", "unit", "advice"),
    [
        ("mass", "85 grams", "grams", 'Did you mean "g", as in "85 g"?'),
        ("mass", "85 gramms", "gramms", 'Did you mean "g", as in "85 g"?'),
        ("mass", "4 Oz", "Oz", 'Did you mean "oz", as in "4 oz"?'),
        ("mass", "4 oz.", "oz.", 'Did you mean "oz", as in "4 oz"?'),
        ("mass", "4 lbs 5 oz", "lbs", 'Did you mean "lb", as in "4 lb 5 oz"?'),
        ("mass", "3 stone", "stone", 'Units here: g, kg, oz, lb; such as "85 g".'),
        ("volume", "2 fl. oz", "fl. oz", 'Did you mean "fl oz", as in "2 fl oz"?'),
        ("volume", "2 ML", "ML", 'Did you mean "mL", as in "2 mL"?'),
        ("volume", "12 dorps", "dorps", 'Did you mean "drops", as in "12 drops"?'),
        ("temperature", "131 deg F", "deg F", 'Did you mean "F", as in "131 F"?'),
        ("temperature", "131 f", "f", 'Did you mean "F", as in "131 F"?'),
        ("temperature", "300 K", "K", 'Units here: F, C; such as "131 F".'),
        ("duration", "15 mins", "mins", 'Did you mean "min", as in "15 min"?'),
        ("length", '3"', '"', 'Did you mean "in", as in "3 in"?'),
        ("share", "3 percent", "percent", 'Did you mean "%", as in "3 %"?'),
        ("dose", "5 mL/pound", "pound", 'Did you mean "lb", as in "5 mL/lb"?'),
        ("dose", "5 mls/lb", "mls", 'Did you mean "mL", as in "5 mL/lb"?'),
        ("density", "1.03 g/cc", "g/cc", 'Did you mean "g/cm³", as in "1.03 g/cm³"?'),
        ("thermal_conductivity", "0.3 W/m", "W/m", 'Did you mean "W/mK", as in "0.3 W/mK"?'),
        ("amount", "12 pieces", "pieces", 'Did you mean "each", as in "12 each"?'),
    ],
)
def test_the_nearest_unit_is_offered(kind: str, text: str, unit: str, advice: str) -> None:
    assert message(kind, text) == f'unknown unit "{unit}" in "{text}". {advice}'


@pytest.mark.parametrize(
    ("kind", "text", "said"),
    [
        (
            "temperatures",
            "176-165 F",
            'the range "176-165 F" is upside down. Write the smaller figure first.',
        ),
        (
            "masses",
            "2-1/2 lb",
            'the range "2-1/2 lb" is upside down. Write the smaller figure first. '
            "A number and its fraction take a blank, not a dash.",
        ),
        (
            "temperature",
            "-300 C",
            '"-300 C" is below absolute zero. Check the number, its sign and the unit.',
        ),
        (
            "temperature",
            "-460 F",
            '"-460 F" is below absolute zero. Check the number, its sign and the unit.',
        ),
        (
            "mass",
            "4.5 lb 1 oz",
            '"4.5 lb 1 oz" has a fraction before its last part. '
            'Only the last part may have one, such as "4 lb 5.2 oz".',
        ),
        (
            "duration",
            "1 h 90 min",
            'in "1 h 90 min", 90 min is a whole h or more. '
            'Carry it over into the larger unit, as in "1 h 20 min".',
        ),
        (
            "mass",
            "1 lb 200 g",
            '"1 lb 200 g" joins units that do not go together. '
            'Put the larger unit first, such as "4 lb 5.2 oz" or "1 h 20 min".',
        ),
        ("size", "80 x 55", '"80 x 55" has no unit. Write "80 x 55 mm".'),
        ("size", "80 by 55 mm", '"80 by 55 mm" is not a size. Write "80 x 55 mm".'),
        ("size", "80 x 0 mm", '"80 x 0 mm" has a side of 0. Write both sides, above 0.'),
        ("share", "110 %", '"110 %" is more than the whole. Write a share up to "100 %".'),
        ("dose", "5 mL per lb", '"5 mL per lb" is not a dose. Write "5 mL/lb".'),
        (
            "dose",
            "5 mL/cup",
            '"5 mL/cup" is a dose for a volume of base, and base is weighed. '
            'Write it for a mass, such as "5 mL/lb" or "8 g/kg".',
        ),
        (
            "price",
            "$4.10/lb",
            '"$4.10/lb" names a currency, which the settings do for all. Write "4.10/lb".',
        ),
        ("money", "5 EUR", '"5 EUR" names a currency, which the settings do for all. Write "5".'),
        ("price", "4.10/drop", '"4.10/drop" is a price for drops. Write it for "mL" or "g".'),
        ("density", "0 g/mL", '"0 g/mL" is nothing at all. Write a figure above 0.'),
        ("mm_per_px", "0 mm/px", '"0 mm/px" is a scale of 0. Write how much one pixel shows.'),
        ("count", "2.5", '"2.5" is not a whole number. Write a whole number, such as "6".'),
        ("count", "6 bars", '"6 bars" is not a whole number. Write "6".'),
        ("yes_no", "Yes", '"Yes" is neither yes nor no. Write "yes".'),
        ("yes_no", "true", '"true" is neither yes nor no. Write "yes" or "no", in small letters.'),
        (
            "date",
            "2026-02-30",
            '"2026-02-30" is no day of the calendar. Check the year, month and day.',
        ),
        ("date", "2026-4-8", '"2026-4-8" is not a date. Write "2026-04-08".'),
        (
            "date",
            "8/4/2026",
            '"8/4/2026" is not a date. Write year, month and day, such as "2026-04-18".',
        ),
        ("date", "0206-04-18", 'the year of "0206-04-18" cannot be meant. Check its four digits.'),
        (
            "moment",
            "8",
            '"8" has no unit. Write "0:08" or "14:05", "2:05 pm", or a duration such as "8 min".',
        ),
        ("moment", "8:5", '"8:5" is not a time. Write "8:05".'),
        ("moment", "2 pm", '"2 pm" is not a time. Write "2:00 pm".'),
        (
            "moment",
            "1:30:00",
            '"1:30:00" is not a time. '
            'Write "0:08" or "14:05", "2:05 pm", or a duration such as "8 min".',
        ),
        (
            "moment",
            "1:75",
            'the time "1:75" has more than 59 minutes past the hour. '
            'Write hours and minutes, such as "1:20".',
        ),
        (
            "moment",
            "13:05 pm",
            'the time "13:05 pm" has an hour that no twelve-hour clock shows. '
            'Write "2:05 pm" or "14:05".',
        ),
        ("mass", "  ", 'nothing is written where a mass belongs. Write a mass, such as "85 g".'),
        ("mass", "some", '"some" is not a mass. Write a mass, such as "85 g".'),
    ],
)
def test_other_mistakes(kind: str, text: str, said: str) -> None:
    assert message(kind, text) == said


def test_what_was_written_is_quoted_safely_and_shortly() -> None:
    assert message("mass", "a\nb\x1b[2J") == (
        '"a b\ufffd[2J" is not a mass. Write a mass, such as "85 g".'
    )
    assert message("mass", "x" * 200) == (
        f'"{"x" * 60}…" is not a mass. Write a mass, such as "85 g".'
    )


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        *(
            ("mass", text)
            for text in ("g", "3", "3 g g", "1 2 g", "3 4 1/2 g", "1/2/3 g", "1.2.3 g")
        ),
        *(("mass", text) for text in ("4 lb 5", "4 lb 16 oz", "5 oz 4 lb", "4 lb 4 lb", "3 cm³")),
        *(("masses", text) for text in ("3-4", "3-4-5 g", "3 - g", "- 4 g", "1-2 lb 3 oz")),
        *(("temperature", text) for text in ("--5 C", "165 F C", "20 °", "F", "1 C 2 C")),
        *(("dose", text) for text in ("mL/lb", "5/bar", "5 mL/0 g", "5 mL/lb/bar", "-5 mL", "12")),
        *(("price", text) for text in ("/lb", "4/", "4/lb 3 oz", "4/0 g", "1/2/lb", "4/bar")),
        *(("size", text) for text in ("80 x", "x 55 mm", "8 x 5 x 3 mm", "80 g x 55 mm")),
        *(("count", text) for text in ("", "-1", "²", "٣", "1e2", "9" * 16)),
        *(("moment", text) for text in ("0:8", "25:00 pm", "0:05 am", "1:00 xm", ":30")),
        *(("date", text) for text in ("2026-13-01", "2026-00-10", "20260418", "2026-04-18T10:00")),
        *(("share", text) for text in ("-3 %", "3 % %", "%", "101 %")),
        *(("mm_per_px", text) for text in ("12 px/mm", "0.08 g/px", "px", "mm/px")),
        ("volume", "1 cup 3 drops"),
        ("money", "4.1.0"),
        ("money", "nan"),
        ("px", "3 mm"),
        ("yes_no", ""),
    ],
)
def test_refused(kind: str, text: str) -> None:
    assert message(kind, text)
