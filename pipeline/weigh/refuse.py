"""What of a weight as bought is not eaten: bone, shell, stone, rind, parings.

The composition table counts the edible part. A line's weight is of the thing as bought when it
says so (bone in, whole, in the shell), when the cut is always sold so (wings, spare ribs), or when
the line takes something off after the weighing ("600 g potatoes, peeled"). What is taken off before
("300 g peeled prawns") is not in the weight any more.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.foods import words
from pipeline.lines.model import Measure, ParsedLine
from pipeline.units import kitchen_units
from pipeline.weigh.kinds import word_set
from pipeline.weigh.tables import WeighTables

_REMOVED = re.compile(
    r"\b(?:peel(?:ed|ing)?|skinned|pared|de-?seeded|seeds? removed|seeds? only|cored|core removed|"
    r"de-?stoned|stoned|stones? removed|pitted|pits? removed|rinds? (?:removed|off)|"
    r"skin(?:s)? (?:removed|off|discarded)|peel removed|shelled|podded|hulled|husked|shucked|"
    r"segmented|flesh (?:only|scooped)|trimmed|topped and tailed|boned|bones? removed|"
    r"jointed|meat (?:picked|shredded|removed))\b"
)
_TRIMMED = re.compile(
    r"\b(?:trimmed|topped and tailed|leaves removed|outer leaves|core removed|woody|stalks removed|"
    r"stems removed|de-?stemmed|hulled|cored|de-?seeded)\b"
)
_PREPARED_WEIGHT = re.compile(
    r"\b(?:peeled|prepared|trimmed|shelled|pitted|stoned|boneless|drained|net|edible|flesh|meat) "
    r"(?:weight|wt)\b|\bweighed after\b"
)
#: Bought without skin, stone or shell: nothing left to take off.
_READY_STATES = word_set(
    "frozen canned jarred dried dry cooked boiled steamed roasted baked grilled fried stewed "
    "microwaved braised juice powdered"
)
_READY_WORDS = word_set(
    "flesh chunk cube puree pureed mash segment pulp floret kernel arils aril seed tip heart "
    "wedge riced spiralised noodle ribbon"
)
#: Words of a food's description that say the same.
_SOLD_READY = word_set("dried canned frozen juice cooked boiled dehydrated")
_TAKEN_OFF = {
    "peel": word_set("peeled pitted shelled skinless cored"),
    "paring": word_set("peeled"),
    "shell": word_set("shelled peeled"),
    "trim": word_set("trimmed cored"),
    "bone": word_set("boneless"),
}
#: Vegetables reach the shop trimmed: no more than this share is cut away at home.
_MOST_TRIM = 0.40
_SOME_TRIM = 0.12
_PLAIN = (1.0, 1.0, 1.0, "")
#: The table's parings are generous: a hand peeler leaves four fifths (USDA Food Buying Guide:
#: 0.81 lb of pared potatoes from a pound).
_MOST_PARED = 0.20
_ONLY_PARED = re.compile(r"^parings(?: and (?:trimmings|part tops))?$")
_ONLY_SHELL = re.compile(r"^(?:tail and )?shells?$")
_SKIN_OFF = re.compile(r"\bskin(?:less|ned)\b|\bskins? (?:removed|off|discarded)\b")
_BIRDS = word_set("chicken duck turkey goose pheasant quail guinea poussin pigeon")
#: Said of a bird, these tell that the weight is of meat: a cut, or meat off the bone.
_MEAT_WORDS = word_set(
    "breast thigh wing leg drumstick mince minced ground fillet diced dice strip back liver gizzard "
    "cubed cube boneless chopped shredded sliced slice pulled leftover leftovers cooked roasted "
    "roast grilled boiled poached smoked meat tender nugget escalope steak deli canned bite sized"
)
_ON_THE_BONE = re.compile(
    r"\b(?:whole|jointed|spatchcock(?:ed)?|carcass|giblets|on the bone|curry cut|trussed|"
    r"oven[- ]ready|roaster|broken down|cut[- ]up|cut into (?:\d+|eight|ten|joints))\b"
)
#: From this weight on, bare "chicken" is a bird rather than its meat.
_BIRD_G = 1000.0


@dataclass(frozen=True, slots=True)
class FoodRefuse:
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


def read_refuse(
    pct: float | None, part: str, tables: WeighTables, reference: str = ""
) -> FoodRefuse | None:
    """Class of a food's refuse by ``shared/refuse_rules.csv``; None when it has none."""
    if not pct or pct <= 0 or pct >= 100:
        return None
    named = re.sub(r"\s*\d+(?:\.\d+)?\s*%\s*", " ", part).strip(" ,").lower()
    for pattern, kind in tables.refuse_parts:
        if pattern.search(part):
            return FoodRefuse(pct / 100, named, kind, reference)
    return FoodRefuse(pct / 100, named, "trim", reference)


