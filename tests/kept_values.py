"""Everything of a notebook that is kept between builds, with the type that it is kept as.

    python tests/kept_values.py CONTENT

says in JSON the digest of each as it is encoded.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

from journal.comparison.derive import (
    CrossDesignResults,
    DesignContrasts,
    DesignResults,
    ResultsSummary,
    compact_answer,
    compact_results,
    cross_design_bars,
    cross_design_results,
    design_contrasts,
    design_results,
    results_summary,
)
from journal.figures.derive import DesignFigures, FiguresSummary, derive_design, figures_summary
from journal.figures.derive_notebook import OrderPlan, derive_notebook, studio_pot_rates
from journal.records.codec import digest, encode
from journal.records.models.questions import ComparisonFile, OrderFile
from journal.records.models.settings import Settings
from journal.records.models.shelf import KINDS
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Design
from journal.records.notebook import read_notebook

# What it is, the type that it is kept as, the value.
Kept = tuple[str, Any, Any]


def kept_values(content: Path, modelled: Collection[str] = ()) -> Iterator[Kept]:
    """Every record, figure and result of a notebook.

    ``modelled`` are the designs whose bond is worked out as well, which takes longest.
    """
    notebook = read_notebook(content)
    settings, shelf = notebook.settings, notebook.shelf
    yield "settings", Settings, settings
    for kind, of_kind in KINDS.items():
        for name, record in shelf.of_kind(kind).items():
            yield f"{kind}/{name}", of_kind.record, record
    summaries = {}
    for name, design in notebook.designs.items():
        yield f"designs/{name}", Design, design
        yield f"designs/{name} summary", DesignSummary, notebook.summaries[name]
        figures = derive_design(notebook, design, models=name in modelled)[0]
        summaries[name] = figures_summary(notebook, design, figures)
        yield f"designs/{name} figures", DesignFigures, figures
        yield f"designs/{name} figures summary", FiguresSummary, summaries[name]
        results = compact_results(design_results(settings, shelf, design))
        yield f"designs/{name} results", DesignResults, results
        yield f"designs/{name} results summary", ResultsSummary, results_summary(results)
    for name, comparison in notebook.comparisons.items():
        yield f"comparisons/{name}", ComparisonFile, comparison
        yield (
            f"comparisons/{name} answer",
            CrossDesignResults,
            compact_answer(cross_design_results(notebook, comparison)),
        )
        bars = {
            other: cross_design_bars(settings, comparison, design)
            for other, design in notebook.designs.items()
        }
        values = sorted({bar.variant for own in bars.values() for bar in own})
        for other, own in bars.items():
            brings = design_contrasts(settings, comparison, own, values)
            yield f"comparisons/{name} {other}", DesignContrasts, brings
    whole = derive_notebook(notebook, summaries, studio_pot_rates(summaries))
    for name, order in notebook.orders.items():
        yield f"orders/{name}", OrderFile, order
        yield f"orders/{name} plan", OrderPlan, whole.orders[name]


if __name__ == "__main__":
    digests = {what: digest(encode(value)) for what, _, value in kept_values(Path(sys.argv[1]))}
    sys.stdout.write(json.dumps(digests))
