"""The tables that stages hand to one another, column by column. Units end the column names.

Every stage takes such tables and returns such tables; a stage knows nothing of those after it.
Missing is NULL/NaN everywhere, never 0.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

# --- snapshot (DuckDB file) ---------------------------------------------------------------
# snapshot      one row: snapshot_id, source, release, built_at, source_sha256, schema_version
# food          one row a food_id: see FOOD
# food_nutrient one row a (food_id, nutrient): amount_per_100g in kcal, g or mg; standard_error, n
# measure       one row a (food_id, seq): "amount unit qualifier" weighs grams
# food_macros   view, one wide row a food: food_id + the columns of nutrients.NUTRIENTS
FOOD = [
    "food_id",  # sr28:09040
    "source",  # sr28
    "source_code",  # 09040
    "description",  # Bananas, raw
    "category",  # name of the food group; for SR28 derived from the first two digits of the code
    "survey",  # true when the table's makers use the food in the dietary survey (a prior)
    "refuse_pct",  # share of the whole food as bought that is not eaten, 0-100; NULL when unknown
    "refuse",  # what that part is: "Bone", "Peel"
    "nitrogen_factor",  # g protein per g nitrogen
    "protein_factor",  # kcal per g, specific Atwater
    "fat_factor",
    "carb_factor",
    "common_name",  # other names the source itself gives, "" when none
    "scientific_name",
    "manufacturer",
]
FOOD_NUTRIENT = ["food_id", "nutrient", "amount_per_100g", "standard_error", "n"]
MEASURE = [
    "food_id",
    "seq",
    "amount",  # how many of the unit
    "unit",  # canonical unit of shared/units.csv where known, else the source's own word
    "qualifier",  # "chopped", 'medium (3" dia)': the rest of the source's words
    "size",  # small | medium | large | ... read from the qualifier, "" when none
    "grams",  # weight of `amount` units, edible part
    "n",  # pieces weighed, NULL when the source does not say
    "sd_grams",  # standard deviation of one piece, NULL when the source does not say
    "source",  # "SR28 WEIGHT seq 4", "FDC food_portion 81549"
]

# --- collection (intake) ------------------------------------------------------------------
RECIPE = [
    "recipe_id",
    "title",
    "servings",  # float, NaN when not said
    "serving_word",  # "servings", "pancakes", "" when not said
    "yield_g",  # cooked weight of the whole when given, else NaN
    "creator",  # "" when not said
    "description",  # free text that may hold claims
    "source",  # file, relative to the collection root, posix; "-" for standard input
    "source_line",  # 1-based line of the recipe's start in the file, NA when meaningless
    "format",  # json-ld | html | yaml | json | card | csv | parquet | markdown | xlsx | script ...
    "position",  # 0-based place of the recipe in its file
    "pieces",  # what it makes beside the servings ("24 balls"), NaN when not said
    "piece_word",  # "balls", "" when not said
    "servings_how",  # how the servings were read, in words; "" when there was one way only
    "method",  # text of the method, a line a step, "" when the format has none
]
#: Every way to read the servings of a recipe, where its words leave them open.
READING = [
    "recipe_id",
    "rank",  # from 1, the likeliest by the words first
    "servings",  # NaN: the words count none, or they follow from serving_g
    "serving_word",
    "serving_g",  # weight of a serving: servings are the weight of the dish over it; else NaN
    "belief",  # 0-1: how likely the words make it; sums to 1 a recipe
    "how",
]
STATED = [
    "recipe_id",
    "nutrient",  # INFOODS tagname; net carbs under CHOAVLDF
    "amount",  # kcal, g or mg
    "basis",  # per_serving | per_recipe | per_100g
    "step",  # rounding step the writing implies, same unit as amount ("412 kcal" 1, "11.5 g" 0.1)
    "text",  # as written: "1,724 kJ"
]
LINE = [
    "recipe_id",
    "line_no",  # counts the ingredient strings from 1, headings included
    "section",  # heading the line stands under, "" when none
    "text",
    "source_line",  # 1-based line in the file, NA when meaningless
]
#: One row a spoken script.
SCRIPT = [
    "source",  # file, as in RECIPE
    "text",  # the speech alone, no timings or markup; the offsets of SCRIPT_MARK count in it.
    # A line break parts captions or lines of the file, an empty line paragraphs.
]
#: One row a stretch of a script that was understood, or left out for a reason. Marks may lie
#: within one another (an amount within its ingredient); those of one kind never overlap.
SCRIPT_MARK = [
    "source",
    "start",  # characters into the script's text, from 0
    "end",  # one past the last character
    "kind",  # one of SCRIPT_MARK_KINDS
    "recipe_id",  # "" when the stretch belongs to no recipe
    "line_no",  # the LINE it became or changed, NA when none
    "start_s",  # seconds in the recording, NaN when the file has no times
    "end_s",
    "note",  # plain words why, of left_out, repair, reference and property; else ""
]
SCRIPT_MARK_KINDS = (
    "title",  # what the dish is called
    "ingredient",  # a food that became a line
    "amount",  # how much of it; also where that is told or corrected later
    "total",  # a stated number of the recipe
    "base",  # lines said once for several recipes
    "reference",  # points to lines said before ("the same base", "no nuts")
    "property",  # a number or word of a product ("the 60 calorie wraps")
    "repair",  # a misheard word, read as another
    "left_out",  # looks like a recipe's words and became none
)

# --- results ------------------------------------------------------------------------------
#: One row a distinct text.
MATCHED = [
    "text", "food_id", "description", "confidence", "status", "origin", "reason", "names_food",
]  # fmt: skip
#: One row a (text, rank), rank from 1, the chosen food not among them. ``probability`` is the belief
#: that this food was meant instead; ``left_open`` the share of a kind that the words fit as well as
#: the chosen one, 0 for other foods.
RUNNER_UP = ["text", "rank", "food_id", "description", "probability", "left_open"]
#: One row a distinct text.
WEIGHED = [
    "text", "food_id", "grams", "grams_low", "grams_high", "basis", "weigh_reason", "unit",
    "amount",
]  # fmt: skip
#: One row a (recipe_id, line_no): LINE joined with MATCHED and WEIGHED. Input of compute.
#: A run adds ``part_of``: on the row of one food of a line that holds several, the ``line_no`` of that line,
#: which itself has no food and the basis ``parts``; NA elsewhere. See ``lines.split``.
LINE_RESULT = [
    "recipe_id", "line_no", "section", "text", "source_line",
    "food_id", "description", "confidence", "status", "origin", "reason", "names_food",
    "grams", "grams_low", "grams_high", "basis", "weigh_reason", "unit", "amount",
]  # fmt: skip
#: One row a line that is not eaten whole, or not counted; see ``pipeline.dish``.
LINE_USE = ["recipe_id", "line_no", "use", "of", "share", "low", "high", "reason"]
#: One row a (recipe_id, nutrient), for the whole recipe.
COMPUTED = [
    "recipe_id",
    "nutrient",  # tagname
    "amount",  # whole recipe; NULL when no line counts
    "low",
    "high",  # 90 % range
    "coverage",  # 0-1: how much of the recipe is known, see compute
    "lines_left_out",  # food lines without a value
]
#: One row a (recipe_id, nutrient) that is stated. Everything per the basis stated on.
FINDING = [
    "recipe_id", "nutrient", "stated", "computed", "low", "high", "difference", "allowed",
    "verdict",
]  # fmt: skip
EXPLANATION = [
    "recipe_id", "rank", "kind", "line_no", "probability", "detail",
    "kcal", "protein_g", "carbs_g", "fat_g", "fiber_g",
]  # fmt: skip
#: Lines worth a human look, the most energy first.
#: ``food_source``: the table a food comes from, in words; see ``pipeline.snapshot.names``.
TO_REVIEW = [
    "recipe_id", "line_no", "text", "food_id", "description", "confidence", "why", "kcal",
    "food_source",
]  # fmt: skip

VERDICTS = ("agrees", "uncertain", "disagrees", "not_judged")


def require(frame: pd.DataFrame, columns: list[str], table: str) -> pd.DataFrame:
    """Return ``frame`` with exactly ``columns`` in order.

    Raises:
        ValueError: a column is missing; the message names the table and the columns.
    """
    missing = [c for c in columns if c not in frame.columns]
    if missing:
        raise ValueError(f"table {table} lacks {missing}; it has {list(frame.columns)}")
    return frame.loc[:, columns]
