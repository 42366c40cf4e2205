"""Lines that hold more than one food become rows of their own: the one place where it happens.

The written line stays as it is, without a food; behind it stands one row a food, whose text is the
part of the line that names it. Matching, weighing, adding up, asking and explaining then work on
rows as ever, and nothing after this stage knows of parts but what shows them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from pipeline.lines.grammar import parse

if TYPE_CHECKING:
    import pandas as pd


#: Foods of one line are joined by a word or a sign that no number takes, or each has its number.
_SIGN = re.compile(r"[+&;,\n\u2022\u00b7|\u2013\u2014]|/(?!\d)|\s-\s")
_WORD = re.compile(r"\b(?:and|und|et|y|with|mit|plus|mixed|n)\b", re.IGNORECASE)
_NUMBER = re.compile(r"\d|\b(?:an?|one|two|half)\b", re.IGNORECASE)
_LETTER = re.compile(r"[^\W\d_]")


def may_hold_several(text: str) -> bool:
    """Whether a line has to be looked at for a second food: quick, and never wrongly False."""
    if _SIGN.search(text) or _WORD.search(text):
        return True
    first = _NUMBER.search(text)
    letter = _LETTER.search(text, first.end()) if first else None
    return letter is not None and _NUMBER.search(text, letter.end()) is not None


def split_lines(
    line: pd.DataFrame,
    is_whole: Callable[[str], bool] | None = None,
    parts_of: Callable[[str], tuple[str, ...]] | None = None,
) -> pd.DataFrame:
    """Add the rows of the foods that lines hold together.

    Args:
        line: rows of ``tables.LINE``, those of a recipe together and in order.
        is_whole: tells of a text that a person has decided it means one food.
        parts_of: the text of each food a line holds, () for one; what its wording alone says where
            not given.

    Returns:
        The rows, then ``part_of``: NA on written lines, and on the rows added behind one its
        ``line_no``. Added rows are numbered after the last line of their recipe, so that written
        lines keep their numbers.

    Example:
        "2 eggs + 100 g egg whites" as line 3 of 7 stays line 3; "2 eggs" is line 8 and
        "100 g egg whites" line 9, both ``part_of`` 3.
    """
    if "part_of" in line:
        return line
    import numpy as np
    import pandas as pd

    parts = {}
    for text in line["text"].unique():
        if not may_hold_several(text):
            continue
        found = parts_of(text) if parts_of is not None else parse(text).parts
        if found and not (is_whole is not None and is_whole(text)):
            parts[text] = found
    frame = line.assign(part_of=pd.array([pd.NA] * len(line), dtype="Int64"))
    if not parts:
        return frame
    written = frame["text"].tolist()
    size = np.array([1 + len(parts.get(text, ())) for text in written])
    out = frame.take(np.repeat(np.arange(len(frame)), size)).reset_index(drop=True)
    added = np.ones(len(out), dtype=np.bool_)
    added[np.cumsum(size) - size] = False
    texts = out["text"].to_numpy(dtype=object, copy=True)
    texts[added] = [part for text in written for part in parts.get(text, ())]
    row = out[added]
    last = row["recipe_id"].map(line.groupby("recipe_id")["line_no"].max())
    number = out["line_no"].copy()
    number[added] = last + 1 + row.groupby("recipe_id").cumcount()
    out["part_of"] = out["part_of"].mask(added, out["line_no"])
    return out.assign(text=texts, line_no=number).astype(frame.dtypes.to_dict())
