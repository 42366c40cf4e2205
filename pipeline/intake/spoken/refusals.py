"""Why a food that is said with an amount is no ingredient: refused, offered, compared, made."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from pipeline.foods.words import singular
from pipeline.intake.spoken.clauses import denied, of_others
from pipeline.intake.spoken.mentions import Amount, Food, Mention
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.talk import Talk

ONCE = "how it was done before"
MADE = "how many it makes"
CHOICE = "offered as a choice"
_NUTRIENTS = frozenset().union(*map(word_class, ("PROCNT", "CHOCDF", "FAT", "FIBTG")))
_OF_A_FOOD = {"free", "powder", "bar", "bars"}
PLAIN = 4.0  # doubt of a food whose small words no single phrase outvotes, below nought
_OFTEN = 3.0  # the same where its clause is about somebody else
_SUBJECT = 16  # words between what a sentence is about and its energy
_SOON = 8  # words within which what each has is summed up
_LEAD, _WIDE = 7, 9  # words before a food


@dataclass(slots=True)
class Case:
    """A food with an amount and the words around it.

    Attributes:
        talk: all that is said.
        mention: the food and its amount.
        title: of the recipe it is said in.
        lead: words before it, breaks as ``|`` and ``,``; ``wide`` more of them, ``bare`` without breaks.
        counted: in pieces; ``dish`` by a word for a dish.
    """

    talk: Talk
    mention: Mention
    title: str
    lead: str = field(init=False)
    wide: str = field(init=False)
    bare: str = field(init=False)
    amount: Amount = field(init=False)
    food: Food = field(init=False)
    counted: bool = field(init=False)
    dish: bool = field(init=False)

    def __post_init__(self) -> None:
        assert self.mention.amount is not None
        self.amount, self.food = self.mention.amount, self.mention.food
        self.lead, self.wide = (self.talk.sentence(self.mention.start, n) for n in (_LEAD, _WIDE))
        self.bare = self.lead.replace(" |", "").replace(" ,", "")
        self.counted = self.amount.name in ("", "piece", "portion", "pot", "bowl", "plate")
        dishes = word_class("dish")
        self.dish = bool(
            (self.food.head and self.food.head[-1] in dishes)
            or any(w in dishes for w in self.food.name[-1:])
        )

    @property
    def is_title(self) -> bool:
        """The recipe is called so."""
        dish = phrases("beside_the_dish").split(self.title.lower())[0].split()
        title = {singular(w) for w in dish[-1:] + [w for w in dish if w in word_class("dish")]}
        name = [singular(w) for w in self.food.name if w.isalpha()]
        return bool(title & {self.food.head[-1] if self.food.head else "", *name[-1:]})

    def after(self, count: int) -> str:
        """What is said behind it."""
        return self.talk.said(self.mention.end, self.mention.end + count)


def why_not(case: Case, found: Sequence[Mention], *, late: bool, doubt: float) -> str:
    """Why a food with an amount is no ingredient; "" when it is one.

    Args:
        case: the food.
        found: what the recipe has so far.
        late: it is said after the numbers of the recipe.
        doubt: what all small words around it say, ``Chunk.doubt``; where they plainly speak for an
            ingredient, no single phrase outvotes them.
    """
    why = _refused(case) or _taken_out(case) or _told_of(case, found)
    if doubt >= -PLAIN:
        why = why or _named(case) or _offered(case, found) or _once(case, doubt)
        why = why or _in_passing(case)
    for rule in _RULES:
        why = why or rule(case)
    why = why or ("mentioned in passing" if doubt > 0 else "")
    return why or ("said after the numbers" if late else "")


def _refused(case: Case) -> str:
    parted = case.talk.words[case.mention.start].breaks and f"{case.lead} ,"
    refused = phrases("refused").search(case.bare) and not phrases("corrects").search(
        parted or f"{case.bare} "
    )
    return "the speaker leaves it out" if refused else ""


def offered(case: Case, found: Sequence[Mention]) -> bool:
    """It may be put in, or left."""
    return bool(_offered(case, found))


def _offered(case: Case, found: Sequence[Mention]) -> str:
    if case.lead.split()[-1:] == ["or"]:
        return CHOICE
    choice = phrases("choice").search(case.wide)
    if not choice:
        return ""
    amount, start = case.amount, case.mention.start
    rest = phrases("choice").search(case.wide, choice.end())
    if not rest and _condition_of_last(case, choice.end()):
        return ""
    between = case.wide[choice.end() :].replace(",", "").replace("|", "").split()
    told = any(word[0].isdigit() for word in between)  # "used to do 80, a spoon of cumin"
    told &= choice[0].startswith("used to")
    if told or phrases("i_use").search(" ".join(between)):
        return ""  # "I used to do 200, now I do 100"
    new = " and then " in f" {' '.join(between)} "  # "jack if you want and then two onions"
    if "then" in between and (new or not choice[0].startswith("if")):
        return ""  # "so thin you can see through it, then 2 tablespoons"
    behind = len(between)
    if behind == 0 and amount.article and not amount.of and not amount.measured:
        return "mentioned in passing"
    if behind <= 6 and not any(0 <= start - m.end <= behind for m in found if not m.shared):
        return CHOICE
    return ""


def _told_of(case: Case, found: Sequence[Mention]) -> str:
    """ "A spoon of honey is about sixty calories", "two thighs each", "a bean has done": what is
    known of a food, or what one has of it."""
    amount, after = case.amount, re.sub(r"^(?:ones?|1) ", "", case.after(8))
    names = set(case.food.name)
    named = any(names <= {*m.food.name} for m in found)
    if (case.amount.one or (amount.article and named)) and phrases("predicate").match(after):
        return "mentioned in passing"
    if amount.unit is not None and amount.unit.kind == "mass" and _is_nutrient(case):
        return "a figure of the product, not of the recipe"
    if case.counted and _subject_of_energy(case):
        return "what a share of it comes to"
    told = any(names & {*m.food.name} for m in found)
    energy = phrases("comes_to").match(after) and (
        not word_class("ENERC_KCAL").isdisjoint(after.split())
    )
    if energy and (amount.article or case.counted) and (told or not case.food.known):
        return "what a share of it comes to"
    if amount.article and named and re.match(r"(?:is|are|was|lasts?|has|holds?)\b", after):
        return "mentioned in passing"  # "a bag of kale is usually 500 grams"
    has = re.search(r"\b(?:have|has|get|gets|eat|eats)$", case.bare)
    each = re.match(r"(?:each|apiece)\b", after) or phrases("for_each").match(after)
    counted = case.counted and not amount.article
    return "what a share of it comes to" if counted and each and (has or named) else ""


def _is_nutrient(case: Case) -> bool:
    """ "There's 20 grams of fat in it", and no fat free yogurt."""
    talk, at = case.talk, case.food.start
    if talk.text[at] not in _NUTRIENTS or talk.food_length(at) > 1:
        return False
    after = talk.close(at + 1)
    return not (after and (talk.food_length(at + 1) or after in talk.known.kinds | _OF_A_FOOD))


def _subject_of_energy(case: Case) -> bool:
    """ "One burger in the bun with the cheese is 385 calories": of what a sentence begins with, it
    states the energy."""
    talk, start = case.talk, case.mention.start
    begin = next((k for k in range(start, max(start - 6, -1), -1) if talk.stops(k)), -1)
    if begin < 0 or case.amount.of or any(
        talk.counts(k) or talk.food_length(k) for k in range(begin, start)
    ):  # fmt: skip
        return False
    for at in range(case.mention.end, min(case.mention.end + _SUBJECT, talk.n)):
        if talk.stops(at):
            return False
        if talk.counts(at):
            return talk.close(at + 1) in word_class("ENERC_KCAL")
    return False


def _condition_of_last(case: Case, end: int) -> bool:
    """ "coarse if you can get it, and a hundred of oats": the condition is that of the food before,
    behind which it stands in one clause."""
    opens = case.wide[:end].rfind("if you")
    if opens < 0 or re.match(r"if you (?:don't|haven't|can't)", case.wide[opens:]):
        return False
    talk, at = case.talk, case.mention.start - len(re.findall(r"[^ ,|]+", case.wide[opens:]))
    for back in range(at - 1, max(at - _SOON, 0), -1):
        if talk.stops(back + 1) or talk.text[back] in word_class("goes_on"):
            return False
        if talk.food_length(back):
            return True
    return False


def _once(case: Case, doubt: float) -> str:
    talk, before = case.talk, case.mention.start - 1
    if doubt < -_OFTEN or (
        talk.word(before) in word_class("goes_on") and talk.words[before].breaks
    ):  # fmt: skip
        return ""  # "people use cream, and a teaspoon of cumin"
    return ONCE if of_others(talk, max(case.mention.start, case.amount.start)) else ""


def _named(case: Case) -> str:
    """ "It's a peanut sauce", "like a muffin", no "there is a muffin"."""
    words = [w for w in case.bare.split() if w not in word_class("filler") - {"like"}]
    names = words[-1:] and words[-1] in word_class("names_a_dish") | {"like"}
    exists = words[-2:-1] == ["there"] or words[-3:-1] == ["in", "it"]
    return "only a comparison" if case.amount.one and names and not exists else ""


def _in_passing(case: Case) -> str:
    after, unit = case.after(7), case.amount.unit
    offered = unit is None and phrases("offered_behind").match(after.lstrip(", ")) and (
        case.mention.end >= case.talk.n or not case.talk.stops(case.mention.end)
    )  # fmt: skip
    as_well = phrases("does_as_well").match(after) and not case.food.notes  # "frozen is fine"
    if offered or as_well:
        return CHOICE
    if phrases("chatter").search(case.bare):
        return "mentioned in passing"
    rate = phrases("rate").match(after)
    return "mentioned in passing" if rate and (unit is None or unit.kind != "volume") else ""


def _made(case: Case) -> str:
    many = case.counted and not case.amount.of and case.amount.value != 1
    if case.amount.measured and phrases("yields").search(case.bare):
        return "how much it makes"
    made = many and phrases("made").search(case.bare) and (case.dish or case.is_title)
    return MADE if made else ""


def _taken_out(case: Case) -> str:
    """ "a spoon of treacle. I left it out": what is said next leaves the food out by a pronoun."""
    talk = case.talk
    for at in range(case.mention.end, min(case.mention.end + 12, talk.n)):
        if talk.counts(at) or talk.food_length(at):
            break
        if talk.text[at] in word_class("in_the_sum") and denied(talk, at):
            return "the speaker does not count it"
        if talk.text[at] not in ("it", "them", "that"):
            continue
        verb, before = talk.word(at - 1), talk.said(at - 4, at - 1).split()
        out = verb in ("left", "leave", "leaving", "took") and talk.close(at + 1) == "out"
        no = not word_class("negative").isdisjoint(before)
        skipped = verb in ("skip", "skipped", "without")
        if out or (no if verb in word_class("puts_in") else skipped and not no):
            return "the speaker leaves it out"
    return ""


def _named_otherwise(case: Case) -> str:
    talk, food = case.talk, case.food
    if case.amount.one and talk.close(food.end) == "of" and talk.food_length(food.end + 1):
        return "part of another name"
    dish = talk.close(food.end) in word_class("dish") | word_class("deed_dish")
    if case.amount.one and not food.notes and (
        dish or not (talk.boundary(food.end) or talk.text[food.end] in talk.known.prep)
    ):  # fmt: skip
        return "part of another name"
    return ""


def _summed_up(case: Case) -> bool:
    """ "two wraps each. So that's eight flour tortillas": what one has of what is named next."""
    talk, end, value = case.talk, case.food.end, case.amount.value
    if talk.close(end) not in ("each", "apiece"):
        return False
    behind = range(end + 1, min(end + _SOON, talk.n - 2))
    total = next((at for at in behind if talk.words[at].value is not None), 0)
    number = talk.number(total)
    told = total > 0 and number > value and number % value == 0
    named = told and any(talk.food_length(at) for at in (total + 1, total + 2))
    return named and "so" in talk.said(end + 1, total).split()


def _share(case: Case) -> str:
    if not case.counted:
        return ""
    food, amount = case.food, case.amount
    if amount.unit is None and not amount.article and (_is_share(case) or _summed_up(case)):
        return MADE
    if not case.dish or not case.is_title:
        return ""
    if not amount.of and amount.value > 1 and len(food.name) == 1:
        return MADE
    each = r"^(?:each|apiece|is|are|comes?|and it's)\b"
    return MADE if re.match(each, case.talk.said(food.end, food.end + 3)) else ""


def _is_share(case: Case) -> bool:
    """The numbers are stated for one of them: "eight scones. Per scone 110 calories"."""
    talk = case.talk
    what = {talk.folded[case.food.end - 1], case.food.head[-1] if case.food.head else ""} - {""}
    return any(
        talk.folded[at] in what
        and (talk.words[at - 1].value == 1 or talk.text[at - 1] in ("per", "each", "every"))
        and not word_class("ENERC_KCAL").isdisjoint(talk.said(at, at + 8).split("|")[0].split())
        for at in range(case.mention.end, min(case.mention.end + 25, talk.n))
    )


def _dish(case: Case) -> str:
    unit, last = case.amount.unit, singular(case.food.name[-1])
    if unit is None and len(case.food.name) > 1 and last in word_class("made_dish"):
        return "a dish beside it"
    if not case.amount.one:
        return ""
    if tuple(case.food.name) in case.talk.dishes:
        return "a dish beside it"
    if len(case.food.name) == 1 and case.food.name[0] in word_class("dish_beside"):
        return "a dish beside it"
    dish = case.dish or set(case.title.lower().split()) <= {*case.food.name}
    if dish and case.is_title and not case.amount.of:
        return "a dish beside it"
    return "only a comparison" if case.bare.endswith(" of") else ""


#: In this order; the first that gives a reason holds.
_RULES: tuple[Callable[[Case], str], ...] = (
    _made, _named_otherwise, _share, _dish,
)  # fmt: skip
