"""How each figure is made: its formula, its source, what it assumes, where it ends.

The one place where the methods are put into words; a figure names its method by
the anchor here.
"""

from __future__ import annotations

from msgspec import Struct


class Method(Struct, frozen=True):
    """One method; ``facts`` are (name, sentence): source, assumes, rounding, ends."""

    anchor: str
    name: str
    formula: str
    says: str
    facts: tuple[tuple[str, str], ...]


GROUPS: tuple[tuple[str, tuple[Method, ...]], ...] = (
    (
        "Weighing",
        (
            Method(
                "layer-mass",
                "Base of a layer and of a pot",
                "base = amount a bar × bars; melt = (layers of the pot + largest over)"
                " × (1 + waste)",
                "What is poured over the relief and scraped back is melted too, and is left in the"
                " pot afterwards. The waste is a share of the pot, and never less than the least"
                " that a jug keeps. A layer's share of a pot goes by what stays of it; a dose is"
                " reckoned on that share, so on what remains when another layer was drawn before.",
                (
                    ("Source", "Definition (mass balance)."),
                    ("Assumes", "The waste of the settings; common practice, no source."),
                ),
            ),
            Method(
                "dose",
                "Fragrance and colour to measure out",
                "amount = dose × base of the layer's share of the melt",
                "5 mL a pound into 8 oz is 2.5 mL. A dose in per cent is a share of the mass of"
                " base. A dose a bar goes by the bars, a dose a pot by the bars over those that the"
                " recipe was written for.",
                (
                    ("Source", "Definition; exact factors of NIST SP 811."),
                    (
                        "Ends",
                        "A drop is taken as 0.05 mL and may be off by a factor of two: figures from"
                        " drops are rough.",
                    ),
                ),
            ),
            Method(
                "fragrance",
                "Fragrance load and concentration",
                "load = oil / base; concentration = oil / (base + oil + colour)",
                "The concentration in the layer is the strict one; the one in the whole bar stands"
                " beside it. It may not pass the limit on the oil's certificate. Several oils in"
                " one layer: the sum of concentration / limit may not pass 1. Scent that a leftover"
                " brings counts. Amounts of oil are rounded down.",
                (
                    (
                        "Source",
                        "A certificate states the largest share of the mixture in the finished"
                        " product (IFRA Guidance for the use of IFRA Standards).",
                    ),
                    (
                        "Assumes",
                        "Without a density on the shelf 1.10 g/mL, the heavy end of the published"
                        " range of 0.85 to 1.10.",
                    ),
                ),
            ),
            Method(
                "fill",
                "Fill, and how far the bar stands proud",
                "fill = (layers + silicone) / capacity; proud = volume in excess / face",
                "Capacity is what the cavity holds over the density of the first base, else face ×"
                " depth less the corners. Silicone is the piece's weight over its density, else its"
                " outline × thickness less the relief, never below 0.",
                (
                    ("Source", "Definition (geometry)."),
                    (
                        "Assumes",
                        "A density of 1.06 g/mL (1.01 to 1.12) for a base without one, and"
                        " 1.15 g/mL for silicone: bounded by mixture rules, no published"
                        " measurement found.",
                    ),
                    ("Ends", "Above 2 mm proud is a warning; common practice, no source."),
                ),
            ),
        ),
    ),
    (
        "When to pour",
        (
            Method(
                "cooling",
                "Cooling of a pot",
                "T(t) = room + (T0 − room) e^(−kt)",
                "Newton's law, fitted by least squares to every run of readings. A reheat or a draw"
                " begins a new run. Two readings give a curve and no interval. The half-time is"
                " ln 2 / k. A reading out of line is found by its externally studentised residual,"
                " from five readings on.",
                (
                    (
                        "Source",
                        "Newton's law of cooling; variable projection (Golub & Pereyra 1973);"
                        " studentised residuals (Cook & Weisberg 1982).",
                    ),
                    (
                        "Room",
                        "From the pour, else from the settings, else fitted where four readings or"
                        " more show it; the page says which.",
                    ),
                    (
                        "Ends",
                        "A pot that sets pauses and departs from the law: the page says so. Times"
                        " beyond the last reading are marked.",
                    ),
                ),
            ),
            Method(
                "forecast",
                "How long a pot will take",
                "ln k = level + slope × ln mass",
                "From every pot that this studio has read. The slope is fitted when the masses"
                " differ enough, else it is −1/3, that of pots of one shape.",
                (("Source", "Least squares; area over volume of similar pots."),),
            ),
            Method(
                "bond",
                "Bond of two pours",
                "∂H/∂t = ∂/∂x (k ∂T/∂x), with a melting range",
                "Heat is followed through air, body, detail, mat, mould and bench in one dimension"
                " by the enthalpy method, implicit in time. The detail's own warmth after its rest"
                " and chill is worked out, not assumed. The window runs from the coolest pour that"
                " keeps the interface in its melting range for a minute to the hottest that melts"
                " no more than a quarter of the detail.",
                (
                    (
                        "Source",
                        "Carslaw & Jaeger, Conduction of Heat in Solids; checked against the error"
                        " function, the slab's series and Neumann's solution.",
                    ),
                    (
                        "Band",
                        "Each property is moved to the ends of its range, and the shifts are summed"
                        " as squares (JCGM 100:2008, 5.1.2).",
                    ),
                    (
                        "Ends",
                        "An estimate. It knows nothing of alcohol, dust or bubbles. The studio's"
                        " own pours are said first, and go before it.",
                    ),
                ),
            ),
            Method(
                "threshold",
                "What the studio's own pours say",
                "log odds = a + b × pour temperature",
                "Logistic regression with Firth's penalty, a pour being one trial; the threshold is"
                " where the odds are even, its interval from the profile of the likelihood. Fewer"
                " than six pours show nothing, and the page says so.",
                (("Source", "Firth 1993; Heinze & Schemper 2002."),),
            ),
            Method(
                "bleed",
                "Growth of a bleed",
                "width² = start² + a² × days",
                "Fitted to the follow-ups of a bar; the start is 0 with two looks or fewer. Widths"
                " by ruler and by photo are never in one fit.",
                (("Source", "Diffusion: Crank, The Mathematics of Diffusion, 2.14."),),
            ),
        ),
    ),
    (
        "Deciding",
        (
            Method(
                "comparison",
                "Variants compared",
                "p by exact permutation of the labels within pots or days",
                "What is changed bar by bar (trim, piece) is compared within pots. What is changed"
                " with the pot has one value a pot, the median of its bars. The question's measure"
                " decides, on pours since it was asked; all else is a look, and is made harder to"
                " pass for every look on the page (Holm). The difference is the second named less"
                " the first.",
                (
                    (
                        "Source",
                        "Fisher 1935; Mann & Whitney 1947; Hodges & Lehmann 1963; Newcombe 1998;"
                        " Holm 1979.",
                    ),
                    (
                        "Verdicts",
                        "“Better”: enough was poured, adjusted p at most 0.05, and the difference"
                        " is worth the name. “No difference worth the name”: the 90 % interval lies"
                        " within it. “Leaning”: p at most 0.20. Else “too few”, with how many more"
                        " would tell.",
                    ),
                    ("Ends", "Two things changed together cannot be told apart; the page says so."),
                ),
            ),
            Method(
                "kept",
                "Bars kept",
                "kept = bars fit to sell / bars judged",
                "With Wilson's 95 % interval; bars poured and not judged are counted beside it.",
                (("Source", "Wilson 1927; Newcombe 1998, method 3."),),
            ),
        ),
    ),
    (
        "Selling",
        (
            Method(
                "cost",
                "Cost and price",
                "price = cost / (1 − margin)",
                "Base that stays and what the jug keeps, oil, colour, packaging, a share of mould"
                " (price / (life × bars a pour)) and mat (price / (pieces a sheet × life)), and"
                " hands-on minutes. Pouring goes by rounds; tidying by the median of the bars that"
                " were timed.",
                (
                    (
                        "Rounding",
                        "Decimal, once, at the end: the total half up to the cent, the cents then"
                        " shared out by largest remainder, so that the parts sum to it.",
                    ),
                    ("Source", "OpenStax, Principles of Managerial Accounting, 3.1 and 3.2."),
                ),
            ),
            Method(
                "net-weight",
                "Net weight",
                "declared = the largest label step not above the lower 95 % limit of the mean",
                "Bars as weighed, brought to the day of sale by the loss that was seen: a share"
                " that grows with the square root of the days. No bar may be short by more than the"
                " allowance. Rounded down, always.",
                (
                    (
                        "Source",
                        "NIST Handbook 133; Directive 76/211/EEC; 21 CFR 701.13; 16 CFR 500. The"
                        " tables of Handbook 133 are from memory and not confirmed: check them.",
                    ),
                ),
            ),
            Method(
                "label",
                "Label draft",
                "share of an ingredient = Σ (base in the bar × its share) / bar",
                "Merged over the layers and set in descending order, those of 1 % or less after"
                " the rest, colourants last; fragrance as one word. An allergen is named when it"
                " passes 0.01 % of a rinse-off bar.",
                (
                    (
                        "Source",
                        "21 CFR 701.3; Regulation (EC) 1223/2009, Art. 19 and Annex III as amended"
                        " by Regulation (EU) 2023/1545.",
                    ),
                    ("Ends", "A draft. Check it against local rules."),
                ),
            ),
            Method(
                "cut-plan",
                "Cut plan of a mat",
                "pieces = ⌈nx / ⌈w / pitch x⌉⌉ × ⌈ny / ⌈h / pitch y⌉⌉",
                "A piece is the motif (close) or the motif and its margin (straight), never more"
                " than the cavity less 1 mm on every side. nx × ny are the motifs with room for a"
                " whole piece; the better of both ways of laying it.",
                (("Source", "Definition; checked against every placing on small sheets."),),
            ),
            Method(
                "pieces",
                "Casts of a piece, and the moulds that it fits",
                "left = life × pieces alike − (casts before + bars poured on it)",
                "A bar lay on the piece that its row names, else on that of its variant. Pieces"
                " alike are cast on in turn, so they wear together; a block cut into bars was one"
                " cast. A piece fits a mould if it lies in the cavity with 1 mm to spare all"
                " round.",
                (("Source", "Definition (counting)."),),
            ),
            Method(
                "leftovers",
                "What a pot leaves behind, and what an order draws on",
                "left = melted − base that stays − waste in the jug",
                "As planned that is what was poured over and scraped back; where a pour's melt was"
                " written down, the surplus too. A line of an order that takes leftovers draws"
                " plain base into any pot of its bases; tinted base only where its own colourant"
                " goes in, scented base only where its own oil does, and no further than the oil's"
                " limit allows with what the leftover brings. The dose stays as on the card.",
                (
                    (
                        "Source",
                        "Definition (mass balance); common practice for the rest, no source.",
                    ),
                ),
            ),
            Method(
                "order",
                "Orders",
                "rounds = bars / (cavities × bars each, or pieces owned, the fewer)",
                "Amounts are the sum of the designs' cards. The day sheet has one pair of hands;"
                " waits overlap where cavities, pieces and chill places let them. Hands-on time is"
                " that of the write-up, shared over a round's steps; a pot cools as it was read in"
                " that design, else as the studio's pots do. No pot melts unattended, and no layer"
                " waits more than an hour and a half beyond its rests for the next.",
                (
                    (
                        "Source",
                        "Definition; the rule is checked against the best plan of small days.",
                    ),
                    (
                        "Assumes",
                        "What no write-up times: 20 min to melt a pot, 12 h in the mould, hands"
                        " from 8:00 to 18:00; common practice, no source. The sheet says which of"
                        " these it took.",
                    ),
                ),
            ),
        ),
    ),
    (
        "Seeing",
        (
            Method(
                "colour",
                "Colour of a photo's region",
                "mean in linear light → CIE Lab (D65); difference by CIEDE2000",
                "With the photo card in the picture, or a neutral of known level, light and cast"
                " are taken out; without, the colour is said to be uncorrected.",
                (
                    (
                        "Source",
                        "IEC 61966-2-1; CIE 1976; Sharma, Wu & Dalal 2005.",
                    ),
                ),
            ),
            Method(
                "edge",
                "Width of a bleed in a photo",
                "profile = level + step × erf((x − x0) / (√2 σ)); width from 10 to 90 %",
                "Fitted across the edge in linear light; the blur of the lens is taken out where it"
                " is given.",
                (("Source", "Least squares; the error function's 10 and 90 % points."),),
            ),
            Method(
                "rounding",
                "Rounding",
                "12 significant digits, then half up to the step",
                "Once, between a figure and what is shown; oils and net weights down. Masses go by"
                " the steps of the studio's scales. Screen and card agree for every number of"
                " bars.",
                (("Source", "Definition."),),
            ),
        ),
    ),
)


def anchors() -> frozenset[str]:
    """Every anchor that a figure may name."""
    return frozenset(method.anchor for _, methods in GROUPS for method in methods)
