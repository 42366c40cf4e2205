"""From what a line says and the food it means to grams: the weigh stage.

One rule of precedence runs through it: a weight on the line beats a volume, a volume beats a count,
and the food's own measure beats the table for its kind, except where that table says the own
measure is a poor guess for a home kitchen. A food without a measure that fits, as in a table of
values only, is weighed by the measures of the reference food of the same concept. What cannot be known stays
None with the reason.
"""

from __future__ import annotations

import copy
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from pipeline.foods import singular
from pipeline.lines.model import Measure, ParsedLine
from pipeline.units import SYSTEMS, kitchen_units, stem_of
from pipeline.weigh.hints import AFTER_MEASURING, across, done_after, market
from pipeline.weigh.kinds import NAME_WORD, Pattern, food_words, line_words, word_set
from pipeline.weigh.model import Basis, Weight
from pipeline.weigh.own import (
    FORMS,
    MISFIT,
    SAME_WIDTH,
    OwnMeasures,
    form_factor,
    line_forms,
    pick_across,
    pick_count,
    pick_volume,
    read_own,
    same_units,
    size_factor,
    with_reference,
)
from pipeline.weigh.refuse import FoodRefuse, edible_share, read_refuse
from pipeline.weigh.tables import Amount, WeighTables, weigh_tables
from pipeline.weigh.usual import measure_class, usual_amounts, usual_kind

if TYPE_CHECKING:
    from pipeline.match.model import Match
    from pipeline.snapshot import Snapshot

#: Two measures of one line may differ by this much before it is worth a remark.
DISAGREES = 1.35
#: A weight and a volume so far apart are no loose or pressed cup: one of them is a slip, so the
#: line is asked (a loose and a pressed cup of one food differ by up to three, SR28).
FAR_APART = 3.0
#: A weight beside a count says what such a piece weighs: only a slip is further apart.
PIECE_DISAGREES = 2.5
_METRIC_VOLUMES = frozenset(("ml", "cl", "dl", "l"))
_PLAIN_MASS = 0.02
#: How much nearer, in logs, one reading of a weight must be to what such a piece weighs.
_DECISIVE = 0.08
_HEDGED_MASS = 0.05
#: How much nearer, in logs, one reading of a weight in parentheses must be to need no question.
_CLEAR = 0.7
_NEARER = 0.35
_EACH = re.compile(r"^[^()]*\b(?:each|apiece|ea|per|total|in all|altogether)\b", re.IGNORECASE)
_HEAPED = {"heaped": 1.4, "rounded": 1.2, "scant": 0.9, "level": 1.0}
_OPEN_FLAGS = word_set(
    "to_taste as_needed for_greasing for_dusting for_frying for_serving for_garnish plus_extra "
    "optional vague"
)
_SEASONING = ("Spices and Herbs",)
_SEASONING_WORDS = word_set("salt pepper seasoning water ice spice herb")
#: Kinds of measure whose weight differs from market to market.
_SOLD_AS = frozenset(("package", "count"))
#: What a sign of the market counts for among the words of a line: enough to choose between rows.
_SIGN = 0.5
#: A kind that the line names beats the food's own row of no kind when they are so far apart.
_OTHER_KIND = 1.5
#: Parts that are the thing itself, as its pieces are weighed.
_EATEN_PARTS = word_set("flesh pulp meat")
#: First words of a name that are a package no table knows: not one piece of the food.
_HOLDERS = word_set(
    "sleeve sleeves crate crates basket baskets canister canisters jug jugs wheel wheels log logs "
    "sack sacks tray trays stack stacks bucket buckets vial vials"
)
#: Of these a recipe makes one whole, as they are bought; of others it makes any number.
_MADE_ONE = word_set("crust shell")
#: A pint is 473 ml in the United States and 568 ml elsewhere.
_PINTS = word_set("pint quart gallon gill")
_PINT_RATIO = 1.201
#: How a cup was filled: where the food's own row says the same, it goes before any other row.
_FILLED = frozenset(("packed", "loose"))
#: A powder's ml when nothing is known of it but that a pinch or a drop is meant.
_TINY = frozenset(("pinch", "dash", "smidgen", "drop", "sprinkle"))
_TINY_DENSITY = 0.55
_OPEN_REASON = "no amount is written; the line counts as open, 0 g of it are in the totals"


class Estimate(NamedTuple):
    """Grams of one unit (or of the whole measure) with the ends of a 90 % range, and why."""

    grams: float
    low: float
    high: float
    basis: Basis
    why: str
    problem: str = ""


@dataclass(slots=True)
class _Food:
    """What the snapshot knows of one food, made ready for weighing."""

    words: Mapping[str, float]
    category: str
    own: OwnMeasures
    refuse: FoodRefuse | None
    description: str
    state: str = ""  # descriptions that may state liquid or draining, lower case


@dataclass(slots=True)
class _Case:
    """One line with one food: the words that choose among measures."""

    parsed: ParsedLine
    food: _Food
    line: dict[str, float]  # words of the line alone
    bag: dict[str, float]  # with the food's
    across: float  # cm that the line gives the thing, 0 when none
    key: tuple[object, ...]


_NO_FOOD = _Food({}, "", OwnMeasures((), {}, ""), None, "")


