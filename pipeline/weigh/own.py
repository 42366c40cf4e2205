"""A food's own measures, as the composition table gives them, and which of them a line means."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from pipeline.foods import words
from pipeline.units import KitchenUnits
from pipeline.weigh.words import (
    FAR_FORMS,
    FORM_FACTOR,
    FORM_OF,
    FORMS,
    SIZE_FACTOR,
    size_factor,
    word_list,
)  # fmt: skip

if TYPE_CHECKING:
    from pipeline.weigh.food import Food

#: Rows of these units say nothing a scale does not, or weigh what is left after cooking.
_NOT_FOR_WEIGHING = frozenset(("oz", "lb", "g", "kg", "mg", "lb_raw"))
#: "not packed", "loosely packed": the opposite of packed.
_UNPACKED = re.compile(r"\b(?:not|loosely|lightly|un)[ -]?packed\b")
_DIMENSION = re.compile(r"[\d./\"'+-]+")
#: "10" dia", "7-8" dia"; fractions of an inch are for fruit, which lines give no width.
_DIAMETER = re.compile(r"(?<![\d/-])(\d+(?:\.\d+)?)(?:\s*-\s*(\d+(?:\.\d+)?))?\"?\s*dia")
_SIZE_WORD = re.compile(r"\b(extra large|large|medium|small|jumbo)\b(?! curd)")
_LENGTH = re.compile(r"\d\s*\"|\d\s*(?:inch|cm)\b")
#: Widths within this share of each other are the same.
SAME_WIDTH = 0.13
_BETWEEN = {"medium-large": ("medium", "large"), "small-medium": ("small", "medium"),
            "medium": ("small", "large")}  # fmt: skip


@dataclass(frozen=True, slots=True)
class OwnMeasure:
    """One row of the table's ``measure``, made ready.

    Attributes:
        unit: canonical unit, or the table's own word.
        grams: g in ONE unit, edible part.
        ml: US millilitres in one unit, 0 when it is no volume.
        size: "" when none.
        words: what the qualifier says beside sizes and dimensions, forms made canonical.
        n: pieces weighed, 0 where the source is silent.
        sd: g a piece, 0 where the source is silent.
        label: as a reason cites it.
        across: cm in diameter, 0 where the table says none.
        by_dimension: the qualifier gives lengths, which tell this piece from others.
    """

    unit: str
    grams: float
    ml: float
    size: str
    words: frozenset[str]
    n: int
    sd: float
    label: str
    across: float = 0.0
    by_dimension: bool = False


@dataclass(frozen=True, slots=True)
class OwnMeasures:
    """The usable measures of one food."""

    volumes: tuple[OwnMeasure, ...]
    counts: Mapping[str, tuple[OwnMeasure, ...]]
    category: str


@lru_cache(maxsize=4_000)
def qualifier_words(qualifier: str) -> frozenset[str]:
    """The telling words of a qualifier, forms canonical: "sliced or chopped" → sliced, chopped."""
    text = _UNPACKED.sub("loose", qualifier.lower())
    text = re.sub(r"\([^)]*\b(?:dia|oz|cups?|fl|long|thick|of|yields?)\b[^)]*\)", " ", text)
    stop = word_list("not_a_form")
    return frozenset(
        FORM_OF.get(word, word)
        for word in words(_DIMENSION.sub(" ", text))
        if word not in stop and len(word) > 1
    )


def read_own(
    rows: list[tuple[float, str, str, str, float, int | None, float | None, int, str]],
    category: str,
    units: KitchenUnits,
    description: str = "",
) -> OwnMeasures:
    """Make a food's rows ready.

    Args:
        rows: (amount, unit, qualifier, size, grams, n, sd_grams, seq, source) of one food.
        category: its group in the table.
        units: for the volumes.
        description: its name; "Eggs, Grade A, Large" says what size its pieces are.
    """
    stated_sizes = set(_SIZE_WORD.findall(description.lower()))
    stated_size = stated_sizes.pop() if len(stated_sizes) == 1 else ""
    volumes: list[OwnMeasure] = []
    counts: dict[str, list[OwnMeasure]] = {}
    for amount, unit, qualifier, size, grams, n, sd, seq, source in rows:
        if unit in _NOT_FOR_WEIGHING or not amount > 0 or not grams > 0:
            continue
        low = qualifier.lower()
        if "yields" in low and ("dry" in low or "prepared" in low or "pits" in low):
            continue
        if "hulls" in low or "in shell" in low:  # a cup of unshelled nuts
            continue
        if "not eaten" in low:  # bread without its crust: given at less than half of the slice
            continue
        label = f"{amount:g} {size + ' ' if size and size not in low else ''}"
        label += unit if unit != "piece" else ("" if qualifier else "piece")
        label = f"{label.strip()}{' ' + qualifier if qualifier else ''} = {grams:g} g"
        label += f", {'n ' + str(n) + ', ' if n else ''}"
        label += f"SR28 measure {seq}" if source.startswith("SR28") else source
        measure = OwnMeasure(
            unit, grams / amount, units.ml(unit, "us") or 0.0, size,
            qualifier_words(qualifier), n or 0, sd or 0.0, label, _diameter(low),
            _LENGTH.search(low) is not None,
        )  # fmt: skip
        if measure.ml:
            volumes.append(measure)
        else:
            counts.setdefault(unit, []).append(measure)
            if stated_size and not size and unit == "piece":
                counts[unit].append(replace(measure, size=stated_size))
    return OwnMeasures(
        tuple(volumes),
        {unit: _size_by_weight(of_unit) for unit, of_unit in counts.items()},
        category,
    )


def with_reference(own: OwnMeasures, reference: OwnMeasures, description: str) -> OwnMeasures:
    """A food's own measures, completed by those of the reference food.

    A measure of the reference is added where the food has none of that form (volumes), or of that
    unit and size (pieces).

    Args:
        own: the food's own measures; they come first.
        reference: measures of the reference food.
        description: its description, cited in the reasons.
    """

    def cited(row: OwnMeasure) -> OwnMeasure:
        return replace(row, label=f"{row.label} of {description}")

    forms = {row.words for row in own.volumes}
    volumes = [cited(row) for row in reference.volumes if row.words not in forms]
    counts = dict(own.counts)
    for unit, rows in reference.counts.items():
        present = counts.get(unit, ())
        sizes = {_plain_size(row.size) for row in present}
        added = (cited(row) for row in rows if _plain_size(row.size) not in sizes)
        counts[unit] = (*present, *added)
    return OwnMeasures((*own.volumes, *volumes), counts, reference.category)


def _plain_size(size: str) -> str:
    """A piece without a size is one of medium size."""
    return "" if size in ("medium", "regular") else size


def _size_by_weight(rows: list[OwnMeasure]) -> tuple[OwnMeasure, ...]:
    """Name the sizes of pieces that the source tells apart by their dimensions alone.

    Two such pieces are a small and a large one, three have a medium one between; one that weighs
    between the small and the large one is the medium one.
    """
    kinds: dict[frozenset[str], list[OwnMeasure]] = {}
    for row in rows:
        kinds.setdefault(row.words, []).append(row)
    named: dict[int, str] = {}
    for alike in kinds.values():
        by_size = {row.size: row.grams for row in alike if row.size}
        plain = sorted((row for row in alike if not row.size and row.by_dimension),
                       key=lambda row: row.grams)  # fmt: skip
        if not by_size and len(plain) in (2, 3):
            sizes = ("small", "large") if len(plain) == 2 else ("small", "medium", "large")
            named |= {id(row): size for row, size in zip(plain, sizes, strict=True)}
        elif len(plain) == 1 and "medium" not in by_size:
            least, most = by_size.get("small", math.inf), by_size.get("large", 0.0)
            if least < plain[0].grams < most:
                named[id(plain[0])] = "medium"
    return tuple(replace(row, size=named[id(row)]) if id(row) in named else row for row in rows)


def _diameter(qualifier: str) -> float:
    """cm across of "approx 7-8" dia", 0 when none is written."""
    hit = _DIAMETER.search(qualifier)
    if hit is None:
        return 0.0
    wide = [float(part) for part in hit.groups() if part]
    return sum(wide) / len(wide) * 2.54


