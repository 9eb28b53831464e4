"""Reading a notebook must not pay for numpy: the modules bring it in when they compute."""

from __future__ import annotations

import subprocess
import sys

MODULES = (
    "colour.bleed", "heat.bond", "heat.bond_case", "heat.bond_stack", "heat.conduction",
    "heat.cooling", "heat.dew", "heat.newton_fit", "heat.pot_rates", "heat.root_finder",
    "heat.standing", "heat.thresholds",
    "recipe.base_properties",
)  # fmt: skip


def test_importing_them_brings_in_no_array_library() -> None:
    lines = [f"import journal.figures.{name}" for name in MODULES]
    lines += ["import sys", "print([n for n in ('numpy', 'scipy') if n in sys.modules])"]
    found = subprocess.run(
        [sys.executable, "-c", "\n".join(lines)],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": ":".join(filter(None, sys.path))},
    )
    assert found.stdout.strip() == "[]"
