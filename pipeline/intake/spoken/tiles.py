"""The tiles that may begin at a word: an amount with the food behind it, a food with the amount behind it,
or one of them alone, each with its score.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from pipeline.intake.spoken.amounts import amount_at
from pipeline.intake.spoken.clauses import tells_otherwise
from pipeline.intake.spoken.foods import countable, ends_name, food_span, one_of
from pipeline.intake.spoken.mentions import FEW, Amount, Chunk, Food, Mention
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.talk import Talk

_ALONE = 0.6  # an amount without a food of its own
_AGAIN = 0.9  # one that is told again: "half a bag, which is 100 grams"
_NAMED = 0.5  # a food without an amount
_BEFORE = 4.0  # an amount and the food behind it
_UNCOUNTED = 3.3  # a number and a food that nobody counts: "3 flour"
_GRAMS = 2.8  # a number too large to be counted, of who weighs in grams: "110 sugar"
_ODD = 2.0  # of who does not
_BEHIND = 3.9  # a food and the amount behind it
_FREE = 0.05  # a word between them that tells an amount once more
_NOISE = 0.2  # any other
_SPLIT = 0.2  # of two foods named side by side only the first has the amount
_MANY = 36  # more of anything nobody counts
_REACH = 8  # words that may stand between a food and its amount

#: A tile and how well it goes together.
Scored = tuple[float, Chunk]


def weigh_counted(talk: Talk) -> None:
    """Ask of all foods behind a bare number at once whether anybody counts them."""
    counted: list[Food] = []
    for at in range(talk.n):
        amount = amount_at(talk, at) if talk.counts(at) else None
        if amount is not None and amount.unit is None and amount.end < talk.n:
            food = food_span(talk, amount.end, measured=False)
            counted += [food] if food is not None else []
    talk.composition.read(one_of(food) for food in counted)


def tiles_at(talk: Talk, at: int) -> Iterator[Scored]:
    """The tiles that begin at a word, each with its score."""
    amount = amount_at(talk, at)
    if amount is not None:
        yield from _from_amount(talk, at, amount)
        return
    length = talk.food_length(at)
    named = length > 1 or (length == 1 and talk.text[at] not in word_class("talk"))
    if named or (not length and talk.words[at].breaks and _describing(talk, at)):
        yield from _from_food(talk, at)  # the latter: "wholemeal wrap, one"
    elif talk.stops(at):
        yield from _unknown(talk, at)


def _describing(talk: Talk, at: int) -> bool:
    """A word that describes the food right after it."""
    text, known = talk.text[at], talk.known
    if text in talk.small or text in known.verbs or text in word_class("talk"):
        return False
    if not any(text in words for words in (known.kinds, known.manners, known.food_words)):
        return False
    return bool(talk.close(at + 1)) and talk.food_length(at + 1) > 0


def _from_amount(talk: Talk, at: int, amount: Amount) -> Iterator[Scored]:
    unit = amount.unit
    broken = amount.end < talk.n and not amount.of and (
        talk.words[amount.end].breaks or talk.text[amount.end] == "more"
    )  # fmt: skip
    if talk.close(amount.end) == "each" and talk.close(amount.end + 1) == "of":
        yield from _each_of(talk, at, amount)
    if amount.end < talk.n and not broken and talk.text[amount.end - 1] not in ("one", "ones"):
        weighed = unit is not None and unit.kind in ("mass", "volume", "trade") and (
            amount.of or (unit.name in ("tsp", "tbsp") and talk.word(amount.end) != "or")
        )  # fmt: skip
        food = food_span(talk, amount.end, measured=unit is not None, weighed=weighed)
        food = food or _made_before(talk, amount)
        score = _fits(talk, amount, food) if food is not None else 0.0
        kind = amount.article and unit is None and food and talk.close(food.end) == "one"
        if food is not None and score and not kind:  # "a proper orange one" is a kind of another
            start, part = _part(talk, at)
            mention = Mention(start, food.end, food, amount, part=part)
            mention.amount_spans = [(amount.start, amount.end)]
            score += _AGAIN * (amount.each is not None)  # "a two pound bag" is one amount, not two
            yield score, Chunk(at, food.end, mention, amount)
            shorter = _first_of(talk, amount, food)
            if shorter is not None:
                first = replace(mention, food=shorter, end=shorter.end)
                yield score - _SPLIT, Chunk(at, shorter.end, first, amount)
    if unit is None and not _counted_alone(talk, amount):
        return
    end = amount.end - (1 if amount.of else 0)
    if talk.close(end) in ("each", "apiece"):
        amount = replace(amount, end=end, article=False, of=False, apiece=True)
        end += 1
    elif talk.close(end) == "of":
        end = end + 2 if talk.close(end + 1) == "each" else talk.stands_for(end)
    again = unit is not None and unit.weighs and talk.close(at - 1) in ("is", "that's", "about")
    yield _AGAIN if again else _ALONE, Chunk(at, end, None, amount)


def _first_of(talk: Talk, amount: Amount, food: Food) -> Food | None:
    """ "500 grams lamb carrots 300 grams": the first of two foods of which the second has an amount
    behind it that cannot be that of both once more."""
    stop = food.start + talk.food_length(food.start)
    told = amount_at(talk, food.end) if food.end < talk.n else None
    if told is not None and told.article and (told.of or told.unit is None):
        return None
    if not food.start < stop < food.end or told is None or talk.words[food.end].breaks:
        return None
    spooned = told.unit is not None and told.unit.kind in ("volume", "trade")
    # "two red peppers tomato paste 50 grams", and not "two thigh fillets 300 grams"
    weighed = told.unit is not None and told.unit.weighs and (
        not talk.known.units.keys() & {(word,) for word in talk.text[stop : food.end]}
    )  # fmt: skip
    if stop + talk.food_length(stop) != food.end or (
        (told.unit is None) != (amount.unit is None)
        and not (amount.unit is None and (spooned or weighed))  # "one onion butter two tablespoons"
    ):
        return None
    name = talk.text[food.start : stop]
    return Food(food.start, stop, name, tuple(talk.folded[food.start : stop]), True)


def _made_before(talk: Talk, amount: Amount) -> Food | None:
    """What was made before and is taken of: "two portions of that soup", "a cup of that sofrito"."""
    unit, at = amount.unit, amount.end
    if unit is None or not amount.of or not (unit.weighs or unit.name in word_class("served_in")):
        return None
    while talk.close(at) in word_class("pointing"):
        at += 1
    dish = talk.close(at)
    if not dish or dish not in talk.text[: amount.start]:
        return None
    measured = unit.weighs and at > amount.end and talk.tells(at) and talk.boundary(at + 1)
    if not measured and (unit.weighs or dish not in word_class("dish")):
        return None
    return Food(at, at + 1, [dish], (talk.folded[at],), True)


def _each_of(talk: Talk, at: int, amount: Amount) -> Iterator[Scored]:
    """ "a teaspoon each of cumin, coriander and mild paprika": one tile, a food for each."""
    foods: list[Food] = []
    next_at = amount.end + 2
    while next_at < talk.n and not talk.stops(next_at):
        food = food_span(talk, next_at, measured=False)
        if food is None or not food.known:
            break
        foods.append(food)
        next_at = food.end + (talk.joined(food.end) == "and")
    if len(foods) < 2:
        return
    told = replace(amount, article=False)
    mentions = [Mention(food.start, food.end, food, replace(told)) for food in foods]
    mentions[0].start = at
    mentions[0].amount_spans = [(amount.start, amount.end)]
    chunk = Chunk(at, foods[-1].end, mentions[0], amount, mentions[1:])
    yield _BEFORE * len(foods), chunk


def _fits(talk: Talk, amount: Amount, food: Food) -> float:
    """How well an amount and the food behind it go together; 0: they do not."""
    unit = amount.unit
    pointed = food.determined in ("the", "that", "those", "these", "this") and not amount.of
    if unit is not None:
        return (
            (2.0 if pointed else _BEFORE)
            if food.known
            else 2.4
            if amount.of or unit.weighs
            else 0.0
        )
    if not food.known or pointed:
        return 0.0
    if amount.article:
        return 2.0 if food.start - amount.end <= 1 else 0.0
    many = _UNCOUNTED if amount.of else _GRAMS if talk.weighs_in_grams else _ODD
    if not countable(talk, food):
        return _UNCOUNTED if amount.value <= FEW else many
    return _BEFORE if amount.value <= _MANY else many


def _counted_alone(talk: Talk, amount: Amount) -> bool:
    """ "two of them", "the remaining quarter"."""
    if amount.article or talk.joined(amount.end) in word_class("correct"):
        return False  # "60, no, 80 grams"
    if amount.of and (
        talk.close(amount.end) == "these"
        or talk.close(amount.end) == "each"
        or talk.stands_for(amount.end - 1) >= amount.end
    ):
        return True
    if talk.boundary(amount.end) and (
        _offered_before(talk, amount)
        or phrases("corrects_count").search(talk.lead(amount.start, 4))
        or (talk.close(amount.start) and talk.word(amount.start - 1) == "it")  # "call it 100"
        or (not talk.close(amount.start) and not talk.close(amount.end))  # "Carrots. Two."
        or (
            talk.close(amount.start)
            and not talk.words[amount.start].share
            and talk.close(amount.end) not in word_class("before_tools")
            and talk.word(amount.start - 1) in word_class("tells_amount")
        )
    ):
        return True
    return talk.word(amount.start - 1) in ("remaining", "other") and talk.words[amount.start].share


def _offered_before(talk: Talk, amount: Amount) -> bool:
    """ "a chilli, or two. I do two": the number was offered shortly before."""
    before = range(max(amount.start - _REACH, 1), amount.start)
    return any(talk.words[k].value == amount.value and talk.text[k - 1] == "or" for k in before)


def _part(talk: Talk, at: int) -> tuple[int, str]:
    """ "the zest and juice of" before an amount: where it begins, and its words."""
    if talk.word(at - 1) != "of" or talk.word(at - 2) not in word_class("part_of_food"):
        return at, ""
    begin = at - 2
    if talk.word(at - 3) == "and" and talk.word(at - 4) in word_class("part_of_food"):
        begin = at - 4
    return begin, " ".join(talk.text[begin:at])


def _from_food(talk: Talk, at: int) -> Iterator[Scored]:
    food = food_span(talk, at, measured=False)
    if food is None or not food.known:
        return
    food.determined = talk.word(at - 1) if not talk.words[at].breaks else ""
    yield _NAMED, Chunk(at, food.end, Mention(at, food.end, food))
    if talk.close(at) and talk.word(at - 1) in ("like", "per", "each", "every"):
        return  # "short pasta like ditalini, 160 grams", "a spoon per dosa, so four spoons"
    if at and talk.words[at - 1].article and food.name[-1] in word_class("dish"):
        return  # "or you have a smoothie"
    gap, cost = food.end, 0.0
    parted = False
    noise, opens, since = 0, talk.stops(at), food.end
    while gap < talk.n and gap - since <= _REACH:
        amount = amount_at(talk, gap)
        if amount is not None and tells_otherwise(talk, max(gap - 6, food.end), gap):
            gap = since = amount.end  # "my mother used to empty half a tin, I use a third of a cup"
            continue
        apart = talk.stops(gap)
        parted |= apart
        if amount is not None and (apart or (parted and food.name[-1] in word_class("dish"))):
            return  # what the sentence was about, the whole passage decides
        if amount is not None and _fits_behind(talk, food, amount):
            unit = amount.unit
            served = unit is not None and not word_class("served_in").isdisjoint(
                (unit.name, unit.said)
            )
            tool = amount.article and talk.word(gap - 1) in word_class("before_tools")
            several = amount.of and amount.value >= 1
            measured = amount.measured and not served and not tool
            if not noise or measured or several or _told_of(talk, amount):
                yield from _behind(talk, food, amount, cost)
            return
        if amount is not None and not amount.article:
            return
        if talk.close(gap) == "like" and gap + 1 < talk.n and talk.food_length(gap + 1):
            gap += 1 + talk.food_length(gap + 1)  # "short pasta like ditalini, 160 grams"
            continue
        step, more = _link(talk, gap, first=gap == food.end, opens=opens)
        if not step or (more == _NOISE and talk.stops(gap)):
            return
        gap, cost, noise = gap + step, cost + more, noise + (more == _NOISE)


def _unknown(talk: Talk, at: int) -> Iterator[Scored]:
    """A sentence of words that are no talk and an amount: "Yaji spice, 45 grams"."""
    end = at
    while end < talk.n and end - at < 4 and (end == at or not talk.words[end].breaks):
        text = talk.text[end]
        if talk.words[end].value is not None or (ends_name(talk, end) and (
            text not in talk.known.verbs or end > at
        )) or text in word_class("talk"):  # fmt: skip
            break
        end += 1
    amount = amount_at(talk, end) if at < end < talk.n else None
    if amount is None or not amount.measured or amount.of or talk.stops(end):
        return
    if not talk.boundary(amount.end) or talk.text[end - 1] in talk.known.verbs:
        return
    food = Food(at, end, list(talk.text[at:end]), (), False)
    mention = Mention(at, amount.end, food, amount)
    mention.amount_spans = [(amount.start, amount.end)]
    yield 2.4, Chunk(at, amount.end, mention, amount)


def _link(talk: Talk, at: int, *, first: bool, opens: bool) -> tuple[int, float]:
    """Words that may stand between a food and its amount, and what they cost; 0 words for none.

    A word that is neither food, number nor unit is mere noise, but the more of it, the less likely.
    """
    word, text, known = talk.words[at], talk.text[at], talk.known
    if talk.stops(at) and not first:
        return 0, 0.0
    linked = text in word_class("link") or text in known.states
    if linked or word.value is not None:
        return 1, _FREE
    if opens and not talk.food_length(at) and talk.unit_at(at)[0] is None:
        return 1, _NOISE  # "chicken thigh with no bone and no skin, 800 grams"
    return (1, _NOISE) if talk.plain(at) else (0, 0.0)


def _behind(talk: Talk, food: Food, amount: Amount, cost: float) -> Iterator[Scored]:
    """A food with the amount said behind it."""
    end = amount.end - (1 if amount.of else 0)
    if amount.of:
        them = talk.close(amount.end)
        end = amount.end + 1 if them == "these" else talk.stands_for(amount.end - 1)
        if end < amount.end or (them == "that" and not talk.boundary(end)):
            return
    apart = talk.words[amount.start].breaks or _listed(talk, food, amount)
    closes = amount.unit is not None and (  # "garlic one clove", "berries six pieces crushed"
        talk.boundary(end) or talk.text[end] in talk.known.prep
    )
    counted = amount.unit is None and not amount.of
    if not (cost or apart or closes or amount.measured or counted or end > amount.end):
        return
    mention = Mention(food.start, end, food, amount)
    mention.amount_spans = [(amount.start, end)]
    score = _BEHIND - cost - (0.4 if amount.unit is None else 0.0)
    if talk.close(end) in ("each", "apiece"):
        score -= 1.5  # of several that were counted before
    elif amount.unit is None and end < talk.n and talk.food_length(end):
        score -= 0.4
    yield score, Chunk(food.start, end, mention, amount)


def _fits_behind(talk: Talk, food: Food, amount: Amount) -> bool:
    """An amount that can belong to the food before it: measured, or counted with nothing after it."""
    if amount.unit is not None:
        return True
    if amount.article:
        return False
    them = talk.close(amount.end)
    if amount.of and them != "that" and (
        them == "these" or talk.stands_for(amount.end - 1) > amount.end
    ):  # fmt: skip
        return talk.word(amount.start - 1) != "for"  # "for one of those you are at 550"
    if talk.text[amount.end - 1] in ("one", "ones"):
        return True
    whole = float(amount.value).is_integer() or talk.words[amount.start].share
    if not whole or not (talk.boundary(amount.end) or talk.food_length(amount.end)):
        return False
    behind = amount.end >= talk.n or talk.words[amount.end].breaks
    apart = talk.words[amount.start].breaks or _listed(talk, food, amount)
    beside = amount.start == food.end and not talk.words[amount.start].breaks
    beside = beside and amount.value != 1 and amount.value <= FEW
    if apart and behind:
        return True
    return (beside or _told_of(talk, amount)) and countable(talk, food)


def _told_of(talk: Talk, amount: Amount) -> bool:
    """ "cherry tomatoes I do like five": a count that closes, led in by a word that tells amounts;
    not "she does two"."""
    at = amount.start - 1
    while at > 0 and talk.text[at] in word_class("filler") and talk.close(at + 1):
        at -= 1
    unit = amount.unit
    counted = unit is None or unit.said in word_class("always_unit")
    counted &= not amount.article and 1 <= amount.value <= FEW
    led = bool(talk.close(at + 1)) and talk.word(at) in word_class("tells_amount")
    subjects = ("i", "we", "you")
    led &= talk.word(at - 1) in subjects or talk.word(at).split("'")[0] in subjects
    each = talk.close(amount.end) in ("each", "apiece")
    return counted and led and not each and talk.boundary(amount.end)


def _listed(talk: Talk, food: Food, amount: Amount) -> bool:
    """ "Egg two.": a food and its count, and nothing else, between two breaks."""
    ends = amount.end >= talk.n or talk.words[amount.end].breaks
    return bool(ends and talk.words[food.start].breaks and amount.start == food.end) and (
        food.name[-1] not in word_class("dish")
    )