def pick_across(rows: tuple[OwnMeasure, ...], wide: float) -> OwnMeasure | None:
    """The row nearest in diameter, None when none is within ``SAME_WIDTH``."""
    fitting = [row for row in rows if row.across and abs(row.across / wide - 1) < SAME_WIDTH]
    return min(fitting, key=lambda row: abs(row.across - wide), default=None)


def line_forms(bag: Mapping[str, float], size: str) -> set[str]:
    """The forms a line says, by its words and by a size such as "packed"."""
    found = {FORM_OF[word] for word in bag if word in FORM_OF}
    if size == "packed":
        found.add("packed")
    elif size == "loosely packed":
        found.add("loose")
    return found


def _fit(measure: OwnMeasure, bag: Mapping[str, float], forms: set[str], food: Food) -> float:
    """How well the words of a measure fit the line: what it asks for and the line says, or not."""
    total = 0.0
    for word in measure.words:
        if word in FORMS:
            if word in forms:
                total += 2.0
            else:
                total -= FORMS[word].unsaid if not forms else 0.6 + 0.2 * FORMS[word].unsaid
        elif word not in food.words:
            total += 1.5 if bag.get(word) else -0.5
    return total


def pick_volume(
    food: Food, stem: str, bag: Mapping[str, float], forms: set[str]
) -> tuple[OwnMeasure, float, float, float] | None:
    """The volume row that fits, with the least and most g/ml of the rows that might be meant.

    The last number is the fit: under ``MISFIT`` the row speaks of another form than the line.
    """
    own = food.own
    if not own.volumes:
        return None
    bite_sized = own.category.startswith(("Nut", "Fruit"))
    spice = own.category.startswith("Spice")
    spoon = stem in ("tsp", "tbsp", "dessertspoon")

    def fit(measure: OwnMeasure) -> float:
        found = _fit(measure, bag, forms, food)
        if bite_sized and not forms and not measure.words.isdisjoint(("whole", "half")):
            found += 0.4
        if spice and not forms and "whole" in measure.words:
            found -= 0.6  # a spoon holds ground spice; whole ones are counted
        return found

    def rank(measure: OwnMeasure) -> float:
        alike = 0.1 if spoon == (measure.unit in ("tsp", "tbsp")) else 0.0
        return fit(measure) + (0.3 if measure.unit == stem else alike)

    best = max(own.volumes, key=rank)
    low = high = best.grams / best.ml
    if not forms:
        for measure in own.volumes:
            if not measure.words & FAR_FORMS:
                density = measure.grams / measure.ml
                low, high = min(low, density), max(high, density)
    return best, low, high, fit(best)


