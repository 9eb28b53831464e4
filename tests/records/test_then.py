"""Steps after a pour: printed as written, and reckoned with where that is clear."""

from __future__ import annotations

import pytest

from journal.records.then import Step, read_step, read_steps, waiting


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("rest 15 min", Step("rest", "rest 15 min", 15.0)),
        ("Rest for 1 h 20 min", Step("rest", "Rest for 1 h 20 min", 80.0)),
        ("chill 10 min at 39 F", Step("chill", "chill 10 min at 39 F", 10.0, 35 / 9)),
        ("chill 10 min at 4 °C, lid on", Step("chill", "chill 10 min at 4 °C, lid on", 10.0, 4.0)),
        ("unmould after 12 h", Step("unmould", "unmould after 12 h", 720.0)),
        ("rest a while", Step("other", "rest a while")),
        ("chill 10 min at the window", Step("chill", "chill 10 min at the window", 10.0)),
        ("rested 15 min", Step("other", "rested 15 min")),
        ("dab hot base under the piece", Step("other", "dab hot base under the piece")),
        ("rest", Step("other", "rest")),
        ("", Step("other", "")),
    ],
)
def test_a_step_is_read_as_far_as_it_is_clear(text: str, step: Step) -> None:
    found = read_step(text)
    assert found.temperature_c == pytest.approx(step.temperature_c)
    assert (found.kind, found.text, found.minutes) == (step.kind, step.text, step.minutes)


def test_waits_of_one_kind_are_added() -> None:
    steps = read_steps(["rest 15 min", "chill 10 min", "rest 5 min", "rest a while"])
    assert waiting(steps, "rest") == 20
    assert waiting(steps, "chill") == 10
    assert waiting(steps, "unmould") is None
