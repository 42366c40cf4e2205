"""The words of the reports: what a verdict, a basis, a kind of slip is called, and how numbers look.

One place for every word, so that page, Markdown, JUnit and SARIF speak alike.
"""

from __future__ import annotations

import math

from pipeline.nutrients import BY_COLUMN

#: Word, and what it means in one sentence.
VERDICT: dict[str, tuple[str, str]] = {
    "disagrees": (
        "disagrees",
        "the stated numbers do not follow from the ingredient lines, even with all doubt allowed",
    ),
    "uncertain": (
        "uncertain",
        "outside the tolerance, but the ingredient lines leave room for the stated numbers",
    ),
    "agrees": ("agrees", "the stated numbers are what the ingredient lines add up to"),
    "not_judged": (
        "not judged",
        "nothing is stated, or too much of the recipe could not be matched or weighed",
    ),
}

#: How a recipe stands: its verdict, or that its difference is accepted; in the order of lists.
STANDING: dict[str, str] = {
    "disagrees": "disagrees",
    "uncertain": "uncertain",
    "accepted": "accepted",
    "agrees": "agrees",
    "not_judged": "not judged",
}

NET_CARBS = "net_carbs_g"

#: How the grams of a line were found.
BASIS: dict[str, str] = {
    "mass": "weight on the line",
    "household_measure": "spoon or cup of this food, weighed by the table",
    "density": "volume times density",
    "count_weight": "weight of one piece",
    "trade_measure": "kitchen measure (common practice)",
    "package": "content of the pack",
    "pantry": "your own label",
    "decision": "your decision",
    "recipe": "another recipe of the collection",
    "parts": "the sum of the foods on the line",
    "open": "no amount meant to be counted",
    "none": "not weighed",
}

#: What a line is to the sum.
ROLE: dict[str, str] = {
    "unmatched": "not counted",
    "unweighed": "no weight: not counted",
    "not_in_table": "food without values: not counted",
}

#: A slip in two or three words, for headings and counts.
KIND: dict[str, str] = {
    "servings_slip": "divided by another count of servings",
    "line_left_out": "a line left out of the sum",
    "line_doubled": "a line counted twice",
    "amount_slip": "another weight taken for a line",
    "unit_slip": "a measure read as another",
    "raw_cooked_slip": "raw and cooked mixed up",
    "product_variant": "another product looked up",
    "macros_swapped": "two numbers exchanged",
    "digits_transposed": "a typing slip in a number",
    "kilojoules_as_kcal": "kilojoules given as kilocalories",
    "sodium_unit_slip": "sodium in another unit, or salt",
    "energy_not_following_macros": "energy that does not follow its macros",
    "fibre_in_carbs": "carbohydrate stated with fibre",
    "net_carbs_stated": "carbohydrate stated without fibre",
    "per_100g_stated_as_serving": "numbers of 100 g given as a serving",
    "none_found": "no single slip fits",
    "habit": "a habit of many recipes",
}

PER: dict[str, str] = {
    "per_serving": "per serving", "per_recipe": "for the whole recipe", "per_100g": "per 100 g",
}  # fmt: skip

#: The verdict on a recipe in a sentence; {} are the numbers meant.
SAYING: dict[str, str] = {
    "nothing": "The recipe states no numbers; what its lines add up to stands below.",
    "not_judged": "Too much of the recipe could not be matched or weighed to judge its numbers.",
    "agrees": "All stated numbers follow from the lines, within what is allowed.",
    "agrees_open": "What is stated follows from the lines; {} cannot be told for certain.",
    "bad_one": "{} does not follow from the lines, even with all doubt allowed.",
    "bad": "{} do not follow from the lines, even with all doubt allowed.",
    "together": "Each number may pass by itself; together they cannot be an honest sum of the lines.",
    "open": "{} lies outside what is allowed, but the lines leave room for it.",
}

#: Whose energy the numbers to publish give; 4-4-9 of the macros shown need not meet it.
ENERGY_FROM: dict[str, str] = {
    "table": "energy is the sum of the lines' own by the food table, rounded",
    "eu": "energy is by the factors of Regulation (EU) 1169/2011, from unrounded macros",
    "atwater": "energy is 4-4-9 of the unrounded macros",
}

PROFILE: dict[str, str] = {
    "eu": "the tolerances of the European Commission's guidance of 2012, narrowed to what two sums "
    "of the same lines may differ by",
    "eu_label": "the tolerances of the European Commission's guidance of 2012",
    "us": "the limits of 21 CFR 101.9(g), which look at one side only",
    "percent": "a plain percentage on both sides",
}

