"""The tables that stages hand to one another, column by column. Units end the column names.

Every stage takes such tables and returns such tables; a stage knows nothing of those after it.
Missing is NULL/NaN everywhere, never 0.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb
    import pandas as pd


class Table(list[str]):
    """The columns of a table in their order: a list of their names that knows their types.

    Attributes:
        types: SQL type of every column as DuckDB writes it, with ``not null`` where none may be
            missing.
    """

    def __init__(self, **types: str) -> None:
        super().__init__(types)
        self.types = types

    def plus(self, *tables: Table, **more: str) -> Table:
        """The table with further columns behind: those of others that it lacks, and given ones."""
        joined = dict(self.types)
        for table in tables:
            joined |= {name: kind for name, kind in table.types.items() if name not in joined}
        return Table(**joined, **more)

    def only(self, *names: str) -> Table:
        """Some of its columns, in the order given."""
        return Table(**{name: self.types[name] for name in names})

    def casts(self, *only: str) -> str:
        """Columns of a ``select`` that give each column (or only some) its type."""
        kinds = {name: self.types[name].removesuffix(" not null") for name in only or self}
        return ", ".join(f'"{name}"::{kind} as "{name}"' for name, kind in kinds.items())

    def register(self, db: duckdb.DuckDBPyConnection, name: str, frame: pd.DataFrame) -> None:
        """Give a frame's rows to SQL as the temporary table ``name``; NaN becomes NULL.

        Columns of the table that are all missing in the frame keep their type.
        """
        given = frame[self]
        dtypes = dict(zip(self, given.dtypes, strict=True))
        untyped = [c for c, kind in dtypes.items() if str(kind) == "object" and _is_empty(given[c])]
        numbers = [c for c, kind in dtypes.items() if kind.kind == "f"]
        kinds = {n: t.removesuffix(" not null") for n, t in self.types.items()}
        columns = ", ".join(
            (f"nullif(\"{n}\", 'nan'::double)" if n in numbers else f'"{n}"') + f'::{kind} as "{n}"'
            for n, kind in kinds.items()
        )
        if untyped:
            given = given.astype(dict.fromkeys(untyped, "str"))
        _create(db, name, columns, given)

    def frame(self, rows: Iterable[tuple[object, ...]]) -> pd.DataFrame:
        """Rows as a frame, column by column with its type, also when there are none."""
        import pandas as pd

        columns = list(map(list, zip(*rows, strict=True))) or [[]] * len(self)
        kinds = (_DTYPES.get(kind) for kind in self.types.values())
        index = pd.RangeIndex(len(columns[0]) if columns else 0)  # one for all: nothing to align
        return pd.DataFrame(
            {n: pd.Series(c, index, k) for n, c, k in zip(self, columns, kinds, strict=True)}, index
        )


def _is_empty(column: pd.Series[Any]) -> bool:
    """Whether every value is missing; as a rule the first tells."""
    return not (len(column) and isinstance(column.iat[0], str)) and bool(column.isna().all())


def _create(db: duckdb.DuckDBPyConnection, name: str, columns: str, frame_in: pd.DataFrame) -> None:
    """A temporary table from a frame, which DuckDB finds by its name here."""
    db.execute(f"create or replace temp table {name} as select {columns} from frame_in")


_DTYPES = {
    "varchar": "object", "varchar not null": "object", "double": "float64", "integer": "Int64", "bigint": "Int64",
    "integer not null": "int64", "bigint not null": "int64",
}  # fmt: skip

# --- snapshot (DuckDB file) ---------------------------------------------------------------
# snapshot      one row: snapshot_id, source, release, built_at, source_sha256, schema_version
# food          one row per food_id: see FOOD
# food_nutrient one row per (food_id, nutrient): amount_per_100g in kcal, g or mg; standard_error, n
# measure       one row per (food_id, seq): "amount unit qualifier" weighs grams
# food_macros   view, one wide row a food: food_id + the columns of nutrients.NUTRIENTS
FOOD = Table(
    food_id="varchar",  # sr28:09040
    source="varchar",  # sr28
    source_code="varchar",  # 09040
    description="varchar",  # Bananas, raw
    category="varchar",  # name of the food group; for SR28 derived from the first two digits of the code
    survey="boolean not null",  # true when the table's makers use the food in the dietary survey (a prior)
    refuse_pct="double",  # share of the whole food as bought that is not eaten, 0-100; NULL when unknown
    refuse="varchar",  # what that part is: "Bone", "Peel"
    nitrogen_factor="double",  # g protein per g nitrogen
    protein_factor="double",  # kcal per g, specific Atwater
    fat_factor="double",
    carb_factor="double",
    common_name="varchar",  # other names the source itself gives, "" when none
    scientific_name="varchar",
    manufacturer="varchar",
)
FOOD_NUTRIENT = Table(
    food_id="varchar", nutrient="varchar", amount_per_100g="double", standard_error="double",
    n="integer",
)  # fmt: skip
MEASURE = Table(
    food_id="varchar",
    seq="integer not null",
    amount="double",  # how many of the unit
    unit="varchar",  # canonical unit of shared/units.csv where known, else the source's own word
    qualifier="varchar",  # "chopped", 'medium (3" dia)': the rest of the source's words
    size="varchar",  # small | medium | large | ... read from the qualifier, "" when none
    grams="double",  # weight of `amount` units, edible part
    n="integer",  # pieces weighed, NULL when the source does not say
    sd_grams="double",  # standard deviation of one piece, NULL when the source does not say
    source="varchar",  # "SR28 WEIGHT seq 4", "FDC food_portion 81549"
)

# --- collection (intake) ------------------------------------------------------------------
RECIPE = Table(
    recipe_id="varchar",
    title="varchar",
    servings="double",  # float, NaN when not said
    serving_word="varchar",  # "servings", "pancakes", "" when not said
    yield_g="double",  # cooked weight of the whole when given, else NaN
    creator="varchar",  # "" when not said
    description="varchar",  # free text that may hold claims
    source="varchar",  # file, relative to the collection root, posix; "-" for standard input
    source_line="bigint",  # 1-based line of the recipe's start in the file, NA when meaningless
    format="varchar",  # json-ld | html | yaml | json | xml | card | csv | parquet | markdown | xlsx | script ...
    position="bigint not null",  # 0-based place of the recipe in its file
    pieces="double",  # what it makes beside the servings ("24 balls"), NaN when not said
    piece_word="varchar",  # "balls", "" when not said
    # how the servings were read, in words; "" when there was one way only, ``NOT_SAID`` of
    # intake/building.py where the recipe says nothing of what it makes
    servings_how="varchar",
    method="varchar",  # text of the method, one line per step, "" when the format has none
)
#: Every way to read the servings of a recipe, where its words leave them open.
READING = Table(
    recipe_id="varchar",
    rank="integer not null",  # from 1, the likeliest by the words first
    servings="double",  # NaN: the words count none, or they follow from serving_g
    serving_word="varchar",
    serving_g="double",  # weight of a serving: servings are the weight of the dish over it; else NaN
    belief="double",  # 0-1: how likely the words make it; sums to 1 a recipe
    how="varchar",
    basis="varchar",  # what numbers "per serving" are for by this reading; "" for a serving
)
STATED = Table(
    recipe_id="varchar",
    nutrient="varchar",  # INFOODS tagname; net carbs under CHOAVLDF
    amount="double",  # kcal, g or mg
    basis="varchar",  # per_serving | per_recipe | per_100g
    step="double",  # rounding step the writing implies, same unit as amount ("412 kcal" 1, "11.5 g" 0.1)
    text="varchar",  # as written: "1,724 kJ"
)
LINE = Table(
    recipe_id="varchar",
    line_no="integer not null",  # counts the ingredient strings from 1, headings included
    section="varchar",  # heading the line stands under, "" when none
    text="varchar",
    source_line="bigint",  # 1-based line in the file, NA when meaningless
)
#: One row per spoken script.
SCRIPT = Table(
    source="varchar",  # file, as in RECIPE
    text="varchar",  # the speech alone, no timings or markup; the offsets of SCRIPT_MARK count in it.
    # A line break parts captions or lines of the file, an empty line paragraphs.
)
#: One row per stretch of a script that was understood, or left out for a reason. Marks may lie
#: within one another (an amount within its ingredient); those of one kind never overlap.
SCRIPT_MARK = Table(
    source="varchar",
    start="integer not null",  # characters into the script's text, from 0
    end="integer not null",  # one past the last character
    kind="varchar",  # one of SCRIPT_MARK_KINDS
    recipe_id="varchar",  # "" when the stretch belongs to no recipe
    line_no="integer",  # the LINE it became or changed, NA when none
    start_s="double",  # seconds in the recording, NaN when the file has no times
    end_s="double",
    note="varchar",  # plain words why, of left_out, repair, reference and property; else ""
)
SCRIPT_MARK_KINDS = (
    "title",  # what the dish is called
    "ingredient",  # a food that became a line
    "amount",  # how much of it; also where that is said or corrected later
    "total",  # a stated number of the recipe
    "base",  # lines said once for several recipes
    "reference",  # points to lines said before ("the same base", "no nuts")
    "property",  # a number or word of a product ("the 60 calorie wraps")
    "repair",  # a misheard word, read as another
    "left_out",  # looks like a recipe's words and became none
)

#: One row per problem: the fields of ``pipeline.problems.Problem`` that a table can hold.
PROBLEM = Table(
    severity="varchar", code="varchar", source="varchar", source_line="bigint",
    recipe_id="varchar", line_no="bigint", what="varchar", why="varchar", fix="varchar",
    text="varchar",
)  # fmt: skip

# --- results ------------------------------------------------------------------------------
#: One row per distinct text.
MATCHED = Table(
    text="varchar", food_id="varchar", description="varchar", confidence="double",
    status="varchar", origin="varchar", reason="varchar", names_food="boolean",
)  # fmt: skip
#: One row per (text, rank), rank from 1, the chosen food not among them. ``probability`` is the belief
#: that this food was meant instead; ``left_open`` the share of a kind that the words fit as well as
#: the chosen one, 0 for other foods.
RUNNER_UP = Table(
    text="varchar", rank="integer not null", food_id="varchar", description="varchar",
    probability="double", left_open="double",
)  # fmt: skip
#: One row per food of a text that holds several; ``no`` from 1, in the order of the text.
PART = Table(text="varchar not null", no="integer not null", part="varchar not null")
#: One row per distinct text.
WEIGHED = Table(
    text="varchar", food_id="varchar", grams="double", grams_low="double", grams_high="double",
    basis="varchar", weigh_reason="varchar", unit="varchar", amount="double",
)  # fmt: skip
#: One row per (recipe_id, line_no): LINE joined with MATCHED and WEIGHED. Input of compute.
#: A run adds ``part_of``: on the row of one food of a line that holds several, the ``line_no`` of that line,
#: which itself has no food and the basis ``parts``; NA elsewhere. See ``lines.split``.
LINE_RESULT = LINE.plus(MATCHED, WEIGHED)
#: One row per line that is not eaten whole, or not counted; see ``pipeline.dish``.
LINE_USE = Table(
    recipe_id="varchar", line_no="integer not null", use="varchar", of="varchar",
    share="double", low="double", high="double", reason="varchar",
)  # fmt: skip
#: One row per (recipe_id, nutrient), for the whole recipe.
COMPUTED = Table(
    recipe_id="varchar",
    nutrient="varchar",  # tagname
    amount="double",  # whole recipe; NULL when no line counts
    low="double",
    high="double",  # 90 % range
    coverage="double",  # 0-1: how much of the recipe is known, see compute
    lines_left_out="integer",  # food lines without a value
)
#: One row per (recipe_id, nutrient) that is stated. Everything per the basis stated on.
FINDING = Table(
    recipe_id="varchar", nutrient="varchar", stated="double", computed="double", low="double",
    high="double", difference="double", allowed="double", verdict="varchar",
)  # fmt: skip
EXPLANATION = Table(
    recipe_id="varchar", rank="integer not null", kind="varchar", line_no="integer",
    probability="double", detail="varchar", kcal="double", protein_g="double", carbs_g="double",
    fat_g="double", fiber_g="double",
)  # fmt: skip
#: Lines worth a human look, the most energy first.
#: ``food_source``: the table a food comes from, in words; see ``pipeline.snapshot.names``.
TO_REVIEW = Table(
    recipe_id="varchar", line_no="integer not null", text="varchar", food_id="varchar",
    description="varchar", confidence="double", why="varchar", kcal="double",
    food_source="varchar",
)  # fmt: skip

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
