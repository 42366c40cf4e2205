"""Word lists of the weigh stage: ``shared/weigh_words.csv``, ``forms.csv``, ``unit_kin.csv``."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple

from pipeline.resources import column_of, shared_rows, word_lists


@cache
def word_list(name: str) -> frozenset[str]:
    """One list of ``shared/weigh_words.csv``.

    Raises:
        KeyError: the table has no such list.
    """
    return frozenset(word_lists("weigh_words.csv")[name])


class Form(NamedTuple):
    """A form in which a food fills a measure.

    Attributes:
        unsaid: how unlikely it is meant when the line says no form.
        factor: weight beside the same food chopped, volume for volume; None where not known.
        far: so unlike the others that it says nothing of them.
    """

    unsaid: float
    factor: float | None
    far: bool


#: The forms of ``shared/forms.csv``, and the form that each word means.
FORMS: dict[str, Form] = {}
FORM_OF: dict[str, str] = {}
for _row in shared_rows("forms.csv"):
    FORMS[_row["form"]] = Form(
        float(_row["unsaid"]), float(_row["factor"]) if _row["factor"] else None, _row["far"] == "y"
    )
    FORM_OF.update(dict.fromkeys(_row["words"].split(), _row["form"]))
FAR_FORMS = frozenset(name for name, form in FORMS.items() if form.far)
#: What a form weighs beside the same food chopped.
FORM_FACTOR = {name: form.factor for name, form in FORMS.items() if form.factor is not None}

#: What a size weighs beside a medium one, and what a spoon of it holds beside a level one.
SIZE_FACTOR = {"": 1.0}
SPOON_FACTOR: dict[str, float] = {}
for _row in shared_rows("size_factors.csv"):
    SIZE_FACTOR[_row["size"]] = float(_row["factor"])
    if _row["spoon"]:
        SPOON_FACTOR[_row["size"]] = float(_row["spoon"])


@lru_cache(maxsize=200)
def size_factor(size: str) -> float:
    """What a size weighs beside a medium one; sizes named together multiply."""
    factor = SIZE_FACTOR.get(size)
    if factor is None:
        factor = 1.0
        for word in size.split():
            factor *= SIZE_FACTOR.get(word, 1.0)
    return factor


@lru_cache(maxsize=400)
def same_units(unit: str) -> tuple[str, ...]:
    """The units of a composition table under which a unit of the line may be found."""
    return tuple(column_of("unit_kin.csv", "unit", "found_as").get(unit, unit).split())