class Weigher:
    """Weighs lines as foods of one snapshot.

    Reads every table it needs at construction (some 40 ms); holds no open connection after it.

    Args:
        snapshot: an opened snapshot (``.connect()``).
        pantry: the creator's own foods, ``.by_id[food_id]`` with ``serving_g`` and
            ``serving_name``; None when there is none.
        spoons: system of cups and spoons where the line does not say: us | metric | uk | au.

    Raises:
        ValueError: ``spoons`` is none of the known systems.
    """

    def __init__(
        self, snapshot: Snapshot, *, pantry: Any | None = None, spoons: str = "us"
    ) -> None:
        if spoons not in SYSTEMS:
            raise ValueError(f"spoons is {spoons!r}; it must be one of {', '.join(SYSTEMS)}")
        self.spoons = spoons
        self._home = "" if spoons == "us" else "uk"  # us is the default, so it says nothing
        self._pantry: Mapping[str, Any] = getattr(pantry, "by_id", None) or {}
        self._units = kitchen_units()
        self._tables: WeighTables = weigh_tables()
        con = snapshot.connect()
        try:
            foods = con.execute(
                "select food_id, description, category, refuse_pct, refuse from food"
            ).fetchall()
            references = con.execute(
                "select food_id, reference_id from food where reference_id is not null"
            ).fetchall()
            energies = con.execute(
                "select food_id, amount_per_100g from food_nutrient where nutrient = 'ENERC_KCAL'"
            ).fetchall()
            measures = con.execute(
                "select food_id, amount, unit, qualifier, size, grams, n, sd_grams, seq, source "
                "from measure order by food_id, seq"
            ).fetchall()
        finally:
            con.close()
        self._rows: dict[str, tuple[str, str, float | None, str]] = {
            row[0]: row[1:] for row in foods
        }
        self._references: dict[str, str] = dict(references)
        self._energy: dict[str, float] = dict(energies)
        self._amounts = usual_amounts()
        self._measures: dict[str, list[tuple[Any, ...]]] = {}
        for row in measures:
            self._measures.setdefault(row[0], []).append(row[1:])
        self._foods: dict[tuple[str, str], _Food] = {}
        self._per_unit: dict[tuple[object, ...], Estimate | None] = {}

    def with_pantry(self, pantry: Any | None) -> Weigher:
        """A weigher of another pantry over the same tables."""
        made = copy.copy(self)
        made._pantry = getattr(pantry, "by_id", None) or {}
        made._per_unit = {}
        return made

    # --- doors --------------------------------------------------------------------------------

    def weigh(self, parsed: Sequence[ParsedLine], matches: Sequence[Match]) -> list[Weight]:
        """Weigh every line as the food it was matched to.

        Args:
            parsed: distinct lines.
            matches: their foods, in the same order.

        Returns:
            One ``Weight`` a line, in order.

        Raises:
            ValueError: the two differ in length.
        """
        if len(parsed) != len(matches):
            raise ValueError(f"{len(parsed)} lines but {len(matches)} matches")
        return [
            self.weigh_one(line, match.food_id, match.description, match.reference_id)
            for line, match in zip(parsed, matches, strict=True)
        ]

    def weigh_one(
        self,
        parsed: ParsedLine,
        food_id: str | None,
        description: str = "",
        reference_id: str | None = None,
    ) -> Weight:
        """Weigh one line as one food, chosen or runner-up; total: never raises on a line.

        Args:
            parsed: the line.
            food_id: the food, None when the line is unmatched: a mass is still a mass, and a
                volume is weighed by the kind of food the name tells.
            description: its name, used for foods the snapshot does not hold (pantry, recipes).
            reference_id: the measured food of the same concept, whose measures, density, refuse
                and food group fill in for those the food lacks; default: ``food.reference_id`` of
                the snapshot.
        """
        if parsed.kind != "food":
            return Weight(None, None, None, "none", "the line names no food")
        if not parsed.measures:
            return self._without_measure(parsed, food_id, reference_id)
        if food_id is not None and food_id.startswith("recipe:"):
            return _of_recipe(parsed)
        case = self._case(parsed, food_id, description, reference_id)
        measure, found, problems = self._choose(case, food_id)
        if found is None:
            return Weight(
                None, None, None, "none", _why_not(parsed, measure, case.food), measure.unit,
                measure.amount,
            )  # fmt: skip
        return self._finish(case, measure, found, problems, food_id)

    def group_of(self, food_id: str | None, reference_id: str | None = None) -> str:
        """Food group of a food in the reference table, else in its own; "" when not known."""
        for known in (self._reference_of(food_id, reference_id), food_id or ""):
            row = self._rows.get(known)
            if row is not None and row[1]:
                return row[1]
        return ""

    # --- the parts of a line ------------------------------------------------------------------

    def _finish(
        self,
        case: _Case,
        measure: Measure,
        found: Estimate,
        problems: tuple[str, ...],
        food_id: str | None,
    ) -> Weight:
        grams, low, high, basis, why, _ = found
        parsed = case.parsed
        for extra in () if self._holds_all(case, measure, grams, food_id) else parsed.plus:
            more = self._measure(case, extra, food_id)
            if more is None:
                problems = (*problems, "plus-not-weighed")
                why += f"; the added {extra.amount:g} {extra.unit} could not be weighed"
                continue
            grams, low, high = grams + more.grams, low + more.low, high + more.high
            why += f"; plus {more.why}"
        flags = parsed.flags
        if flags:
            if "each" in flags and len(parsed.each_of) > 1:
                n = len(parsed.each_of)
                grams, low, high = grams * n, low * n, high * n
                why += f"; so much of each of {n}"
            if "half_used" in flags:
                grams, low = grams / 2, low / 2
                why += "; half of it, as the line says"
            if "plus_extra" in flags:
                grams, high = grams * 1.05, max(high * 1.4, high + 5)
                why += "; with 5 % for the extra"
            if "optional" in flags:
                low = 0.0
                why += "; optional, so it may be left out"
        if not (math.isfinite(grams) and math.isfinite(high) and grams >= 0):
            return Weight(
                None, None, None, "none", "the amount is beyond what can be weighed", measure.unit
            )
        doubt = self._doubt(case, measure, grams, basis, food_id)
        if doubt:
            problems, why = (*problems, "amount-unusual"), f"{why}; {doubt}"
        return Weight(
            grams, min(low, grams), max(high, grams), basis, why, measure.unit, measure.amount,
            problems,
        )  # fmt: skip

    def _holds_all(self, case: _Case, measure: Measure, grams: float, food_id: str | None) -> bool:
        """Whether a weight written behind "2 cups + 2 tbsp" is of both: which sum it lies nearer."""
        parsed = case.parsed
        if measure.kind != "mass" or not parsed.plus or not grams > 0:
            return False
        others = [m for m in parsed.measures if m.kind in ("volume", "count")]
        before = measure.of_text[0]
        if not others or any(extra.of_text[1] > before for extra in parsed.plus):
            return False
        first = self._measure(case, others[0], food_id)
        added = [self._measure(case, extra, food_id) for extra in parsed.plus]
        if first is None or not first.grams > 0 or not all(added):
            return True
        both = first.grams + sum(more.grams for more in added if more is not None)
        return abs(math.log(grams / both)) < abs(math.log(grams / first.grams))

    def _doubt(
        self, case: _Case, measure: Measure, grams: float, basis: Basis, food_id: str | None
    ) -> str:
        """What lines of the kind usually come to, where this one is far from it; else ""."""
        if basis in ("mass", "pantry") or food_id is None:
            return ""
        if measure.each is not None and measure.each.kind == "mass" and measure.kind == "package":
            return ""
        energy = self._energy.get(food_id)
        found = self._amounts.unusual(
            usual_kind(self.group_of(food_id), case.parsed.part), measure_class(measure.unit), grams,
            None if energy is None else grams * energy / 100,
        )  # fmt: skip
        if found is None:
            return ""
        unit = "g" if found.what == "grams" else "kcal"
        return (
            f"lines of its kind come to {_figure(found.low)} to {_figure(found.high)} {unit} in a "
            f"recipe ({found.n} counted), so it is asked"
        )

    def _without_measure(
        self, parsed: ParsedLine, food_id: str | None, reference_id: str | None
    ) -> Weight:
        """No amount at all: open where none is meant to be counted, else not known."""
        known = map(self._rows.get, (food_id or "", self._reference_of(food_id, reference_id)))
        groups = {row[1] for row in known if row is not None}
        if parsed.flags & _OPEN_FLAGS:
            return Weight(None, None, None, "open", _OPEN_REASON)
        tokens = line_words(parsed.name)
        if groups.intersection(_SEASONING) or tokens.keys() & _SEASONING_WORDS:
            return Weight(None, None, None, "open", _OPEN_REASON)
        return Weight(None, None, None, "none", "the line gives no amount")

    def _choose(
        self, case: _Case, food_id: str | None
    ) -> tuple[Measure, Estimate | None, tuple[str, ...]]:
        """The measure that counts, weighed, and what the others say against it."""
        measures = case.parsed.measures
        if len(measures) == 1:
            found = self._measure(case, measures[0], food_id)
            problem = (found.problem,) if found is not None and found.problem else ()
            return measures[0], found, problem
        ordered = sorted(measures, key=_precedence)
        first = ordered[0]
        counted = next((m for m in measures if m.kind in ("package", "count")), None)
        merged = None
        if first.kind == "mass" and counted is not None:
            merged = self._content_of(case, counted, first)
        elif first.kind == "volume" and counted is not None and counted.kind == "package":
            merged = Measure(
                counted.amount, counted.unit, counted.kind, counted.low, counted.high,
                counted.size, first, counted.about, counted.of_text,
            )  # fmt: skip
        used: tuple[Measure, ...] = (first,)
        chosen = first
        found = None
        if merged is not None:
            chosen, used = merged, (first, counted) if counted is not None else (first,)
            found = self._measure(case, merged, food_id)
        if found is None:
            for chosen in ordered:
                found = self._measure(case, chosen, food_id, counted=counted)
                if found is not None:
                    used = (*used, chosen)
                    break
        if found is None:
            return first, None, ()
        problems: tuple[str, ...] = (found.problem,) if found.problem else ()
        if (
            merged is None
            and counted is not None
            and first.kind == "mass"
            and used == (first, chosen)
        ):
            found, problems = self._maybe_each(case, counted, first, found, problems)
        for other in measures:
            if any(other is m for m in used):
                continue
            second = self._measure(case, other, food_id)
            if second is None or not second.grams or not found.grams:
                continue
            apart = max(second.grams / found.grams, found.grams / second.grams)
            outside = found.grams < second.low * 0.9 or found.grams > second.high * 1.1
            limit = PIECE_DISAGREES if other.kind == "count" else DISAGREES
            if apart > limit and outside and not second.problem:
                problems = (*problems, "dual-measure-disagrees")
                if {first.kind, other.kind} == {"mass", "volume"} and apart > FAR_APART:
                    problems = (*problems, "amount-unusual")  # no food is so light or so heavy
                why = f"{found.why}; the line also says {_said(other)}, {_figure(second.grams)} g by the"
                why += " tables, too far apart"
                found = found._replace(why=why)
        return chosen, found, problems

    def _maybe_each(
        self, case: _Case, counted: Measure, weight: Measure, found: Estimate,
        problems: tuple[str, ...],
    ) -> tuple[Estimate, tuple[str, ...]]:  # fmt: skip
        """ "4 portions noodles (120 g)", taken as the weight of all: asked when each is likelier."""
        one = self._cached(case, counted.unit, counted.size) if counted.kind == "count" else None
        total = self._units.grams.get(weight.unit, 0.0) * weight.amount
        if one is None or counted.amount < 2 or not total:
            return found, problems
        if _EACH.search(case.parsed.text[weight.of_text[1] :]) or not one.grams:
            return found, problems
        as_each = abs(math.log(total / one.grams))
        if as_each + _NEARER > abs(math.log(total / counted.amount / one.grams)):
            return found, problems
        found = found._replace(
            high=found.high * counted.amount,
            why=f"{found.why}; it may be of each of the {counted.amount:g}",
        )
        return found, (*problems, "weight-each-or-total")

    def _content_of(self, case: _Case, counted: Measure, weight: Measure) -> Measure | None:
        """A count beside a weight: the weight of each, or of all of it?

        Of tins it is each ("2 (400 g) tins"); of pieces all of it, unless that would make a
        piece less than half of what its kind weighs. None: the weight stands alone.
        """
        net = "net_weight" in case.parsed.flags  # "1 x 400 g tin chickpeas (240 g drained)"
        if counted.each is not None and not net:
            return counted
        each = Measure(
            counted.amount, counted.unit, counted.kind, counted.low, counted.high, counted.size,
            weight, counted.about, weight.of_text,
        )  # fmt: skip
        if counted.kind == "package":
            if weight.of_text[0] < counted.of_text[0] and counted.amount > 1:
                return Measure(  # "530 g beans (about 2 cans)": the weight of them all
                    1.0, counted.unit, counted.kind, 1.0, 1.0, counted.size, weight,
                    counted.about, weight.of_text,
                )  # fmt: skip
            if counted.amount > 1:
                usual = self._content(case, counted)
                grams = self._units.grams.get(weight.unit, 0.0) * weight.amount
                if usual is not None and grams > usual.high * 1.25:
                    return Measure(
                        1.0, counted.unit, counted.kind, 1.0, 1.0, counted.size, weight,
                        counted.about, weight.of_text,
                    )  # fmt: skip
            return each
        if counted.amount >= 2:
            one = self._cached(case, counted.unit, counted.size)
            total = self._units.grams.get(weight.unit, 0.0) * weight.amount
            if one is not None and total and total / counted.amount < 0.5 * one.low:
                return each
        return None

    # --- one measure --------------------------------------------------------------------------

    def _measure(
        self,
        case: _Case,
        measure: Measure,
        food_id: str | None,
        *,
        counted: Measure | None = None,
    ) -> Estimate | None:
        """Grams of one measure, all of its amount; None when it cannot be weighed."""
        if not (measure.amount >= 0 and math.isfinite(measure.amount)):
            return None
        if measure.kind == "mass":
            return self._mass(case, measure, counted)
        if measure.each is not None:
            inside = self._inside(case, measure, measure.each)
            if inside is not None:
                return self._each_or_total(case, measure, measure.each, inside)
        if food_id is not None and food_id in self._pantry:
            own = self._of_pantry(measure, food_id)
            if own is not None:
                return own
        one = self._cached(case, measure.unit, measure.size)
        if measure.unit == "piece" and "unit-missing" in case.parsed.problems:
            return self._without_unit(case, measure, food_id)
        if one is None:
            return None
        return _times(measure, one)

    def _each_or_total(
        self, case: _Case, measure: Measure, each: Measure, inside: Estimate
    ) -> Estimate:
        """ "4 portions (120 g)": of each or of all four? What such a piece weighs tells; else ask."""
        text = case.parsed.text
        begin, end = each.of_text
        before = text[measure.of_text[0] : begin].rstrip(" ~")
        opened = before.endswith("(") and any(c.isalpha() for c in before)  # "4 portions (120 g)"
        if measure.kind != "count" or measure.amount < 2 or not opened or _EACH.search(text[end:]):
            return inside
        one = self._cached(case, measure.unit, measure.size)
        if one is not None:
            apiece = inside.grams / measure.amount
            as_each = abs(math.log(apiece / one.grams))
            as_total = abs(math.log(apiece / measure.amount / one.grams))
            if as_total - as_each > _CLEAR:
                return inside
            if as_each - as_total > _CLEAR:
                return inside._replace(
                    grams=apiece, low=inside.low / measure.amount, high=inside.high / measure.amount,
                    why=f"{_said(each)} for all {measure.amount:g}, {one.grams:.4g} g each by the tables",
                )  # fmt: skip
        return inside._replace(
            low=inside.low / measure.amount,
            why=f"{inside.why}; {_said(each)} may be for all of them", problem="weight-each-or-total",
        )  # fmt: skip

    def _without_unit(self, case: _Case, measure: Measure, food_id: str | None) -> Estimate | None:
        """ "17.3 puff pastry": no count of pieces; ounces where that is what such lines weigh."""
        grams = measure.amount * self._units.grams["oz"]
        energy = self._energy.get(food_id or "")
        odd = self._amounts.unusual(
            usual_kind(self.group_of(food_id), ""), "count", grams,
            None if energy is None else grams * energy / 100,
        )  # fmt: skip
        if odd is not None:
            return None
        return Estimate(
            grams, grams * 0.9, grams * 1.1, "mass",
            f"{measure.amount:g} counts no pieces; read as ounces, {grams:.4g} g", "unit-missing",
        )  # fmt: skip

    def _mass(self, case: _Case, measure: Measure, counted: Measure | None) -> Estimate | None:
        factor = self._units.grams.get(measure.unit)
        if factor is None:
            return None
        wide = _HEDGED_MASS if measure.about else _PLAIN_MASS
        grams = measure.amount * factor
        low = min(measure.low * factor, grams * (1 - wide))
        high = max(measure.high * factor, grams * (1 + wide))
        said = f"{measure.amount:g} {measure.unit} on the line"
        if measure.unit != "g":
            said = f"{said} = {grams:.4g} g"
        if measure.low != measure.high:
            said = f"middle of {measure.low:g} to {measure.high:g} {measure.unit} on the line"
        parsed = case.parsed
        states = parsed.states
        if states:
            poured = self._poured(case, measure, grams)
            if poured is not None:
                return Estimate(
                    grams * poured.value, low * poured.low, high * poured.high, "package",
                    f"{said}, {poured.value * 100:.0f} % left once drained [{poured.cited}]",
                )  # fmt: skip
        share, least, most, why = self._edible(case, measure, counted)
        refuse = case.food.refuse
        peel = refuse is not None and refuse.kind in ("peel", "paring", "trim")
        if share < 1.0 and peel and counted is not None and counted.kind == "count":
            pieces = self._cached(case, counted.unit, counted.size)
            if pieces is not None and grams:
                # "1 medium banana, 118 g": what such a banana weighs peeled, so peeled it is.
                eaten = counted.amount * pieces.grams
                nearer = abs(math.log(grams * share / eaten)) - abs(math.log(grams / eaten))
                if nearer > _DECISIVE:
                    share, most, why = 1.0, 1.0, ""
                elif nearer > -_DECISIVE:
                    share, most, why = (1 + share) / 2, 1.0, f"half of {why}"
        if share == least == most == 1.0:
            return Estimate(grams, low, high, "mass", said)
        if why:
            said = f"{said}, less {why}"
        return Estimate(grams * share, low * least, high * most, "mass", said)

    def _edible(
        self, case: _Case, measure: Measure, counted: Measure | None
    ) -> tuple[float, float, float, str]:
        food = case.food
        return edible_share(
            case.parsed, measure, case.bag, food.refuse, self._tables,
            piece=counted is not None and counted.unit == "piece",
        )  # fmt: skip

    def _poured(self, case: _Case, measure: Measure, grams: float) -> Amount | None:
        """A weight without a tin that can only be a tin's: "400 g canned beans, drained"."""
        states = case.parsed.states
        if "net_weight" in case.parsed.flags:
            return None
        if "squeez" in case.parsed.text and {"thawed", "frozen", "drained"} & states:
            return self._tables.squeezed.best(case.bag)
        if not ("canned" in states and {"drained", "rinsed"} & states):
            return None
        if not any(abs(grams - size) < 6 for size in (400, 410, 425, 439, 800)):
            return None
        before = case.parsed.text.lower().find("drained")
        if -1 < before < measure.of_text[0]:
            return None
        return self._drained(case)

    def _drained(self, case: _Case) -> Amount | None:
        """Share left of a package's weight once drained: of its kind, else of any tin."""
        found = self._tables.drained.best(case.bag)
        tinned = "canned" in case.parsed.states or "jarred" in case.parsed.states
        tinned = tinned or any(m.unit in ("tin", "jar") for m in case.parsed.measures)
        if found is None and tinned and self._tables.drained.anything:
            return self._tables.drained.anything[0]
        return found

    def _inside(self, case: _Case, measure: Measure, each: Measure) -> Estimate | None:
        """So many packages or pieces of a stated content each."""
        n = measure.amount
        spread = 0.02 if not (each.about or measure.about) else 0.05
        if each.kind == "mass":
            factor = self._units.grams.get(each.unit)
            if factor is None:
                return None
            one = each.amount * factor
            said = f"{n:g} x {each.amount:g} {each.unit}"
        elif each.kind == "volume":
            per = self._cached(case, each.unit, "")
            if per is None:
                return None
            one = each.amount * per.grams
            spread = max(spread, 0.03)
            said = f"{n:g} x {each.amount:g} {each.unit}, {per.why}"
        elif each.each is None and each.kind == "count":
            per = self._cached(case, each.unit, each.size)
            if per is None:
                return None
            return _times(measure, Estimate(
                per.grams * each.amount, per.low * each.amount, per.high * each.amount,
                per.basis, f"{each.amount:g} {each.unit} each: {per.why}",
            ))  # fmt: skip
        else:
            return None
        grams = n * one
        low = min(measure.low * one, measure.low * each.low * one / each.amount
                  if each.amount else grams) * (1 - spread)  # fmt: skip
        high = max(measure.high * one, measure.high * each.high * one / each.amount
                   if each.amount else grams) * (1 + spread)  # fmt: skip
        if measure.kind == "package":
            share = self._drained_share(case, measure)
            if share is not None:
                return Estimate(
                    grams * share.value, low * share.low, high * share.high, "package",
                    f"{said}, {share.value * 100:.0f} % left once drained [{share.cited}]",
                )  # fmt: skip
            if "squeez" in case.parsed.text.lower():
                pressed = self._tables.squeezed.best(case.bag)
                if pressed is not None:
                    return Estimate(
                        grams * pressed.value, low * pressed.low, high * pressed.high, "package",
                        f"{said}, {pressed.value * 100:.0f} % left once squeezed [{pressed.cited}]",
                    )  # fmt: skip
            return Estimate(grams, low, high, "package", said)
        share_of, least, most, why = edible_share(
            case.parsed, each, case.bag, case.food.refuse, self._tables,
            piece=measure.unit == "piece",
        )  # fmt: skip
        if why:
            said = f"{said}, less {why}"
        return Estimate(grams * share_of, low * least, high * most, "mass", said)

    def _drained_share(self, case: _Case, measure: Measure) -> Amount | None:
        """What is left of a package's stated weight without its liquid; None: all of it counts."""
        states = case.parsed.states
        if "undrained" in states or "net_weight" in case.parsed.flags:
            return None
        if {"drained", "rinsed"} & states:
            return self._drained(case)
        # Not said: go by the food that the line was matched to.
        if stem_of(measure.unit) not in ("tin", "jar"):
            return None
        text = case.food.state
        if "liquid" in text:
            return None
        boiled_pulse = case.food.category.startswith("Legume") and "boiled" in text
        if "drained" in text or boiled_pulse:
            share = self._tables.drained.best(case.bag)
            if share is not None:
                return Amount(
                    share.value, share.low, 1.0, share.of, "", "", False, share.food,
                    share.source, share.note,
                )  # fmt: skip
        return None

    def _of_pantry(self, measure: Measure, food_id: str) -> Estimate | None:
        """The creator's label: what a serving weighs, where the line counts such servings."""
        entry = self._pantry[food_id]
        grams = getattr(entry, "serving_g", None)
        name = str(getattr(entry, "serving_name", "") or "")
        if not grams or not grams > 0:
            return None
        held, unit = _serving(name)
        wanted = stem_of(measure.unit)
        if (
            wanted == unit
            or (wanted in ("portion", "serving"))
            or (wanted == "piece" and unit not in _VOLUME_WORDS)
        ):
            one = grams / held
        elif unit in _VOLUME_WORDS:
            ml = self._units.ml(measure.unit, self.spoons)
            holds = self._units.ml(unit, self.spoons)
            if not ml or not holds:
                return None
            one = grams / held * ml / holds
        else:
            return None
        label = f"{name or 'serving'} = {grams:g} g on the creator's own label"
        return _times(measure, Estimate(one, one * 0.95, one * 1.05, "pantry", label))

    # --- one unit of a food -------------------------------------------------------------------

    def _cached(self, case: _Case, unit: str, size: str) -> Estimate | None:
        key = (unit, size, *case.key)
        try:
            return self._per_unit[key]
        except KeyError:
            found = self._one(case, unit, size)
            if len(self._per_unit) > 200_000:
                self._per_unit.clear()
            self._per_unit[key] = found
            return found

    def _one(self, case: _Case, unit: str, size: str) -> Estimate | None:
        """Grams of one unit of this food."""
        ml = self._units.ml(unit, self.spoons)
        if ml is not None:
            return self._volume(case, unit, size, ml)
        if unit in self._units.grams:
            grams = self._units.grams[unit]
            return Estimate(grams, grams * 0.98, grams * 1.02, "mass", f"{grams:g} g")
        if unit == "whole":
            return self._made_whole(case, size)
        if unit == "mm":
            tenth = self._one(case, "cm", size)
            return None if tenth is None else tenth._replace(
                grams=tenth.grams / 10, low=tenth.low / 10, high=tenth.high / 10
            )  # fmt: skip
        own_scoop = unit in case.food.own.counts
        if unit in self._tables.trade and not own_scoop:
            found = self._trade(case, unit, size)
            if found is not None:
                return found
        if unit in _PACKAGE_UNITS:
            return self._package(case, unit, size)
        if unit == "piece":
            unit = _held_in(case.parsed.name) or unit
        found = self._count(case, unit, size)
        if found is None and unit in self._tables.contents:
            return self._package(case, unit, size)
        return found

    def _made_whole(self, case: _Case, size: str) -> Estimate | None:
        """ "1 recipe pie crust": a recipe makes one shell, at most a double one; else not known."""
        head = singular(case.parsed.name.rpartition(" ")[2])
        found = self._count(case, "piece", size) if head in _MADE_ONE else None
        if found is None:
            return None
        why = f"a recipe makes one or two, {found.why}"
        return found._replace(high=2 * found.high, why=why)

    def _density(self, case: _Case, unit: str, size: str) -> tuple[Estimate, float] | None:
        """g/ml, and the millilitres of the food's own row that gave it, 0 when none did."""
        stem = stem_of(unit)
        food = case.food
        forms = line_forms(case.line, size)
        generic: Amount | None = None
        ranked = self._tables.volumes.ranked(case.line)
        filled = forms & _FILLED
        told = bool(filled) and any(filled & m.words for m in food.own.volumes)
        for score, row in ranked if not told else ():
            if row.override and score >= 0.75 * ranked[0][0]:
                generic = row
                break
        picked = None
        if generic is None:
            picked = pick_volume(food.own, stem, case.line, forms, food.words)
            if picked is not None and picked[3] < MISFIT:
                generic = self._better_form(ranked, forms)
            if picked is not None and "packed" in forms and "loose" in picked[0].words:
                pressed = self._tables.volumes.best({**case.line, "packed": NAME_WORD})
                generic = pressed if pressed is not None and "packed" in pressed.food else generic
            if picked is not None and generic is None:
                row_own, least, most, _ = picked
                turned = form_factor(food.own, row_own, forms)
                per_ml = row_own.grams / row_own.ml * turned
                low, high = _spread(per_ml)
                label = row_own.label
                if turned != 1.0:
                    label = f"{label}, x {turned:.2g} for {' and '.join(sorted(forms))}"
                return (
                    Estimate(
                        per_ml, min(per_ml * low, least), max(per_ml * high, most),
                        "household_measure", label,
                    ),
                    row_own.ml if turned == 1.0 else 0.0,
                )  # fmt: skip
        generic = generic or self._tables.volumes.best(case.bag)
        if generic is None:
            return None
        return (
            Estimate(
                generic.value, generic.low, generic.high, "density",
                f"{generic.value:.2g} g/ml for {_kind(generic)} [{generic.cited}]",
            ),
            0.0,
        )  # fmt: skip

    def _better_form(self, ranked: list[tuple[float, Amount]], forms: set[str]) -> Amount | None:
        """A row of the kind's table that is about the form or shape the line says."""
        for score, row in ranked:
            if score < 0.75 * ranked[0][0]:
                break
            asked = {FORMS.get(word, word) for word in row.food.replace("|", " ").split()}
            if (forms & asked) or not forms:
                return row
        return None

    def _volume(self, case: _Case, unit: str, size: str, ml: float) -> Estimate | None:
        found = self._density(case, unit, size)
        if found is None:
            return None
        density, row_ml = found
        stem = stem_of(unit)
        heap = _HEAPED.get(size, 1.0) if stem in ("tsp", "tbsp", "dessertspoon", "cup") else 1.0
        if stem == "cup" and size == "heaped":
            heap = 1.2
        grams = density.grams * ml * heap
        low, high = density.low * ml * heap, density.high * ml * heap
        if heap != 1.0:
            low, high = low * 0.85, high * 1.2
        if unit in _PINTS:  # no system said, and people of all of them share one kitchen
            low, high = (low, high * _PINT_RATIO) if self.spoons == "us" else (
                low / _PINT_RATIO, high
            )  # fmt: skip
        why = density.why
        basis: Basis = density.basis
        if stem in _METRIC_VOLUMES:
            basis = "density"
        if abs(row_ml - ml) > 1e-6 or stem in _METRIC_VOLUMES or heap != 1.0:
            why = f"{ml * heap:.4g} ml a {stem}{' ' + size if heap != 1.0 else ''}, {why}"
        return Estimate(grams, low, high, basis, why)

    def _count(self, case: _Case, unit: str, size: str) -> Estimate | None:
        part = "" if case.parsed.part in _EATEN_PARTS else case.parsed.part
        if case.across and not part:
            wide = self._own_across(case, unit)
            if wide is not None:
                return wide
        table = self._tables.pieces.get(unit)
        ranked = table.ranked(case.bag) if table is not None else []
        rows = [(score, row) for score, row in ranked if row.part == part]
        if part and not rows:
            rows = [(1.0, row) for row in (table.anything if table else []) if row.part == part]
        best = _sized_row(rows, size, case.across)
        own = None
        if part not in ("zest", "white", "yolk"):
            own = self._own_count(case, unit, size)
        if best is not None:
            # A size that only the food's own rows know beats a plain row scaled to it.
            known = own is not None and own.problem == "exact" and best.size != size
            known = known and not any(row.size for score, row in rows if score > rows[0][0] - 0.05)
            if own is None or own.problem == "scaled" or (best.override and not known):
                return _from_table(best, size, unit)
            if own.problem != "told" and _names_other_kind(case, best, own.grams):
                return _from_table(best, size, unit)
        if own is not None:
            return own._replace(problem="")
        for row in table.anything if table is not None else ():
            if row.part == part:
                return _from_table(row, size, unit)
        return None

    def _own_count(self, case: _Case, unit: str, size: str) -> Estimate | None:
        counts = case.food.own.counts
        if not counts:
            return None
        named: list[str] = []
        if unit == "piece":  # "2 pepper rings"; of "2 peppers, cut in rings" it is the peppers
            named = [word for word in counts if case.line.get(word, 0.0) >= NAME_WORD]
        for name in (*named, *same_units(unit)):
            rows = counts.get(name)
            if not rows:
                continue
            picked = pick_count(rows, size, case.line, case.food.words)
            if picked is None:
                continue
            row, factor, low, high = picked
            label = row.label if factor == 1.0 else f"{row.label}, x {factor:.2g} for {size}"
            # Scaled from another size than the plain one: the table of kinds may know better.
            strained = factor != 1.0 and row.size not in ("", "medium", "regular")
            problem = "scaled" if strained else "exact" if size and row.size == size else ""
            if not problem and any(
                word in case.line for word in row.words - case.food.words.keys()
            ):
                problem = "told"  # of the very kind that the line says
            return Estimate(row.grams * factor, low, high, "count_weight", f"[{label}]", problem)
        return None

    def _own_across(self, case: _Case, unit: str) -> Estimate | None:
        """The food's own piece of the width that the line gives."""
        for name in same_units(unit):
            row = pick_across(case.food.own.counts.get(name, ()), case.across)
            if row is not None:
                return Estimate(
                    row.grams, row.grams * 0.85, row.grams * 1.2, "count_weight", f"[{row.label}]"
                )
        return None

    def _trade(self, case: _Case, unit: str, size: str) -> Estimate | None:
        table = self._tables.trade[unit]
        row = table.best(case.bag)
        if row is None:
            row = table.anything[0] if table.anything else None
        if row is None:
            return None
        if unit in ("knob", "scoop") and not row.food:
            piece = self._count(case, unit, size)
            if piece is not None:
                return piece
        factor = size_factor(size)
        value, low, high = row.value * factor, row.low * factor, row.high * factor
        kind = f" of {_kind(row)}" if row.food else ""
        if row.of == "g":
            why = f"{unit}{kind} [{row.cited}]"
            return Estimate(value, low, high, "trade_measure", why)
        found = self._density(case, "tsp", "")
        if found is not None:
            per_ml, least, most = found[0].grams, found[0].low, found[0].high
            why = found[0].why
        elif unit in _TINY:
            per_ml, least, most = _TINY_DENSITY, 0.25, 1.2
            why = "a powder of unknown density"
        else:
            return None
        return Estimate(
            value * per_ml, low * least, high * most, "trade_measure",
            f"{_figure(value)} ml a {unit}{kind} [{row.cited}], {why}",
        )  # fmt: skip

    def _content(self, case: _Case, measure: Measure) -> Estimate | None:
        """Usual content of a package, before draining."""
        return self._usual(case, stem_of(measure.unit), measure.size)

    def _usual(self, case: _Case, unit: str, size: str) -> Estimate | None:
        table = self._tables.contents.get(unit)
        if table is None and unit in ("pack", "package"):
            table = self._tables.contents.get("packet")
        row = _sized_row(table.ranked(case.bag), size, 0.0) if table is not None else None
        if row is None:
            own = self._own_count(case, unit, size)
            if own is not None:
                return own._replace(basis="package", problem="")
            sized = [(1.0, any_row) for any_row in table.anything] if table is not None else []
            row = _sized_row(sized, size, 0.0)
        if row is None:
            return None
        factor = 1.0 if row.size == size else size_factor(size)
        value, low, high = row.value * factor, row.low * factor, row.high * factor
        why = f"{_figure(value)} {row.of} a {size + ' ' if size else ''}{unit} [{row.cited}]"
        if row.of == "ml":
            found = self._density(case, "cup", "")
            if found is None:
                return None
            per = found[0]
            return Estimate(
                value * per.grams, low * per.low, high * per.high, "package", f"{why}, {per.why}"
            )
        return Estimate(value, low, high, "package", why)

    def _package(self, case: _Case, unit: str, size: str) -> Estimate | None:
        """A tin or packet without a stated size."""
        usual = self._usual(case, unit, size)
        if usual is None:
            return None
        measure = Measure(1.0, unit, "package", 1.0, 1.0, size)
        # A tin of a food that the table holds drained is weighed drained there.
        drained = usual.why.startswith("[") and "drained" in case.food.state
        drained = drained or "can drained" in usual.why
        share = None if drained else self._drained_share(case, measure)
        if share is not None:
            usual = usual._replace(
                grams=usual.grams * share.value, low=usual.low * share.low,
                high=usual.high * share.high,
                why=f"{usual.why}, {share.value * 100:.0f} % left once drained [{share.cited}]",
            )  # fmt: skip
        return usual._replace(problem="package-size-assumed")

    # --- words --------------------------------------------------------------------------------

    def _case(
        self,
        parsed: ParsedLine,
        food_id: str | None,
        description: str,
        reference_id: str | None = None,
    ) -> _Case:
        reference = self._reference_of(food_id, reference_id)
        food = self._food(food_id, description, reference)
        line = line_words(parsed.name, parsed.states, parsed.notes, parsed.part)
        after, sold, wide = "", "", 0.0
        if parsed.notes and not AFTER_MEASURING.isdisjoint(line):
            after = done_after(parsed.text)
            said = line.pop(after, None)
            known = food.own.volumes or self._tables.volumes.best(line) is not None
            if said is not None and not known:
                line[after] = said  # weighed in no other form: better in the wrong one than not
        if any(m.kind in _SOLD_AS for m in parsed.measures) or "canned" in parsed.states:
            sold = market(parsed) or self._home
            if sold:
                line["~" + sold] = _SIGN
            wide = across(parsed.text)
        if food.words:
            bag = dict(food.words)
            for word, weight in line.items():
                if weight > bag.get(word, 0.0):
                    bag[word] = weight
        else:
            bag = line
        key = (
            parsed.name, parsed.states, parsed.notes, parsed.part, food_id, reference, after, sold,
            wide,
        )  # fmt: skip
        return _Case(parsed, food, line, bag, wide, key)

    def _reference_of(self, food_id: str | None, reference_id: str | None) -> str:
        """food_id of the reference food in force for a food, "" for none."""
        found = reference_id or self._references.get(food_id or "", "")
        return found if food_id is not None and found != food_id and found in self._rows else ""

    def _food(self, food_id: str | None, description: str, reference: str) -> _Food:
        if food_id is None:
            return _NO_FOOD
        known = self._foods.get((food_id, reference))
        if known is None:
            known = self._read(food_id, description)
            if reference:
                known = self._with_reference(known, reference)
            self._foods[food_id, reference] = known
        return known

    def _read(self, food_id: str, description: str) -> _Food:
        """What the snapshot says of a food itself."""
        row = self._rows.get(food_id)
        if row is None:
            # Pantry foods are not in the snapshot; their name still tells their kind.
            return _Food(
                food_words(description, ""), "", _NO_FOOD.own, None, description,
                description.lower(),
            )  # fmt: skip
        named, category, pct, part = row
        return _Food(
            food_words(named, category),
            category,
            read_own(self._measures.get(food_id, []), category, self._units, named),
            read_refuse(pct, part, self._tables),
            named,
            named.lower(),
        )

    def _with_reference(self, food: _Food, reference: str) -> _Food:
        """The food completed by its reference food; its own data come first."""
        named, category, pct, part = self._rows[reference]
        other = self._read(reference, "")
        bag = dict(other.words)
        for word, weight in food.words.items():
            bag[word] = max(weight, bag.get(word, 0.0))
        states_liquid = "liquid" in food.state or "drain" in food.state
        return _Food(
            bag,
            category,  # the shared tables speak of the reference table's groups
            with_reference(food.own, other.own, named),
            food.refuse or read_refuse(pct, part, self._tables, named),
            food.description,
            food.state if states_liquid else f"{food.state} {other.state}",
        )


