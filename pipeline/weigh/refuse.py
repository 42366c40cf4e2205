"""What of a weight as bought is not eaten: bone, shell, stone, rind, parings.

The composition table counts the edible part. A line's weight is of the thing as bought when it
says so (bone in, whole, in the shell), when the cut is always sold so (wings, spare ribs), or when
the line takes something off after the weighing ("600 g potatoes, peeled"). What is taken off before
("300 g peeled prawns") is not in the weight any more.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from pipeline.foods import words
from pipeline.lines.model import Measure, ParsedLine
from pipeline.units import kitchen_units
from pipeline.weigh.tables import RefuseRule, WeighTables, weigh_tables
from pipeline.weigh.words import word_list

if TYPE_CHECKING:
    from pipeline.weigh.case import Case

#: Vegetables reach the shop trimmed: no more than this share is cut away at home.
_MOST_TRIM = 0.40
_SOME_TRIM = 0.12
#: The table's parings are generous: a hand peeler leaves four fifths (USDA Food Buying Guide:
#: 0.81 lb of pared potatoes from a pound).
_MOST_PARED = 0.20
_ONLY_PARED = re.compile(r"^parings(?: and (?:trimmings|part tops))?$")
_ONLY_SHELL = re.compile(r"^(?:tail and )?shells?$")
#: From this weight on, bare "chicken" is a bird rather than its meat.
_BIRD_G = 1000.0


class FoodRefuse(NamedTuple):
    """Refuse of a food as the table gives it.

    Attributes:
        share: share of the food as bought that is not eaten, 0 to 1.
        part: what it is: "skin", "bone".
        kind: class of the part, see ``shared/refuse_rules.csv``.
        reference: description of the reference food it is taken from, "" for the food itself.
    """

    share: float
    part: str
    kind: str
    reference: str = ""

    @property
    def cited(self) -> str:
        """The source, for a reason."""
        return f"SR28 refuse of {self.reference}" if self.reference else "SR28 refuse"


def read_refuse(pct: float | None, part: str, tables: WeighTables) -> FoodRefuse | None:
    """Class of a food's refuse by ``shared/refuse_rules.csv``; None when it has none."""
    if not pct or pct <= 0 or pct >= 100:
        return None
    named = re.sub(r"\s*\d+(?:\.\d+)?\s*%\s*", " ", part).strip(" ,").lower()
    kind = next(kind for pattern, kind in tables.refuse_parts if pattern.search(part))
    return FoodRefuse(pct / 100, named, kind)


class Eaten(NamedTuple):
    """Share of a weight that is eaten, with its 90 % range, and why; 1 and "" when all of it."""

    share: float
    low: float
    high: float
    why: str


ALL = Eaten(1.0, 1.0, 1.0, "")


@dataclass(slots=True)
class Weighed:
    """A weight on a line as one food: what the rules of refuse look at.

    Attributes:
        case: line and food.
        measure: the weight that counts; its place in the text tells what stands after it.
        piece: the line also counts the thing ("1 whole chicken (about 2 kg)").
        of_one: says whether so little is weighed that it was cut from one.
    """

    case: Case
    measure: Measure
    piece: bool
    of_one: Callable[[], bool]

    @property
    def parsed(self) -> ParsedLine:
        """The line."""
        return self.case.parsed

    def taken_off(self, what: Literal["inedible", "trimmings"]) -> bool:
        """Whether the line takes it off after the weight."""
        return self.parsed.remarks.taken_off(self.measure, what)


def edible_share(case: Case, measure: Measure, *, piece: bool, of_one: Callable[[], bool]) -> Eaten:
    """Share of a stated weight that is eaten: by the shared rules, else by the table's refuse.

    Args:
        case, measure, piece, of_one: as ``Weighed`` has them.
    """
    parsed, food = case.parsed, case.food.refuse
    if "net_weight" in parsed.flags or parsed.remarks.says("prepared_weight"):
        return ALL
    weighed = Weighed(case, measure, piece, of_one)
    by_rule = _by_rule(weighed, parsed.states)
    if by_rule is not None:
        return by_rule
    if food is None:
        return ALL
    if food.kind in ("fat", "bone"):
        return _BY_KIND[food.kind](weighed, food)
    return ALL if _ready(weighed) else _BY_KIND[food.kind](weighed, food)


def _ready(weighed: Weighed) -> bool:
    """Bought without skin, stone or shell: nothing is left to take off."""
    states, bag = weighed.parsed.states, weighed.case.bag
    if states & word_list("ready_state"):
        return True
    if any(bag.get(word, 0) >= 1.2 for word in word_list("ready_word")):
        return True
    as_bought = {"with_stone", "in_shell"} & states
    return not as_bought and not word_list("sold_ready").isdisjoint(bag)


def _cited(food: FoodRefuse) -> str:
    return f"{food.part} {food.share * 100:.0f} % [{food.cited}]"


def _bone(weighed: Weighed, food: FoodRefuse) -> Eaten:
    states, share = weighed.parsed.states, food.share
    certain = bool({"bone_in", "whole"} & states) or (weighed.piece and "boneless" not in states)
    if not certain and (word_list("off_bone") & states or not _whole_bird(weighed)):
        return ALL
    best, least, most, why = _by_rule(weighed, states | {"whole"}) or (
        1 - share, (1 - share) * 0.93, min(1.0, (1 - share) * 1.07), _cited(food)
    )  # fmt: skip
    sure = certain or weighed.parsed.remarks.says("on_the_bone")
    return Eaten(best, least, most if sure else 1.0, why)