#: Topic and statement; said in every report.
CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "Estimates",
        "All values come from average composition of foods. The plate in front of a person differs.",
    ),
    (
        "Allergy",
        "Nothing here speaks of allergens or traces. Go by the ingredients and by the rules of your "
        "country.",
    ),
    (
        "Insulin",
        "Carbohydrate here includes fibre unless said otherwise, and portions vary. Do not work out "
        "a dose from these numbers; your care team sets the method.",
    ),
    (
        "PKU and protein-restricted diets",
        "Protein values are not phenylalanine values. Only your clinic's own tables serve.",
    ),
    (
        "Kidney, heart and blood pressure",
        "Sodium depends on brands, brines and water poured away. A dietitian judges it.",
    ),
    (
        "Infants, pregnancy, eating disorders",
        "General values are not made for these. Seeing calories can do harm; the switch at the top "
        "of the page hides them.",
    ),
    ("Alcohol", "Cooking removes only part of it. Who must avoid it should treat it as there."),
    (
        "Food that is sold",
        "This is a check, not a label. The method, tolerance and wording of the market, and whoever "
        "is licensed to judge them there, decide. The same holds for words such as “high protein”.",
    ),
    (
        "Gaps",
        "A missing value is unknown, not zero. Where lines are not counted, a sum is a lower bound.",
    ),
)


def verdict_word(code: str) -> str:
    """The verdict as people say it."""
    return VERDICT.get(code, (code, ""))[0]


def nutrient_word(column: str) -> str:
    """ "energy", "carbohydrate": what a creator reads for a column."""
    if column == NET_CARBS:
        return "carbohydrate without fibre"
    return BY_COLUMN[column].label if column in BY_COLUMN else column.replace("_", " ")


def unit_of(column: str) -> str:
    """kcal, g or mg."""
    if column == NET_CARBS:
        return "g"
    return BY_COLUMN[column].unit if column in BY_COLUMN else ""


def known(value: object) -> bool:
    """Whether it is a finite number."""
    return isinstance(value, (int, float)) and math.isfinite(value)


def number(value: float | None, unit: str = "g") -> str:
    """A number for people, without its unit; a missing one is a dash, never a zero.

    Grams below ten show a decimal; a number as stated keeps what it was written with.
    """
    if value is None or math.isnan(value):
        return "–"
    if math.isinf(value):
        return "no limit"
    if unit == "g" and abs(value) < 10 and round(value, 1) != round(value):
        return f"{value:.1f}".replace("-", "−")
    return f"{round(value) + 0:,d}".replace("-", "−")


def amount(value: float | None, column: str) -> str:
    """ "412 kcal", "9.5 g", "–"."""
    unit = unit_of(column)
    text = number(value, unit)
    return text if text in ("–", "no limit") else f"{text}\u00a0{unit}"


def grams(value: float | None) -> str:
    """Grams of a line: a decimal below ten."""
    text = number(value, "g")
    return text if text == "–" else f"{text}\u00a0g"


def percent(share: float | None) -> str:
    """ "43 %"; a small share is "under 1 %", a missing one a dash."""
    if share is None or math.isnan(share):
        return "–"
    if 0 < share < 0.01:
        return "under 1\u00a0%"
    if 0.99 < share < 1:
        return "over 99\u00a0%"
    return f"{100 * share:.0f}\u00a0%"


def sure(confidence: float | None, status: str) -> str:
    """How sure the food is, as a word beside the number."""
    if status == "unmatched" or confidence is None or math.isnan(confidence):
        return "not found"
    if status == "to review":
        return "please look"
    return "sure" if confidence >= 0.9 else "likely"


#: What a script's mark says: its name, and what it means. The order is that of the legend, and of
#: marks over the same words the first lies outside.
SCRIPT_KIND: dict[str, tuple[str, str]] = {
    "base": ("base", "said once, and counted in several recipes"),
    "title": ("title", "what the dish is called; a recipe begins"),
    "reference": ("reference", "points to lines that were said before"),
    "total": ("total", "numbers that the recipe states"),
    "left_out": ("left out", "sounds like a recipe and became no line"),
    "ingredient": ("ingredient", "became a line of the recipe"),
    "property": ("property", "belongs to a product; no total of the recipe"),
    "repair": ("repair", "misheard, and read as another word"),
    "amount": ("amount", "how much of the ingredient"),
}


def listing(items: list[str], most: int = 3) -> str:
    """ "a, b and c"; more than ``most`` are counted."""
    shown = items[:most]
    rest = len(items) - len(shown)
    if rest > 0:
        return f"{', '.join(shown)} and {rest} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else "".join(shown)


def plural(n: int, one: str, many: str = "") -> str:
    """ "1 recipe", "3 recipes"."""
    return f"{n:,d} {one if n == 1 else many or one + 's'}"


def servings_word(servings: float, word: str = "") -> str:
    """ "1 serving", "4 servings", "2.5 servings", "12 squares"."""
    if word and word not in ("serving", "servings"):
        return f"{servings:g} {word}"
    return f"{servings:g} serving{'' if servings == 1 else 's'}"


def difference_sentence(column: str, stated: float, computed: float) -> str:
    """How the stated number lies to the sum: "38 kcal (8 %) below the sum", "4.2 times the sum"."""
    if not (known(stated) and known(computed)):
        return ""
    off = stated - computed
    if abs(off) < (0.5 if unit_of(column) != "g" else 0.05):
        return "the same as the sum"
    if computed > 0 and stated >= 2.5 * computed:
        return f"{stated / computed:.1f} times the sum"
    share = f" ({percent(abs(off) / computed)})" if computed > 0 else ""
    return f"{amount(abs(off), column)}{share} {'above' if off > 0 else 'below'} the sum"
