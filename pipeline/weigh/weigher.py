"""From what a line says and the food it means to grams: the weigh stage.

One rule of precedence runs through it: a weight on the line beats a volume, a volume beats a count
(``choose.py``), and the food's own measure beats the table for its kind, except where that table
says the own measure is a poor guess for a home kitchen. A food without a measure that fits, as in a
table of values only, is weighed by the measures of the reference food of the same concept. The ways
of weighing one unit are in ``ways.py``. What cannot be known stays None with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from pipeline.foods import singular
from pipeline.lines.model import Measure, ParsedLine
from pipeline.lines.vocabulary import LEXICON
from pipeline.units import SYSTEMS
from pipeline.weigh.case import Case, Kitchen
from pipeline.weigh.choose import Chosen, choose, holds_added
from pipeline.weigh.estimate import Estimate, as_written, figure
from pipeline.weigh.food import Foods
from pipeline.weigh.kinds import line_words
from pipeline.weigh.pieces import own_piece
from pipeline.weigh.stated import weigh_measure
from pipeline.weigh.usual import measure_class, usual_amounts, usual_kind
from pipeline.weigh.weight import Weight
from pipeline.weigh.words import word_list

if TYPE_CHECKING:
    from pipeline.match.model import Match
    from pipeline.snapshot import Snapshot

_SEASONING = "Spices and Herbs"
_NO_AMOUNT = "the line gives no amount"
#: Groups of foods that are eaten by the piece: one named alone, in the singular, is one.
_SOLD_BY_PIECE = frozenset({"Baked Products", "Dairy and Egg Products"})
_ONE = Measure(1.0, "piece", "count", 1.0, 1.0, "", None, True, (0, 0))
#: Lines weighed together, each step for all of them: see ``lines.grammar``.
_TOGETHER = 64
_OPEN = Weight(
    None, None, None, "open",
    "no amount is written; the line counts as open, 0 g of it are in the totals",
)  # fmt: skip


class Weigher:
    """Weighs lines as foods of one snapshot.

    Reads every table it needs at construction; holds no open connection after it.

    Args:
        snapshot: an opened snapshot (``.connect()``).
        pantry: the creator's own foods, ``.by_id[food_id]`` with ``serving_g`` and
            ``serving_name``; None when there is none.
        spoons: system of cups and spoons where the line does not name one: us | metric | uk | au.

    Raises:
        ValueError: ``spoons`` is none of the known systems.
    """

    def __init__(
        self, snapshot: Snapshot, *, pantry: Any | None = None, spoons: str = "us"
    ) -> None:
        if spoons not in SYSTEMS:
            raise ValueError(f"spoons is {spoons!r}; it must be one of {', '.join(SYSTEMS)}")
        self._kitchen = Kitchen(Foods(snapshot), spoons, getattr(pantry, "by_id", None) or {})

    @property
    def spoons(self) -> str:
        """System of cups and spoons where the line does not name one."""
        return self._kitchen.spoons

    def with_pantry(self, pantry: Any | None) -> Weigher:
        """A weigher of another pantry over the same tables."""
        made = Weigher.__new__(Weigher)
        by_id = getattr(pantry, "by_id", None) or {}
        made._kitchen = replace(self._kitchen, pantry=by_id, per_unit={})
        return made

    def weigh(self, parsed: Sequence[ParsedLine], matches: Sequence[Match]) -> list[Weight]:
        """Weigh every line as the food it was matched to.

        Args:
            matches: their foods, in the same order.

        Returns:
            One ``Weight`` a line, in order.

        Raises:
            ValueError: the two differ in length.
        """
        if len(parsed) != len(matches):
            raise ValueError(f"{len(parsed)} lines but {len(matches)} matches")
        like = sorted(range(len(parsed)), key=lambda at: _kind_and_food(parsed[at], matches[at]))
        weights: dict[int, Weight] = {}
        for start in range(0, len(like), _TOGETHER):
            together = like[start : start + _TOGETHER]
            pairs = [(parsed[at], matches[at]) for at in together]
            cases = [self._case(p, m.food_id, m.description, m.reference_id) for p, m in pairs]
            weights.update(zip(together, _weights(cases), strict=True))
        return [weights[at] for at in range(len(parsed))]

    def weigh_one(
        self,
        parsed: ParsedLine,
        food_id: str | None,
        description: str = "",
        reference_id: str | None = None,
    ) -> Weight:
        """Weigh one line as one food, chosen or runner-up; total: never raises on a line.

        Args:
            food_id: the food, None when the line is unmatched: a mass is still a mass, and a
                volume is weighed by the kind of food the name tells.
            description: its name, used for foods the snapshot does not hold (pantry, recipes).
            reference_id: the measured food of the same concept, whose measures, density, refuse
                and food group fill in for those the food lacks; default: ``food.reference_id`` of
                the snapshot.
        """
        return _weights([self._case(parsed, food_id, description, reference_id)])[0]

    def _case(
        self, parsed: ParsedLine, food_id: str | None, description: str, reference_id: str | None
    ) -> Case | Weight:
        """The line with its food; its weight where there is nothing to weigh."""
        if parsed.kind != "food":
            return _none("the line names no food")
        if not parsed.measures:
            groups = self._kitchen.foods.groups_of(food_id, reference_id)
            if _is_open(parsed, groups):
                return _OPEN
            size = _size_of_one(parsed.name)
            by_piece = size or not _SOLD_BY_PIECE.isdisjoint(groups)
            if not by_piece or not _names_one(parsed.name):
                return _none(_NO_AMOUNT)
            one = replace(_ONE, size=size)
            parsed = replace(parsed, measures=(one,), flags=parsed.flags | {"amount_assumed"})
        if food_id is not None and food_id.startswith("recipe:"):
            return _of_recipe(parsed)
        foods = self._kitchen.foods
        reference = foods.reference_of(food_id, reference_id)
        food = foods.food(food_id, description, reference)
        return Case(self._kitchen, parsed, food_id, food, reference)

    def energies(self, food_ids: Iterable[str]) -> dict[str, float]:
        """kcal per 100 g of foods of the snapshot, those without a value left out."""
        return self._kitchen.foods.energies(food_ids)

    def group_of(self, food_id: str | None, reference_id: str | None = None) -> str:
        """Food group of a food in the reference table, else in its own; "" when not known."""
        return self._kitchen.foods.group_of(food_id, reference_id)


def _kind_and_food(parsed: ParsedLine, match: Match) -> tuple[str, str]:
    """Lines that are alike in both are weighed one after the other."""
    measures = parsed.measures
    return measures[0].kind if measures else "", match.food_id or ""


def _weights(cases: Sequence[Case | Weight]) -> list[Weight]:
    """Weigh some lines, step by step."""
    chosen = [(case, choose(case)) if isinstance(case, Case) else case for case in cases]
    return [one if isinstance(one, Weight) else _weight(*one) for one in chosen]


def _weight(case: Case, chosen: Chosen) -> Weight:
    measure, found, problems = chosen
    if "amount_assumed" in case.parsed.flags and measure.of_text == _ONE.of_text:
        if found is None or own_piece(case, "piece", measure.size) is None:
            return _none(_NO_AMOUNT)
        why = f"no amount is written; read as one, {found.why}"
        found = found._replace(high=2 * found.high, why=why)
    elif found is None and measure.kind == "length" and case.parsed.remarks.across_cm:
        flags = case.parsed.flags | {"amount_assumed"}
        parsed = replace(case.parsed, measures=(_ONE,), flags=flags)  # "flour tortilla (10 inch)"
        one = Case(case.kitchen, parsed, case.food_id, case.food, case.reference)
        return _weight(one, choose(one))
    if found is None:
        return _none(_why_not(case, measure), measure.unit, measure.amount)
    return _finished(case, measure, found, problems)


def _none(why: str, unit: str = "", amount: float | None = None) -> Weight:
    return Weight(None, None, None, "none", why, unit, amount)


def _is_open(parsed: ParsedLine, groups: list[str]) -> bool:
    """Whether a line without an amount is of a food of which none is meant to be counted."""
    if parsed.flags & word_list("open_flag") or _SEASONING in groups:
        return True
    return not line_words(parsed.name).keys().isdisjoint(word_list("seasoning"))


def _names_one(name: str) -> bool:
    """ "English muffin", and not "muffins"."""
    last = name.rpartition(" ")[2]
    return singular(last) == last


def _size_of_one(name: str) -> str:
    """ "small" of "small red onion": who gives a size means one; "" where none is given."""
    first, _, rest = name.partition(" ")
    entry = LEXICON.get(first)
    size, not_before = (entry and entry.bare_size) or ("", frozenset())
    return size if rest and rest.split()[0] not in not_before else ""


def _finished(case: Case, measure: Measure, found: Estimate, problems: tuple[str, ...]) -> Weight:
    """The weight of the whole line: with what is added, by its flags, asked where it is unusual."""
    parsed = case.parsed
    grams, low, high, basis, why, _ = found
    added = parsed.plus if parsed.plus and not holds_added(case, measure, grams) else ()
    for extra in added:
        more = weigh_measure(case, extra)
        if more is None:
            problems = (*problems, "plus-not-weighed")
            why += f"; the added {as_written(extra)} could not be weighed"
            continue
        grams, low, high = grams + more.grams, low + more.low, high + more.high
        why += f"; plus {more.why}"
    if parsed.flags or parsed.used != 1:
        grams, low, high, why = _by_flags(parsed, grams, low, high, why)
    doubt = "" if basis in ("mass", "pantry") else _doubt(case, measure, grams)
    if doubt:
        problems, why = (*problems, "amount-unusual"), f"{why}; {doubt}"
    return Weight(
        grams, min(low, grams), max(high, grams), basis, why, measure.unit, measure.amount, problems
    )


def _by_flags(
    parsed: ParsedLine, grams: float, low: float, high: float, why: str
) -> tuple[float, float, float, str]:
    flags = parsed.flags
    if "each" in flags and len(parsed.each_of) > 1:
        n = len(parsed.each_of)
        grams, low, high = grams * n, low * n, high * n
        why += f"; so much of each of {n}"
    if parsed.used != 1:
        grams, low, high = grams * parsed.used, low * parsed.used, high * parsed.used
        why += f"; {parsed.used:.0%} of it, as the line says"
    if "plus_extra" in flags:
        grams, high = grams * 1.05, max(high * 1.4, high + 5)
        why += "; with 5 % for the extra"
    if "optional" in flags:
        low = 0.0
        why += "; optional, so it may be left out"
    return grams, low, high, why


def _doubt(case: Case, measure: Measure, grams: float) -> str:
    """What lines of the kind usually come to, where this one is far from it; else ""."""
    if case.food_id is None:
        return ""
    if measure.each is not None and measure.each.kind == "mass" and measure.kind == "package":
        return ""
    foods = case.kitchen.foods
    usual = usual_amounts().unusual(
        usual_kind(foods.group_of(case.food_id), case.parsed.part), measure_class(measure.unit),
        grams, foods.kcal(case.food_id, grams),
    )  # fmt: skip
    if usual is None:
        return ""
    unit = "g" if usual.what == "grams" else "kcal"
    return (
        f"lines of its kind come to {figure(usual.low)} to {figure(usual.high)} {unit} in a "
        f"recipe ({usual.n} counted), so it is asked"
    )


def _of_recipe(parsed: ParsedLine) -> Weight:
    measure = parsed.measures[0]
    return Weight(
        None, None, None, "recipe",
        f"{as_written(measure)} of another recipe; weighed with that recipe's yield",
        measure.unit, measure.amount,
    )  # fmt: skip


def _why_not(case: Case, measure: Measure) -> str:
    """Why a measure could not be weighed, and what would help."""
    if measure.kind == "share":
        return f"{as_written(measure)} of something made before; its weight is not known here"
    if not math.isfinite(measure.amount) or measure.amount < 0:
        return "the amount is not a number that can be weighed"
    return (
        f"no weight is known for one {measure.size + ' ' if measure.size else ''}{measure.unit} "
        f"of {case.food.description or case.parsed.name or 'this'}; write the amount in grams"
    )
