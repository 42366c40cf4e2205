"""The result tables as files hold them: exact columns, plain types, text that can be written.

CSV, Parquet and JSON are three renderings of the same ``Table``. Whatever a run leaves out is an
empty table with its columns, so that a reader of the files never meets a missing one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from pipeline.habits import HABIT
from pipeline.nutrients import BY_COLUMN, NUTRIENTS, REPORTED
from pipeline.problems import PROBLEM_COLUMNS
from pipeline.tables import EXPLANATION, FINDING, LINE_RESULT, TO_REVIEW

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

Kind = Literal["text", "int", "float", "bool"]

#: What UTF-8 or DuckDB cannot hold: half a surrogate pair, and NUL.
_BROKEN = re.compile("[\0\ud800-\udfff]")
#: What a column is in SQL, and a column of numbers in a frame.
SQL_TYPE: dict[Kind, str] = {
    "text": "varchar", "int": "bigint", "float": "double", "bool": "boolean",
}  # fmt: skip
_DTYPES: dict[Kind, str] = {"int": "Int64", "float": "float64", "bool": "boolean"}

#: Columns that are no text wherever they stand; of what is not named here the dtype decides.
_KINDS: dict[str, Kind] = {
    "line_no": "int", "part_of": "int", "source_line": "int", "rank": "int", "position": "int",
    "lines_left_out": "int", "coverage": "float", "confidence": "float", "probability": "float",
    "grams": "float", "grams_low": "float", "grams_high": "float", "amount": "float",
    "stated": "float", "computed": "float", "low": "float", "high": "float",
    "recipes": "int", "agree_now": "int", "agree_then": "int",
    "servings": "float", "weight_g": "float", "whole_kcal": "float", "low_kcal": "float",
    "high_kcal": "float", "open_kcal": "float",
    "difference": "float", "allowed": "float", "share": "float", "names_food": "bool",
    **{n.column: "float" for n in NUTRIENTS},
    **{f"{c}_{side}": "float" for c in REPORTED for side in ("stated", "computed")},
}  # fmt: skip

RECIPES = [
    "recipe_id", "title", "source", "verdict", "coverage", "basis",
    *(f"{column}_{side}" for column in REPORTED for side in ("stated", "computed")),
    "accepted",
]  # fmt: skip
LINES = [*LINE_RESULT, *(n.column for n in NUTRIENTS), "part_of", "food_source"]

#: File name: the columns it always has, in order, and whether the frame's others follow them.
LAYOUT: dict[str, tuple[list[str], bool]] = {
    "recipes": (RECIPES, False),
    "findings": (FINDING, False),
    "lines": (LINES, False),
    "explanations": ([*EXPLANATION, "basis"], False),
    "habits": (HABIT, False),
    "problems": (PROBLEM_COLUMNS, False),
    "to_review": (TO_REVIEW, False),
    "claims": (["recipe_id"], True),
    "corrected": (["recipe_id"], True),
}


@dataclass(frozen=True, slots=True)
class Table:
    """A frame ready to be written.

    Attributes:
        name: file name without ending.
        frame: text columns hold str or None, ``int`` ones Int64, ``float`` ones float64.
        kinds: column to kind, in the order of the columns.
    """

    name: str
    frame: pd.DataFrame
    kinds: dict[str, Kind]


def tables(result: Result) -> list[Table]:
    """The nine tables of a run, in the order of the stages' story."""
    return [table(name, getattr(result, name)) for name in LAYOUT]


def table(name: str, frame: pd.DataFrame) -> Table:
    """``frame`` with the columns and types of ``LAYOUT[name]``; absent columns come out missing."""
    columns, open_ended = LAYOUT.get(name, ([], True))
    if open_ended:
        columns = [*columns, *(str(c) for c in frame.columns if c not in columns)]
    as_shown = name == "corrected"  # "<0.5" is a number to publish, and no number
    kinds: dict[str, Kind] = {
        c: "text" if as_shown and c in BY_COLUMN else _kind(frame, c) for c in columns
    }
    return laid(name, frame, kinds)


def laid(name: str, frame: pd.DataFrame, kinds: dict[str, Kind]) -> Table:
    """``frame`` with the columns of ``kinds``, each of its kind; absent ones come out missing."""
    import pandas as pd

    frame = frame.reset_index(drop=True)
    out = {c: _column(frame, c, kind) for c, kind in kinds.items()}
    made = pd.DataFrame(out, index=range(len(frame)), columns=list(kinds), copy=False)
    return Table(name, made, kinds)


def kind_of(column: str) -> Kind:
    """What a column holds, wherever it stands."""
    return _KINDS.get(column, "text")


def _kind(frame: pd.DataFrame, column: str) -> Kind:
    import pandas as pd

    if column in _KINDS:
        return _KINDS[column]
    if column not in frame.columns:
        return "text"
    dtype = frame[column].dtype
    if pd.api.types.is_bool_dtype(dtype):
        return "bool"
    if pd.api.types.is_integer_dtype(dtype):
        return "int"
    return "float" if pd.api.types.is_float_dtype(dtype) else "text"


def _column(frame: pd.DataFrame, column: str, kind: Kind) -> pd.Series[Any]:
    import pandas as pd

    if column not in frame.columns:
        frame = pd.DataFrame({column: [None] * len(frame)}, dtype="object")
    values = frame[column]
    if str(values.dtype) == _DTYPES.get(kind):
        return values
    if kind == "int":
        return pd.to_numeric(values, errors="coerce").round().astype("Int64")
    if kind == "float":
        return pd.to_numeric(values, errors="coerce").astype("float64")
    if kind == "bool":
        return values.astype("boolean")
    given = values.tolist()
    texts = writable(given)
    as_is = texts is given and values.dtype == object
    return values if as_is else pd.Series(texts, dtype="object")


def writable(values: list[Any]) -> list[str | None]:
    """Text that UTF-8 can hold; missing is None, anything that is no text becomes its text.

    Half a surrogate pair, which JSON files can smuggle in, becomes U+FFFD, and so does NUL.
    """
    texts: list[str | None] = values
    try:
        if _can_be_written("".join(values)):
            return texts
    except TypeError:  # some are missing, or no text
        pass
    try:
        distinct = set(texts) - {None}
        whole = "".join(distinct)  # type: ignore[arg-type]
    except TypeError:  # not all of it is text
        return writable([None if v is None or v != v else str(v) for v in values])
    if _can_be_written(whole):
        return texts
    clean: dict[str | None, str] = {t: _BROKEN.sub("\ufffd", _whole(t)) for t in distinct if t}
    return [clean.get(t, t) for t in texts]


def _can_be_written(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in text


def _whole(text: str) -> str:
    """The text with halves that belong together joined."""
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")