_PACKAGE_UNITS = word_set(
    "tin jar carton bottle pouch sachet packet tub box punnet bag tube container pack"
)
_VOLUME_WORDS = word_set("ml cl dl l tsp tbsp cup fl_oz dessertspoon")
_SERVING_WORDS = {
    "tablespoon": "tbsp", "tablespoons": "tbsp", "teaspoon": "tsp", "teaspoons": "tsp",
    "cups": "cup", "scoops": "scoop", "slices": "slice", "bars": "bar", "g": "g",
}  # fmt: skip


def _serving(name: str) -> tuple[float, str]:
    """Amount and unit of a serving's name: "2 tbsp" → (2, tbsp); "scoop (30 g)" → (1, scoop)."""
    tokens = name.lower().replace("(", " ").split()
    held = 1.0
    if tokens:
        try:
            held = float(tokens[0].replace(",", "."))
            tokens = tokens[1:]
        except ValueError:
            held = 1.0
    unit = tokens[0].strip(".,)") if tokens else "portion"
    unit = _SERVING_WORDS.get(unit, unit)
    if unit == "heaped" and len(tokens) > 1:
        unit = _SERVING_WORDS.get(tokens[1], tokens[1])
    return (held if held > 0 and math.isfinite(held) else 1.0), unit


def _precedence(measure: Measure) -> int:
    """Weights first, then metric volumes, other volumes, packages, counts, the rest."""
    if measure.kind == "mass":
        return 0
    if measure.each is not None:
        return 1
    if measure.kind == "volume":
        return 2 if measure.unit in _METRIC_VOLUMES else 3
    return {"package": 4, "count": 5, "trade": 6, "length": 7, "share": 8}[measure.kind]