#: A row that fits worse than this is of another form or shape than the line's.
MISFIT = -0.3


#: Pressed down, what lies loose weighs so much more (SR28, brown sugar: a cup of it packed 220 g,
#: unpacked 145 g).
_PACKED = 1.5
#: g/ml below which a food lies loose in the cup: leaves, flakes, shavings.
_LOOSE = 0.42


def form_factor(own: OwnMeasures, measure: OwnMeasure, forms: set[str]) -> float:
    """What turns a row's weight into that of the form the line says, 1 when nothing is known.

    Cut in another way, the food stays between its lightest and its heaviest cup.
    """
    density = measure.grams / measure.ml
    if "packed" in forms and "packed" not in measure.words and density < _LOOSE:
        return _PACKED
    factor = _cut_factor(measure, forms)
    cuts = [m.grams / m.ml for m in own.volumes if m.words & FORM_FACTOR.keys() - FAR_FORMS]
    if factor == 1.0 or len(cuts) < 2 or forms & FAR_FORMS or measure.words & FAR_FORMS:
        return factor
    return min(max(factor, min(cuts) / density), max(cuts) / density)


def _cut_factor(measure: OwnMeasure, forms: set[str]) -> float:
    mine = [FORM_FACTOR[word] for word in measure.words if word in FORM_FACTOR]
    asked = [FORM_FACTOR[form] for form in forms if form in FORM_FACTOR]
    if not asked or len(mine) != 1 or forms & measure.words:
        return 1.0
    return max(asked) / mine[0]


def _sized(rows: tuple[OwnMeasure, ...], size: str) -> tuple[OwnMeasure, ...]:
    return tuple(row for row in rows if row.size == size)


def pick_count(
    rows: tuple[OwnMeasure, ...], size: str, bag: Mapping[str, float], food: Food
) -> tuple[OwnMeasure, float, float, float] | None:
    """The counted row that fits: (row, factor for the size asked, low, high), g a piece.

    Low and high come from the source's deviation, else from the neighbouring sizes.
    """
    if not rows:
        return None
    forms = line_forms(bag, size)
    by_fit = sorted(rows, key=lambda row: (-_fit(row, bag, forms, food), -row.n))
    top = _fit(by_fit[0], bag, forms, food)
    near = tuple(row for row in by_fit if top - _fit(row, bag, forms, food) < 0.9)
    factor = 1.0
    chosen = _sized(near, size) if size else ()
    if not chosen and size == "medium":
        chosen = _sized(near, "") or _sized(near, "regular")  # one without a size is a medium one
    if not chosen and size in _BETWEEN:
        ends = [_sized(near, end) for end in _BETWEEN[size]]
        if all(ends):
            below, above = ends[0][0], ends[1][0]
            middle = (below.grams + above.grams) / 2
            label = f"between {below.label} and {above.label}"
            chosen = (replace(below, grams=middle, size=size, label=label),)
    if not chosen:
        factor = size_factor(size)
        for stand_in in ("medium", "", "regular", "large", "small"):
            chosen = _sized(near, stand_in)
            if chosen:
                factor /= SIZE_FACTOR[stand_in] if size else 1.0
                break
    row = chosen[0] if chosen else near[0]
    if not size and row.size and row.size in SIZE_FACTOR:
        factor /= SIZE_FACTOR[row.size]
    grams = row.grams * factor
    low, high = 0.82 * grams, 1.2 * grams
    if not size:
        # No size is said: any ordinary one may be meant.
        others = [other.grams for other in near if other.size in ("small", "medium", "large", "")]
        low = min(0.8 * grams, max(min(others, default=grams), 0.6 * grams))
        high = max(1.3 * grams, min(max(others, default=grams), 1.6 * grams))
    if row.sd:
        spread = min(1.645 * row.sd / row.grams, 0.6)
        low, high = min(low, grams * (1 - spread)), max(high, grams * (1 + spread))
    return row, factor, max(low, 0.2 * grams), high
