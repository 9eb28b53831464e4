"""Steps after a pour: printed as written, and reckoned with where that is clear."""

from __future__ import annotations

import pytest

from journal.records.models.then import WaitStep, read_step, read_steps


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("rest 15 min", WaitStep("rest", "rest 15 min", 15.0)),
        ("Rest for 1 h 20 min", WaitStep("rest", "Rest for 1 h 20 min", 80.0)),
        ("chill 10 min at 39 F", WaitStep("chill", "chill 10 min at 39 F", 10.0, 35 / 9)),
        (
            "chill 10 min at 4 °C, lid on",
            WaitStep("chill", "chill 10 min at 4 °C, lid on", 10.0, 4.0),
        ),
        ("unmould after 12 h", WaitStep("unmould", "unmould after 12 h", 720.0)),
        ("rest a while", WaitStep("other", "rest a while")),
        ("chill 10 min at the window", WaitStep("chill", "chill 10 min at the window", 10.0)),
        ("rested 15 min", WaitStep("other", "rested 15 min")),
        ("dab hot base under the piece", WaitStep("other", "dab hot base under the piece")),
        ("rest", WaitStep("other", "rest")),
        ("", WaitStep("other", "")),
    ],
)
def test_a_step_is_read_as_far_as_it_is_clear(text: str, step: WaitStep) -> None:
    found = read_step(text)
    assert found.temperature_c == pytest.approx(step.temperature_c)
    assert (found.kind, found.text, found.minutes) == (step.kind, step.text, step.minutes)


def test_a_layer_has_its_steps_in_order() -> None:
    assert [step.minutes for step in read_steps(["rest 15 min", "dab"])] == [15, None]