def _figure(value: float) -> str:
    """Three figures as people write them: 0.125, 14.8, 236, 1,030."""
    return f"{value:,.0f}" if value >= 1000 else f"{value:.3g}"


def _times(measure: Measure, one: Estimate) -> Estimate:
    """So many of one unit; the ends of a range on the line lie inside the result."""
    grams = measure.amount * one.grams
    low = min(measure.low * one.grams, measure.amount * one.low)
    high = max(measure.high * one.grams, measure.amount * one.high)
    why = f"{measure.amount:g} x {measure.size + ' ' if measure.size else ''}{measure.unit}, "
    why += f"{_figure(one.grams)} g each: {one.why}"
    return Estimate(grams, low, high, one.basis, why, one.problem)


def _spread(g_per_ml: float) -> tuple[float, float]:
    """Factors of a 90 % range by how loosely a food lies in the cup; a 250 ml cup is inside."""
    if g_per_ml >= 0.9:
        return 0.95, 1.07
    if g_per_ml >= 0.42:
        return 0.9, 1.12
    return 0.8, 1.25


def _held_in(name: str) -> str:
    """The package that a bare count is of, where it stands first in the name: "sleeve crackers"."""
    first, _, rest = name.partition(" ")
    return singular(first) if rest and first in _HOLDERS else ""


