"""Lines that hold more than one food become rows of their own: the one place where it happens.

The written line stays as it is, without a food; behind it stands one row a food, whose text is the
part of the line that names it. Matching, weighing, adding up, asking and explaining then work on
rows as ever, and nothing after this stage knows of parts but what shows them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from pipeline.lines.clean import clean
from pipeline.lines.further import SEASONINGS
from pipeline.lines.grammar import parse_many
from pipeline.lines.measures import BARE_UNITS
from pipeline.lines.several import MIXTURE
from pipeline.lines.tokens import VULGAR
from pipeline.lines.vocabulary import LEXICON, meant_unit

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.lines.model import ParsedLine


_SIGNS = "".join(VULGAR)
_LETTER = rf"[^\W\d_{_SIGNS}]"
#: What stands before the food of a line: figures, marks, and the first word, mostly a unit.
_HEAD = re.compile(
    rf"(?P<figures>(?:[\W\d_{_SIGNS}]+|(?:(?<=[\d{_SIGNS}] )|(?<=\d))(?:x|to|or)(?=[ \d]))*)"
    rf"(?:{_LETTER}|['-])*"
)
_SIZES = "|".join(text for text, word in LEXICON.items() if word.sizes and text.isalpha())
#: "(about 400 g)", "(6 small pieces)": an amount in brackets and no food beside it.
_AMOUNT_ALONE = re.compile(
    rf"\((?:about |approx\.? |approximately |~ ?)?[\d.,/ {_SIGNS}-]*[\d{_SIGNS}]"
    rf"(?: (?:{_SIZES}))?[ -]?{_LETTER}+\.?\)"
)
_NUMBER = rf"(?:\d+(?:[.,]\d+)*(?: ?/ ?\d+)?(?: ?(?:\d+ ?/ ?\d+|[{_SIGNS}]))?|[{_SIGNS}])"
#: Figures in front that are one amount or a range, no numbering ("1.") and no two amounts.
_ONE_AMOUNT = re.compile(rf"[^\d{_SIGNS}]*{_NUMBER}(?: ?(?:x|to|or|-|×) ?{_NUMBER})?[ -]?")
_FIGURE = re.compile(rf"[\d{_SIGNS}]")
_WORDS = re.compile(rf"{_LETTER}+|[&+]")
#: Words that join foods or share an amount out among them.
_JOINING = frozenset({"and", "&", "+", "each"}) | MIXTURE
#: Words before an amount that is to be added.
_BEFORE_MORE = frozenset({"plus", "with", "in"})
_NUMBERS = frozenset(text for text, word in LEXICON.items() if word.number is not None)
#: Words with which an amount may begin; of a unit in several words the last.
_AMOUNTS = frozenset(
    rest[-1] if rest else text
    for text, word in LEXICON.items()
    for rest, unit, _ in word.units
    if unit.kind == "trade" or unit.unit in BARE_UNITS
) | {"of", *_NUMBERS}


def may_hold_several(text: str) -> bool:
    """Whether a line has to be read for a second food: quick, and never wrongly False.

    A second food needs a word that joins it, an amount behind the first words, or a comma on a
    line without an amount ("salt, pepper, oil").
    """
    low = clean(text).lower
    if "(" in low:
        low = _AMOUNT_ALONE.sub(" ", low)
    words = _WORDS.findall(low)
    if not _JOINING.isdisjoint(words):
        return True
    head = _HEAD.match(low)
    start, figures = (head.end(), head["figures"]) if head else (0, "")
    counted = _FIGURE.search(figures) is not None
    if counted and not _ONE_AMOUNT.fullmatch(figures):
        return True
    further = words if counted and not _NUMBERS.isdisjoint(words[:1]) else words[1:]
    if not _AMOUNTS.isdisjoint(further) or _FIGURE.search(low, start):
        return True
    if "," in low and not (counted and SEASONINGS.isdisjoint(words)):
        return True
    return not _BEFORE_MORE.isdisjoint(words) and any(  # "mixed with handfull salt"
        word not in LEXICON and meant_unit(word) for word in words
    )


def split_lines(
    line: pd.DataFrame,
    is_whole: Callable[[str], bool] | None = None,
    parts_of: Callable[[ParsedLine], tuple[str, ...]] | None = None,
) -> pd.DataFrame:
    """Add the rows of the foods that lines hold together.

    Args:
        line: rows of ``tables.LINE``, those of a recipe together and in order.
        is_whole: tells of a text that a person has decided it means one food.
        parts_of: the text of each food that a line holds, () for one; what its wording alone says
            where not given.

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
    for read in parse_many(filter(may_hold_several, line["text"].unique())):
        found = parts_of(read) if parts_of is not None else read.parts
        if found and not (is_whole is not None and is_whole(read.text)):
            parts[read.text] = found
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