def _shell(weighed: Weighed, food: FoodRefuse) -> Eaten:
    share = food.share
    if "in_shell" in weighed.parsed.states:
        return Eaten(1 - share, (1 - share) * 0.8, min(1.0, (1 - share) * 1.1), _cited(food))
    if not weighed.taken_off("inedible"):
        return ALL
    if _ONLY_SHELL.match(food.part):  # peeled prawns and shelled nuts are bought so
        return Eaten(1.0, max(1 - share, 0.85), 1.0, "")
    return Eaten(1 - share, (1 - share) * 0.95, 1.0, _cited(food))


def _trim(weighed: Weighed, food: FoodRefuse) -> Eaten:
    share = min(food.share, _MOST_TRIM)
    why = f"{food.part} up to {share * 100:.0f} % [{food.cited}]"
    if "whole" in weighed.parsed.states and share > _SOME_TRIM:
        return Eaten(1 - share, 1 - food.share, 1.0, why)
    if weighed.taken_off("trimmings") or weighed.taken_off("inedible"):
        lost = min(share, 0.25)
        return Eaten(1 - lost / 2, 1 - lost, 1.0, why)
    return Eaten(1.0, 1 - min(share, _SOME_TRIM), 1.0, "")


def _peel(weighed: Weighed, food: FoodRefuse) -> Eaten:
    """Peel, stone or parings."""
    states, share = weighed.parsed.states, food.share
    why = _cited(food)
    if weighed.taken_off("inedible"):
        if share > _MOST_PARED and _ONLY_PARED.match(food.part):
            pared = f"{_MOST_PARED * 100:.0f} % [{food.cited}, {share * 100:.0f} % at most]"
            return Eaten(1 - _MOST_PARED, 1 - share, 1.0, f"{food.part} {pared}")
        return Eaten(1 - share, (1 - share) * 0.97, 1.0, why)
    if word_list(f"off_{food.kind}") & states and "unpeeled" not in states:
        return ALL  # stands before the weight: it is of what is left
    if food.kind == "paring":  # potatoes and their kin are eaten with the skin unless said
        return Eaten(1.0, 1 - share, 1.0, "")
    if {"whole", "unpeeled", "skin_on", "with_stone"} & states or weighed.piece:
        return Eaten(1 - share, (1 - share) * 0.95, 1.0, why)
    if weighed.of_one():
        return Eaten(1.0, 1 - share, 1.0, "")
    half = f"half of {why}, as the line leaves open whether it was on"
    return Eaten(1 - share / 2, 1 - share, 1.0, half)


def _fat(weighed: Weighed, food: FoodRefuse) -> Eaten:
    """Fat and gristle are eaten or not as the cook likes; trimming it is said to cost weight."""
    low = 1 - min(food.share, 0.18)
    if "fat_trimmed" in weighed.parsed.states or weighed.parsed.remarks.says("trimmed"):
        why = f"{food.part} trimmed, {food.share * 100:.0f} % at most"
        return Eaten((1 + low) / 2, low, 1.0, why)
    return Eaten(1.0, max(low, 0.9), 1.0, "")


#: By the class of the part that is not eaten.
_BY_KIND: dict[str, Callable[[Weighed, FoodRefuse], Eaten]] = {
    "bone": _bone, "fat": _fat, "shell": _shell, "trim": _trim, "peel": _peel, "paring": _peel,
}  # fmt: skip


def _by_rule(weighed: Weighed, states: frozenset[str]) -> Eaten | None:
    """The first rule of the shared table that fits line and evidence."""
    bag = weighed.case.bag
    for _, rule in weigh_tables().refuse.ranked(bag):
        if any(word in states or bag.get(word, 0) >= 0.8 for word in rule.unless):
            continue
        fits = rule.when == "always" or rule.when in states
        if fits or (rule.when == "whole" and weighed.parsed.remarks.says("whole_fish")):
            found = _lost(weighed, rule)
            if found is not None:
                return found
    return None


def _lost(weighed: Weighed, rule: RefuseRule) -> Eaten | None:
    """What a rule says is lost; the table's own bone or shell where it knows better."""
    food = weighed.case.food.refuse
    if food is not None and food.kind in ("bone", "shell"):
        if rule.when == "whole":
            with_skin = "skin" in food.part and not weighed.parsed.remarks.says("skin_off")
            by_table, most = rule.loss is not None and not with_skin, food.share * 1.2
        else:
            # A loss given for a cut always sold so goes before the table's.
            by_table = rule.when != "skin_on" and (rule.when != "always" or rule.loss is None)
            most = min(0.95, food.share * 1.15)
        if by_table:
            return Eaten(1 - food.share, 1 - most, 1 - food.share * 0.85, _cited(food))
    if rule.loss is None:
        return None
    lost = rule.loss / 100
    why = f"{lost * 100:.0f} % not eaten [{rule.note or 'common practice'}]" if lost else ""
    return Eaten(1 - lost, 1 - rule.high / 100, 1 - rule.low / 100, why)


def _whole_bird(weighed: Weighed) -> bool:
    """A bird on the bone: said so, or a raw bird's weight with no word of meat or of a cut."""
    parsed, measure = weighed.parsed, weighed.measure
    tokens = words(parsed.name)
    if not tokens or tokens[-1] not in word_list("bird"):
        return False
    if parsed.remarks.says("on_the_bone"):
        return True
    if {*tokens, *words(parsed.notes), *parsed.states} & word_list("meat"):
        return False
    return kitchen_units().grams.get(measure.unit, 0.0) * measure.amount >= _BIRD_G