def _names_other_kind(case: _Case, row: Amount, own: float) -> bool:
    """The line itself names the kind of the row, and such a piece is far from the food's own."""
    if max(row.value, own) < _OTHER_KIND * min(row.value, own):
        return False
    pattern = Pattern.parse(row.food)
    if not pattern.score(case.line):
        return False
    return any(not any(word in case.food.words for word in slot) for slot in pattern.slots)


def _sized_row(rows: list[tuple[float, Amount]], size: str, wide: float) -> Amount | None:
    """The best row of the size asked among the best fitting ones, else the one for any size.

    ``wide`` is a width in cm said on the line; rows of size "20 cm" are for it.
    """
    if not rows:
        return None
    top = rows[0][0]
    near = [row for score, row in rows if score > top - 0.05]
    if wide:
        for row in near:
            if row.size.endswith(" cm") and abs(float(row.size[:-3]) / wide - 1) < SAME_WIDTH:
                return row
    for row in near:
        if row.size == size:
            return row
    for row in near:
        if not row.size:
            return row
    for _, row in rows:
        if not row.size or row.size == size:
            return row
    return near[0]


def _from_table(row: Amount, size: str, unit: str) -> Estimate:
    factor = 1.0
    if row.size != size:
        factor = size_factor(size) / size_factor(row.size)
        if row.part:  # juice and yolk grow less than the fruit and the egg
            factor = math.sqrt(factor)
    low, high = row.low, row.high
    if size and factor != 1.0:  # a said size narrows the range, and moves it
        low, high = row.value * 0.75, row.value * 1.3
    asked = f"{size} " if size else ""
    what = _kind(row)
    thing = f"{asked}{unit} of {what}" if unit != "piece" else f"{asked}{what}"
    if row.part:
        thing = f"{asked}{what}'s {row.part}"
    why = f"{thing} [{row.cited}]"
    return Estimate(row.value * factor, low * factor, high * factor, "count_weight", why)


