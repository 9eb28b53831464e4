"""An example of each command, as ``--help`` shows it."""

from __future__ import annotations

from collections.abc import Mapping

# What is each command called like, and what does that do?
EXAMPLES: Mapping[str, tuple[str, str]] = {
    "begin": ("journal begin soap", "makes the folder soap, with a notebook in it to try"),
    "check": ("journal check --content soap", "lists what is wrong in soap; changes nothing"),
    "build": (
        "journal build --edition helpers --out for-helpers --open",
        "makes the helpers' notebook, without costs, and opens it",
    ),
    "preview": (
        "journal preview --content soap --open",
        "shows the notebook, and shows it anew each time a write-up is saved",
    ),
    "write-up": (
        'journal write-up "Kelp on amber" --from kelp-on-clay --photos camera',
        "takes over that recipe, and copies the photos in the order they were taken",
    ),
    "figures": (
        "journal figures kelp-on-clay --csv tables",
        "writes the figures of one design as tables for a spreadsheet",
    ),
    "compare": (
        "journal compare kelp-on-clay",
        "says which variant is better, if that can be told",
    ),
    "cards": (
        "journal cards kelp-on-clay --bars 24 --pdf card.pdf",
        "makes the card for 24 bars, ready to print",
    ),
    "template": (
        "journal template kelp-frond six-oblong --pdf cut.pdf",
        "draws that mat's pieces for that mould at full size, to cut by",
    ),
    "label": (
        'journal label kelp-on-sea-grey --shape round --size "60 mm" --pdf label.pdf',
        "drafts round labels, several to a sheet, and says what does not fit",
    ),
    "sheet": (
        "journal sheet pour-day kelp-on-sea-grey --pdf pour.pdf",
        "makes blank tables to fill in by hand while it is poured",
    ),
    "measure": (
        'journal measure bar.jpg --scale "0.08 mm/px" --across 310,200,360,200',
        "says how wide the edge along that line is",
    ),
    "order": (
        "journal order lantern-fair --begins 8:30",
        "says what to buy, and what to do when, for a file of orders/",
    ),
    "schema": (
        "journal schema",
        "writes what each key means where an editor can read it",
    ),
    "completion": (
        'eval "$(journal completion bash)"',
        "lets the Tab key fill in commands, options and names, in this terminal",
    ),
}