def _after_weighing(parsed: ParsedLine, measure: Measure, found: re.Pattern[str]) -> bool:
    """The line takes something off in words that stand behind a comma after the weight."""
    text = parsed.text.lower()
    rest = text[measure.of_text[1] :] if measure.of_text[1] else text
    hit = found.search(rest)
    if hit is None:
        return False
    between = rest[: hit.start()]
    opened = between.rfind("(") > between.rfind(")")
    return bool(re.search(r",|;|\(| - | – |\band then\b|\bthen\b", between)) and not (
        opened and _PREPARED_WEIGHT.search(rest[hit.start() :])
    )


def edible_share(
    parsed: ParsedLine,
    measure: Measure,
    bag: Mapping[str, float],
    food: FoodRefuse | None,
    tables: WeighTables,
    *,
    piece: bool,
) -> tuple[float, float, float, str]:
    """Share of the stated weight that is eaten: (best, low, high, why), 1 and "" when all of it.

    Args:
        parsed: the line.
        measure: the weight that counts; only its place in the text is used.
        bag: words of line and food.
        food: the table's refuse of the matched food, None when it has none.
        piece: the line also counts the thing ("1 whole chicken (about 2 kg)").
    """
    states = parsed.states
    text = parsed.text.lower()
    if "net_weight" in parsed.flags or ("weigh" in text and _PREPARED_WEIGHT.search(text)):
        return _PLAIN
    by_rule = _by_rule(text, states, bag, food, tables)
    if by_rule is not None:
        return by_rule
    if food is None or food.kind == "fat":
        return _fat(text, states, food)
    share, kind = food.share, food.kind
    said = f"{food.part} {share * 100:.0f} % [{food.cited}]"
    if kind == "bone":
        certain = bool({"bone_in", "whole"} & states) or (piece and "boneless" not in states)
        if not certain and _TAKEN_OFF["bone"] & states:
            return _PLAIN
        likely = certain or _whole_bird(parsed, measure)
        if not likely:
            return _PLAIN
        ruled = _by_rule(text, states | {"whole"}, bag, food, tables)
        best, least, most, why = ruled or (
            1 - share, (1 - share) * 0.93, min(1.0, (1 - share) * 1.07), said
        )  # fmt: skip
        sure = certain or _ON_THE_BONE.search(text) is not None
        return (best, least, most if sure else 1.0, why)
    if states & _READY_STATES or any(bag.get(word, 0) >= 1.2 for word in _READY_WORDS):
        return _PLAIN
    if any(word in bag for word in _SOLD_READY) and not {"with_stone", "in_shell"} & states:
        return _PLAIN
    if kind == "shell":
        if "in_shell" in states:
            return (1 - share, (1 - share) * 0.8, min(1.0, (1 - share) * 1.1), said)
        if _after_weighing(parsed, measure, _REMOVED):
            if _ONLY_SHELL.match(food.part):  # peeled prawns and shelled nuts are bought so
                return (1.0, max(1 - share, 0.85), 1.0, "")
            return (1 - share, (1 - share) * 0.95, 1.0, said)
        return _PLAIN
    if kind == "trim":
        share = min(share, _MOST_TRIM)
        said = f"{food.part} up to {share * 100:.0f} % [{food.cited}]"
        if "whole" in states and share > _SOME_TRIM:
            return (1 - share, 1 - food.share, 1.0, said)
        if _after_weighing(parsed, measure, _TRIMMED) or _after_weighing(parsed, measure, _REMOVED):
            lost = min(share, 0.25)
            return (1 - lost / 2, 1 - lost, 1.0, said)
        return (1.0, 1 - min(share, _SOME_TRIM), 1.0, "")
    if _after_weighing(parsed, measure, _REMOVED):
        if share > _MOST_PARED and _ONLY_PARED.match(food.part):
            said = (
                f"{food.part} {_MOST_PARED * 100:.0f} % [{food.cited}, {share * 100:.0f} % at most]"
            )
            return (1 - _MOST_PARED, 1 - share, 1.0, said)
        return (1 - share, (1 - share) * 0.97, 1.0, said)
    if _TAKEN_OFF[kind] & states and "unpeeled" not in states:
        return _PLAIN  # said before the weight: it is of what is left
    if kind == "paring":  # potatoes and their kin are eaten with the skin unless said
        return (1.0, 1 - share, 1.0, "")
    if {"whole", "unpeeled", "skin_on", "with_stone"} & states or piece:
        return (1 - share, (1 - share) * 0.95, 1.0, said)
    half = 1 - share / 2
    return (half, 1 - share, 1.0, f"half of {said}, as the line leaves open whether it was on")