def _kind(row: Amount) -> str:
    """A row's pattern in words: the first of every group, the head last."""
    firsts = [slot.split("|")[0] for slot in row.food.split() if not slot.startswith("-")]
    said = dict.fromkeys(
        word.lstrip("~").upper() if word[0] == "~" else word.lstrip("@=")
        for word in reversed(firsts)
    )
    return " ".join(said) or "thing of its kind"


def _said(measure: Measure) -> str:
    return f"{measure.amount:g} {measure.unit}"


def _of_recipe(parsed: ParsedLine) -> Weight:
    measure = parsed.measures[0]
    return Weight(
        None, None, None, "recipe",
        f"{measure.amount:g} {measure.unit} of another recipe; weighed with that recipe's yield",
        measure.unit, measure.amount,
    )  # fmt: skip


def _why_not(parsed: ParsedLine, measure: Measure, food: _Food) -> str:
    """Why a measure could not be weighed, and what would help."""
    what = food.description or parsed.name or "this"
    if measure.kind == "share":
        return f"{_said(measure)} of something made before; its weight is not known here"
    if not math.isfinite(measure.amount) or measure.amount < 0:
        return "the amount is not a number that can be weighed"
    return (
        f"no weight is known for one {measure.size + ' ' if measure.size else ''}{measure.unit} "
        f"of {what}; write the amount in grams"
    )
