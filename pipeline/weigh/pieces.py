"""Counted pieces and their sizes: the food's own piece, or one of its kind."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from pipeline.foods import singular, words
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate
from pipeline.weigh.kinds import NAME_WORD, Pattern
from pipeline.weigh.own import SAME_WIDTH, OwnMeasure, pick_across, pick_count
from pipeline.weigh.tables import MeasureRow
from pipeline.weigh.words import same_units, size_factor, word_list

#: A kind that the line names beats the food's own row of no kind when they are so far apart.
_OTHER_KIND = 1.5
#: Parts of which the food's own piece says nothing.
_SMALL_PARTS = frozenset(("zest", "white", "yolk"))


class OwnPiece(NamedTuple):
    """The food's own piece, and how it fits.

    Attributes:
        fit: ``exact``: of the very size; ``scaled``: from a size that is not the plain one;
            ``named``: of the very kind that the line says; "" otherwise.
    """

    estimate: Estimate
    fit: Literal["", "exact", "scaled", "named"]


def piece(case: Case, unit: str, size: str) -> Estimate | None:
    """Grams of one counted thing; None when neither the food nor its kind has one."""
    part = "" if case.parsed.part in word_list("eaten_part") else case.parsed.part
    if case.across and not part:
        wide = _own_across(case, unit)
        if wide is not None:
            return wide
    table = case.kitchen.tables.pieces.get(unit)
    anything = [row for row in table.anything if row.part == part] if table is not None else []
    ranked = table.ranked(case.bag) if table is not None else []
    rows = [
        (score, row)
        for score, row in ranked
        if row.part == part and not (unit == "piece" and row.sliced and _of_other_form(case, row))
    ]
    best = sized_row(rows, size, case.across)
    own = own_piece(case, unit, size) if part not in _SMALL_PARTS else None
    if best is not None and (own is None or _kind_first(case, best, own, rows, size)):
        return _of_kind(best, size, unit)
    if own is not None:
        return own.estimate
    return _of_kind(anything[0], size, unit) if anything else None


def _of_other_form(case: Case, row: MeasureRow) -> bool:
    """ "2 lardons" are no slices of bacon: a bare count is one of slices only where the name ends
    with what is sliced."""
    head = words(case.parsed.name)[-1:]
    named = {word.removeprefix("=") for slot in Pattern.parse(row.food).slots for word in slot}
    return bool(head) and named.isdisjoint(head)


def _kind_first(
    case: Case, best: MeasureRow, own: OwnPiece, rows: list[tuple[float, MeasureRow]], size: str
) -> bool:
    """Whether the row of the kind goes before the food's own piece."""
    # A size that only the food's own rows know beats a plain row scaled to it.
    known = own.fit == "exact" and best.size != size
    known = known and not any(row.size for score, row in rows if score > rows[0][0] - 0.05)
    if own.fit == "scaled" or (best.override and not known):
        return True
    return own.fit != "named" and _names_other_kind(case, best, own.estimate.grams)


def _names_other_kind(case: Case, row: MeasureRow, own_g: float) -> bool:
    """The line itself names the kind of the row, and such a piece is far from the food's own."""
    if max(row.value, own_g) < _OTHER_KIND * min(row.value, own_g):
        return False
    pattern = Pattern.parse(row.food)
    if not pattern.score(case.line):
        return False
    return any(not any(word in case.food.words for word in slot) for slot in pattern.slots)


def own_piece(case: Case, unit: str, size: str) -> OwnPiece | None:
    """The food's own piece of a unit and size."""
    counts = case.food.own.counts
    if not counts:
        return None
    named: list[str] = []
    if unit == "piece":  # "2 pepper rings"; of "2 peppers, cut in rings" it is the peppers
        named = [word for word in counts if case.line.get(word, 0.0) >= NAME_WORD]
    for name in (*named, *same_units(unit)):
        picked = pick_count(counts.get(name, ()), size, case.line, case.food)
        if picked is None:
            continue
        row, factor, low, high = picked
        label = row.label if factor == 1.0 else f"{row.label}, x {factor:.2g} for {size}"
        estimate = Estimate(row.grams * factor, low, high, "count_weight", f"[{label}]")
        return OwnPiece(estimate, _fit_of(case, row, factor, size))
    return None


def _fit_of(
    case: Case, row: OwnMeasure, factor: float, size: str
) -> Literal["", "exact", "scaled", "named"]:
    # Scaled from another size than the plain one: the table of kinds may know better.
    if factor != 1.0 and row.size not in ("", "medium", "regular"):
        return "scaled"
    if size and row.size == size:
        return "exact"
    if any(word in case.line and word not in case.food.words for word in row.words):
        return "named"
    return ""


def _own_across(case: Case, unit: str) -> Estimate | None:
    """The food's own piece of the width that the line gives."""
    for name in same_units(unit):
        row = pick_across(case.food.own.counts.get(name, ()), case.across)
        if row is not None:
            return Estimate(
                row.grams, row.grams * 0.85, row.grams * 1.2, "count_weight", f"[{row.label}]"
            )
    return None


def sized_row(rows: list[tuple[float, MeasureRow]], size: str, wide: float) -> MeasureRow | None:
    """The best row of the size asked among the best fitting ones, else the one for any size.

    Args:
        rows: with their scores, best first.
        wide: cm that the line gives the thing; rows of size "20 cm" are for it.
    """
    if not rows:
        return None
    near = [row for score, row in rows if score > rows[0][0] - 0.05]
    if wide:
        for row in near:
            if row.size.endswith(" cm") and abs(float(row.size[:-3]) / wide - 1) < SAME_WIDTH:
                return row
    of_size = (row for row in near if row.size == size)
    of_any = (row for row in near if not row.size)
    farther = (row for _, row in rows if not row.size or row.size == size)
    return next(of_size, None) or next(of_any, None) or next(farther, None) or near[0]


def _of_kind(row: MeasureRow, size: str, unit: str) -> Estimate:
    """A piece by the table of kinds."""
    factor = 1.0
    if row.size != size:
        factor = size_factor(size) / size_factor(row.size)
        if row.part:  # juice and yolk grow less than the fruit and the egg
            factor = math.sqrt(factor)
    low, high = row.low, row.high
    if size and factor != 1.0:  # a size on the line narrows the range, and moves it
        low, high = row.value * 0.75, row.value * 1.3
    asked = f"{size} " if size else ""
    thing = f"{asked}{unit} of {row.kind}" if unit != "piece" else f"{asked}{row.kind}"
    if row.part:
        thing = f"{asked}{row.kind}'s {row.part}"
    why = f"{thing} [{row.cited}]"
    return Estimate(row.value * factor, low * factor, high * factor, "count_weight", why)


def made_whole(case: Case, unit: str, size: str) -> Estimate | None:
    """ "1 recipe pie crust": a recipe makes one shell, at most a double one; else not known."""
    head = singular(case.parsed.name.rpartition(" ")[2])
    found = piece(case, "piece", size) if head in word_list("made_one") else None
    if found is None:
        return None
    return found._replace(high=2 * found.high, why=f"a recipe makes one or two, {found.why}")
