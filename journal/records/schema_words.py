"""What a key means, for an editor to show: keys whose record does not say it itself."""

from __future__ import annotations

from collections.abc import Mapping

# Record, then key: what is written there?
SAYS: Mapping[str, Mapping[str, str]] = {
    "WriteUp": {
        "title": "What the design is called.",
        "date": "The day it was first written up: year, month, day.",
        "state": "trial while it is tried, keeper once it is made again, set aside otherwise.",
        "summary": "One sentence, for lists and the head of the page.",
        "mat": "The mat, by its id in shelf/mats.yaml.",
        "mould": "The mould, by its id in shelf/moulds.yaml.",
        "trim": "How the piece is cut from the mat: close, or straight with a margin.",
        "piece": "The cut piece, by its id in shelf/pieces.yaml, if one is kept.",
        "bars": "The batch that the recipe is written for.",
        "subjects": "Words to find the design by.",
        "grew_from": "The earlier design that this one grew from, by its id.",
        "packaging": "What a bar is wrapped in, by ids of shelf/packaging.yaml.",
        "minutes": "Hands-on time for the batch.",
        "layers": "The layers, in pouring order.",
        "variants": "Each changes some of the recipe; groups of variants are combined.",
        "question": "What the test is to decide, written before pouring.",
        "pours": "What was poured, and what came of it.",
        "failed": "What failed, why, and what mended it.",
        "photos": "The photos, in the order they are shown.",
        "private": "A note for the studio alone.",
    },
    "Layer": {
        "spritz": "Alcohol mist before the pour, after it, or both.",
        "fragrance": "The oil, its dose, and the window to stir it in; or a list of them.",
        "colours": "Colourants with their doses, or by eye.",
        "additives": "Oats, honey, clays and the like with their doses, or by eye.",
    },
    "FragranceDose": {
        "oil": "The oil, by its id in shelf/fragrances.yaml.",
        "dose": "Such as 5 mL/lb of base, 3 % of it, or 2 drops/bar.",
    },
    "ColourDose": {
        "colourant": "The colourant, by its id in shelf/colourants.yaml.",
        "dose": "Such as 1/4 tsp/lb of base, or 2.5 mL for the pot.",
        "by": "eye, where nothing was measured; say in aim what to aim for.",
    },
    "AdditiveDose": {
        "additive": "The additive, by its id in shelf/additives.yaml.",
        "dose": "Such as 1 tbsp/lb of base, or 2 % of it.",
        "by": "eye, where nothing was measured; say in aim what to aim for.",
    },
    "HandsOn": {
        "pour": "Pouring, for the batch.",
        "tidy": "Tidying, for the batch.",
    },
    "Failure": {
        "what": "The symptom: one of the usual ones, or of journal.yaml.",
        "variant": "The variant that it was seen on.",
        "bar": "The bar that it was seen on.",
        "saw": "What was seen.",
        "why": "What may have caused it.",
        "mend": "What to do about it.",
        "mended": "Whether that helped.",
    },
    "Photo": {
        "file": "The photo, relative to the write-up.",
        "variant": "The variant that it shows.",
        "bar": "The bar that it shows.",
        "day": "Days from the pour to the photo.",
        "scale": "Millimetres a pixel, two points a known distance apart, or card.",
        "measure": "What is to be measured, in pixels of the upright picture.",
    },
    "Measuring": {
        "regions": "Colours to take, by name: [x, y, width, height].",
        "across": "A line across an edge, from body to detail: [x1, y1, x2, y2].",
        "neutral": "A grey of known level in the picture.",
        "blur": "Blur of the lens, if it is known.",
    },
    "Neutral": {
        "at": "Where the grey is: [x, y, width, height].",
        "srgb": "Its level, 0 to 255.",
    },
    "TwoPoints": {
        "from": "The first point: [x, y].",
        "to": "The second point: [x, y].",
        "is": "How far they are apart.",
    },
    "WrittenPour": {
        "pour": "Its label; A, B, … by order if none is given.",
        "date": "The day of the pour.",
        "room": "Temperature of the room.",
        "melted": "What each pot held, by its name.",
        "readings": "By pot [time, temperature, mark]; or a table; or a CSV file.",
        "poured": "Temperature at the pour, by layer.",
        "did": "What was done otherwise than the recipe says, written as a variant is.",
        "bars": "A row a bar with what was measured; or a table; or a CSV file.",
        "later": "Bars looked at again: {day: 30, bar: A2, …}.",
        "private": "A note for the studio alone.",
    },
    "AddedMeasure": {
        "kind": "What is measured.",
        "of": "The best rating, where it is a rating.",
        "better": "Whether lower or higher is better.",
        "says": "One sentence: what is measured, and how.",
        "matters": "The smallest difference worth the name.",
    },
    "Waste": {
        "share": "Share of each pot that is left in the jug.",
        "least": "And at least so much of it.",
    },
    "Scent": {
        "oil": "The oil, by its id in shelf/fragrances.yaml.",
        "concentration": "Its share of the leftover.",
    },
    "AcrossDesigns": {
        "title": "The question.",
        "private": "A note for the studio alone.",
    },
    "WrittenOrder": {
        "title": "What the order is called.",
        "due": "The day it is due: year, month, day.",
        "customer": "Who ordered; in the studio's edition alone.",
        "designs": "Bars of each design.",
        "private": "A note for the studio alone.",
    },
    "OrderLine": {
        "design": "The design, by its id.",
        "bars": "How many bars.",
        "variant": "A variant of the design; the recipe if none is given.",
        "takes_leftovers": "Whether leftovers may go into it.",
    },
}

# What stands in a row of bars or of follow-ups beside what was measured?
OF_ROWS: Mapping[str, str] = {
    "bar": "The bar's name, such as A1.",
    "variant": "Its variant.",
    "piece": "The piece that it was cast on, by id.",
    "poured": "Temperature of its body at the pour, or {layer: temperature}.",
    "note": "Anything else.",
    "day": "Days since the pour.",
}
