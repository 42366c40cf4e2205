"""A page's own sizes of its measures: "1 cup* = 180 ml" rules on that page.

Rice cups, coffee cups, dessert spoons: where a recipe says what its cup holds, lines weighed by a
cup of the default size weigh as much more or less. A line that also states a weight is left alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from pipeline.lines.remarks import remark_phrase
from pipeline.lines.vocabulary import LEXICON
from pipeline.phrases import Column, Phrase
from pipeline.units import kitchen_units, stem_of

if TYPE_CHECKING:
    import pandas as pd

_DEFINED = remark_phrase("measure_defined").pattern
_IN_ML = Phrase(r"\d\s*(?:ml|cl|millil)")
#: A cup of less or more than this is no cup, and the sentence speaks of something else.
_LEAST, _MOST = 0.4, 2.0
_BY_VOLUME = frozenset(("household_measure", "density"))


def own_units(texts: Iterable[str], system: str = "us") -> dict[str, float]:
    """Millilitres of the units that texts define, by canonical unit.

    Args:
        texts: lines, description, method of one recipe.
        system: whose units the others are; a size far from theirs is not believed.

    Example:
        >>> own_units(["1 cup* = 180 ml"])
        {'cup': 180.0}
    """
    found: dict[str, float] = {}
    for text in texts:
        if "ml" not in text.lower() and "cl" not in text.lower() and "millil" not in text.lower():
            continue
        for hit in _DEFINED.finditer(text):
            entry = LEXICON.get(hit["unit"].lower())
            unit = entry.units[-1][1].unit if entry is not None and entry.units else ""
            ml = float(hit["n"]) * (10 if hit["of"].lower() == "cl" else 1)
            usual = kitchen_units().ml(unit, system)
            if usual and _LEAST <= ml / usual <= _MOST:
                found.setdefault(unit, ml)
    return found


def with_own_units(lines: pd.DataFrame, recipes: pd.DataFrame, system: str = "us") -> pd.DataFrame:
    """Weigh the lines of recipes that define their measures by these.

    Args:
        lines: LINE_RESULT.
        recipes: RECIPE, whose ``description`` (and ``method``, where there is one) may hold the
            definition.
        system: of cups and spoons where nothing is said.

    Returns:
        ``lines`` itself when no recipe defines a measure, else a copy with the grams, their range
        and the reason of the lines concerned.
    """
    texts = Column(lines["text"]).has(_IN_ML)
    about = {
        recipe_id: [text for text in said if isinstance(text, str)]
        for recipe_id, *said in recipes.loc[
            :, ["recipe_id", *(c for c in ("description", "method") if c in recipes)]
        ].itertuples(index=False)
    }
    told = [r for r, said in about.items() if any(map(_DEFINED.search, said))]
    asked = set(lines.loc[texts, "recipe_id"]).union(told)
    changes: dict[Any, tuple[float, str]] = {}
    for recipe_id, mine in lines[lines["recipe_id"].isin(asked)].groupby("recipe_id", sort=False):
        units = own_units([*mine["text"].astype(str), *about.get(str(recipe_id), ())], system)
        if not units:
            continue
        for at, unit, basis in zip(mine.index, mine["unit"], mine["basis"], strict=True):
            ml = units.get(str(unit))
            usual = kitchen_units().ml(str(unit), system)
            if ml and usual and basis in _BY_VOLUME and unit == stem_of(str(unit)):
                changes[at] = ml / usual, f"; this recipe's {unit} holds {ml:g} ml"
    if not changes:
        return lines
    lines = lines.copy()
    at = list(changes)
    factor = [changes[i][0] for i in at]
    for column in ("grams", "grams_low", "grams_high"):
        lines.loc[at, column] = lines.loc[at, column] * factor
    lines.loc[at, "weigh_reason"] = lines.loc[at, "weigh_reason"] + [changes[i][1] for i in at]
    return lines