def _fat(
    text: str, states: frozenset[str], food: FoodRefuse | None
) -> tuple[float, float, float, str]:
    """Fat and gristle are eaten or not as the cook likes; trimming it is said to cost weight."""
    if food is None:
        return _PLAIN
    low = 1 - min(food.share, 0.18)
    if "fat_trimmed" in states or "trim" in text:
        return ((1 + low) / 2, low, 1.0, f"{food.part} trimmed, {food.share * 100:.0f} % at most")
    return (1.0, max(low, 0.9), 1.0, "")


def _by_rule(
    text: str,
    states: frozenset[str],
    bag: Mapping[str, float],
    food: FoodRefuse | None,
    tables: WeighTables,
) -> tuple[float, float, float, str] | None:
    """The first rule of the shared table that fits line and evidence."""
    for _, rule in tables.refuse.ranked(bag):
        if any(word in states or bag.get(word, 0) >= 0.8 for word in rule.unless):
            continue
        if rule.when == "always":
            fits = True
        elif rule.when == "whole":
            fits = "whole" in states or bool(
                re.search(r"\b(?:gutted|scaled|head on|head-on|heads on)\b", text)
            )
        else:
            fits = rule.when in states
        if not fits:
            continue
        bone = food is not None and food.kind in ("bone", "shell")
        # A loss given for a cut always sold so goes before the table's; the others stand in.
        known = rule.when == "always" and rule.loss is not None
        if rule.when not in ("whole", "skin_on") and food is not None and bone and not known:
            lost, low, high = food.share, food.share * 0.85, min(0.95, food.share * 1.15)
            said = f"{food.part} {lost * 100:.0f} % [{food.cited}]"
        elif rule.loss is not None:
            with_skin = food is not None and "skin" in food.part and not _SKIN_OFF.search(text)
            if rule.when == "whole" and food is not None and bone and not with_skin:
                lost, low, high = food.share, food.share * 0.85, food.share * 1.2
                said = f"{food.part} {lost * 100:.0f} % [{food.cited}]"
            else:
                lost, low, high = rule.loss / 100, rule.low / 100, rule.high / 100
                said = f"{lost * 100:.0f} % not eaten [{rule.note or 'common practice'}]"
                said = said if lost else ""
        else:
            continue
        return (1 - lost, 1 - high, 1 - low, said)
    return None


def _whole_bird(parsed: ParsedLine, measure: Measure) -> bool:
    """A bird on the bone: said so, or a raw bird's weight with no word of meat or of a cut."""
    tokens = words(parsed.name)
    if not tokens or tokens[-1] not in _BIRDS:
        return False
    if _ON_THE_BONE.search(parsed.text.lower()):
        return True
    said = {*tokens, *words(parsed.notes), *parsed.states}
    if said & _MEAT_WORDS:
        return False
    return kitchen_units().grams.get(measure.unit, 0.0) * measure.amount >= _BIRD_G
