"""Lines that hold more than one food become rows of their own: the one place where it happens.

The written line stays as it is, without a food; after it stands one row per food, whose text is the
part of the line that names it. Matching, weighing, adding up, asking and explaining then work on
rows as ever, and nothing after this stage knows of parts but what shows them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def split_lines(line: pd.DataFrame, parts: Mapping[str, Sequence[str]]) -> pd.DataFrame:
    """Add the rows of the foods that lines hold together.

    Args:
        line: rows of ``tables.LINE``, those of a recipe together and in order.
        parts: the text of each food of those texts that hold several.

    Returns:
        The rows, then ``part_of``: NA on written lines, and on the rows added after one its
        ``line_no``. Added rows are numbered after the last line of their recipe, so that written
        lines keep their numbers.

    Example:
        "2 eggs + 100 g egg whites" as line 3 of 7 stays line 3; "2 eggs" is line 8 and
        "100 g egg whites" line 9, both ``part_of`` 3.
    """
    import numpy as np
    import pandas as pd

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
