"""Amounts in the words of a script: "two 400 gram tins", "a kilo and two hundred", "another onion"."""

from __future__ import annotations

from pipeline.intake.spoken.figures import fat_ones, figure, of_a_name
from pipeline.intake.spoken.lexicon import SHORT, Unit
from pipeline.intake.spoken.mentions import Amount
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.talk import Talk
from pipeline.units import kitchen_units

#: A number said in words is no count from there on that ends in one: "four hundred and fifty, two peppers".
_COUNTED = 40
_LATELY = 100  # words in which "another" is said of what was named


def amount_at(talk: Talk, at: int) -> Amount | None:
    """The amount that begins at a word."""
    word = talk.words[at]
    if word.value is None:
        return _another(talk, at) if talk.text[at] == "another" else _bare_unit(talk, at)
    before = at > 0 and not word.breaks and talk.counts(at - 1)
    if before and not talk.words[at - 1].share and talk.number(at - 1) + word.value == 100:
        return None  # the 7 of "93 7 ground turkey"
    if figure(talk, at) and not talk.unit_at(at + 1)[0]:
        return None
    if of_a_name(talk, at) or makes(talk, at) or _one_pot(talk, at):
        return None
    if word.article and (before or _vague(talk, at + 1)):
        return None  # "four a cup", "50 a pot": of each of what follows
    said = "" if word.breaks else talk.word(at - 1)
    if said in ("number", "recipe", "step"):
        return None
    if said == "at" and talk.counts(at) and talk.unit_at(at + 1)[0] is None:
        return None  # "ten minutes at 200"
    amount = Amount(at, at + 1, word.value, word.value, article=word.article)
    range_to = talk.close(at + 1) in ("to", "or") and talk.counts(at + 2) and talk.close(at + 2)
    if not word.article and range_to and talk.number(at + 2) > word.value:
        amount.high, amount.end = talk.number(at + 2), at + 3
    return _unit_of(talk, amount)


def _one_pot(talk: Talk, at: int) -> bool:
    """ "one pot pasta": no count, but how it is cooked."""
    pot = talk.counts(at) and talk.number(at) == 1 and talk.close(at + 1) in word_class("cooked_in")
    return pot and talk.close(at + 2) not in ("", "of") and talk.food_near(at + 2)


def makes(talk: Talk, at: int) -> bool:
    """The 4 of "makes four pound and a half of beef": nobody says so of four and a half."""
    unit, size = talk.unit_at(at + 1)
    return unit is not None and unit.weighs and talk.number(at) > 1 and (
        talk.word(at - 1) in word_class("makes_servings")
        and talk.text[at + 1] == talk.folded[at + 1]
        and bool(talk.close(at + 1)) and _and_part(talk, at + 1 + size) > 0
    )  # fmt: skip


def _vague(talk: Talk, at: int) -> bool:
    """ "a little", "a bit of", "a lot of"; but "a little gem" and "a little tin"."""
    text = talk.close(at)
    if text == "wee":
        return talk.close(at + 1) == "bit"
    if text == "little":
        return talk.unit_at(at + 1)[0] is None and talk.food_length(at) < 2
    return text in ("bit", "lot", "load", "touch")


def _unit_of(talk: Talk, amount: Amount) -> Amount | None:
    """An amount with what it is measured or counted in."""
    if talk.close(amount.end) == "of":
        after = talk.close(amount.end + 1)
        if after in ("us", "you"):
            return None  # people
        if after in word_class("pointing") | word_class("of_them"):
            return _of_those(talk, amount, after)
    return amount if _each(talk, amount, amount.end) else _plain(talk, amount)


def _of_those(talk: Talk, amount: Amount, those: str) -> Amount | None:
    """ "two of the big cans", "two of them eggs"."""
    end, inner = amount.end, amount.end + 2
    while talk.close(inner) in word_class("before_units") and talk.unit_at(inner + 1)[0]:
        inner += 1
    if inner < talk.n and _each(talk, amount, inner):
        return amount
    unit, size = talk.unit_at(inner) if inner < talk.n else (None, 0)
    if unit is not None and talk.close(inner) and talk.close(inner + size) == "of":
        one = (talk.folded[inner],) if amount.value == 1 else (talk.text[inner],)
        amount.unit, amount.end = talk.known.units.get(one, unit), inner + size
        _of(talk, amount)
        return amount
    named = those == "them" and inner < talk.n and talk.food_length(inner) > 0
    named &= talk.word(amount.start - 1) not in word_class("tells_amount")  # "I had four of them"
    pointed = named or those in word_class("pointing") | {"these"}
    if pointed and not amount.article and talk.food_near(inner) and (
        talk.stands_for(end) <= end + 2
    ):  # fmt: skip
        amount.end, amount.of = inner, True
        return amount
    return None if amount.article else _plain(talk, amount)


def _each(talk: Talk, amount: Amount, at: int) -> bool:
    """ "two 400 gram tins": what each package holds."""
    at += talk.close(at) in word_class("before_units")
    if not talk.counts(at) or talk.words[at].breaks:
        return False
    inner, size = talk.unit_at(at + 1)
    if inner is None or inner.kind not in ("mass", "volume"):
        return False
    after = at + 1 + size
    skipped = 0
    while skipped < 2 and talk.close(after) in talk.known.manners | {"big", "small", "large"}:
        after, skipped = after + 1, skipped + 1
    outer, more = talk.unit_at(after)
    if outer is not None and outer.name == "cup":
        outer = talk.known.units["tub",]  # "two 5 ounce cups of yogurt"
    held = outer is not None and outer.kind in ("package", "count", "trade")
    if not held or talk.words[after].breaks:
        return False
    amount.each, amount.unit = (talk.number(at), inner.said), outer
    amount.end = after + more
    _of(talk, amount)
    return True


def _plain(talk: Talk, amount: Amount) -> Amount:
    """An amount with the unit right behind it, words of size between, or a count of what follows."""
    end = amount.end
    skipped: list[str] = []
    while len(skipped) < 3 and talk.close(end) and talk.food_length(end) < 2 and (
        fat_ones(talk, end)
        or (talk.close(end) in word_class("before_units") and talk.unit_at(end)[1] < 2)  # "small spoon"
    ):  # fmt: skip
        skipped.append(talk.text[end])
        end += 1
    amount.size = next((s for s in skipped if s in word_class("size")), "")
    told = skipped or talk.words[amount.start].share
    if told and talk.close(end) in ("one", "ones") and not amount.article:
        amount.end = end + 1  # "onions, two big ones"
        return amount
    unit, size = talk.unit_at(end)
    tail = talk.words[amount.start].tail
    if unit is not None and not talk.words[end].breaks and _is_unit(talk, unit, end, size):
        amount.unit, amount.end = unit, end + size
        if tail == 1 and unit.said not in SHORT and talk.text[end] == talk.folded[end]:
            amount.value = amount.high = tail  # "protein fifty one cup of yogurt"
        part = _and_part(talk, amount.end)
        behind = amount.end + 2
        if part and unit.name not in ("g", "ml") and (
            talk.close(behind) in {"of", *talk.known.manners} or talk.boundary(behind)
        ):  # fmt: skip
            amount.value = amount.high = amount.value + part
            amount.end += 2
        _and_smaller(talk, amount)
    elif not amount.article and amount.value >= 1 and _measures(talk, end):
        amount.unit = Unit(talk.text[end], "count", talk.text[end])
        amount.end = end + 1
    else:
        amount.end = end
        if tail and amount.value >= _COUNTED and talk.food_near(end):
            amount.value = amount.high = tail  # nobody counts 452 peppers
    _of(talk, amount)
    return amount


def _and_smaller(talk: Talk, amount: Amount) -> None:
    """Add what is told in a smaller unit of the same kind: "a kilo and two hundred grams"."""
    at, unit = amount.end + (talk.close(amount.end) in ("and", "plus")), amount.unit
    if at == amount.end and unit is not None and unit.kind != "mass":
        return  # "not a tablespoon, one teaspoon of it"
    other, size = talk.unit_at(at + 1)
    if other is None and unit is not None and unit.name in ("kg", "l") and talk.counts(at) and (
        talk.close(at) and talk.close(at + 1) == "of" and talk.number(at) >= 100
    ):  # fmt: skip
        other, size = talk.known.units["g" if unit.name == "kg" else "ml",], 0
    if unit is None or other is None or not unit.weighs or unit.kind != other.kind or not (
        talk.counts(at) and talk.close(at) and talk.close(at + 1)
    ):  # fmt: skip
        return
    end, share = at + 1 + size, kitchen_units().ratio(other.name, unit.name)
    before = range(max(amount.start - 3, 0), amount.start)
    told = amount.article or any(talk.food_length(k) == amount.start - k for k in before)
    if told and talk.close(amount.start) and (
        talk.close(end) == "of" or (talk.close(end) and talk.food_length(end))
    ):  # fmt: skip
        return  # "chicken one kilo 200 grams of rice"
    more = talk.number(at) * share
    if share < 1 and more < 1:
        amount.value = amount.high = amount.value + more
        amount.end = end


def _measures(talk: Talk, at: int) -> bool:
    """A word of no table that stands where a unit does: "one branch of rosemary"."""
    text = talk.close(at)
    others = talk.small | word_class("talk") | word_class("ENERC_KCAL")
    plain = text and talk.plain(at) and text not in others
    return bool(plain and talk.close(at + 1) == "of" and talk.close(at + 2)) and (
        talk.food_length(at + 2) > 0
    )


def _and_part(talk: Talk, at: int) -> float:
    """The half of "and a half" behind a unit; 0 for none."""
    if talk.close(at) != "and" or not talk.close(at + 1) or not talk.words[at + 1].share:
        return 0.0
    return talk.number(at + 1)


def _is_unit(talk: Talk, unit: Unit, at: int, size: int) -> bool:
    """Whether a unit word is one here: "two slices of ham", but "two pound 80" is money."""
    after = at + size
    if unit.name == "lb" and talk.close(after) and talk.words[after].value is not None and (
        not talk.words[after].share
    ):  # fmt: skip
        return False
    if unit.kind == "length":
        named = any(talk.food_length(k) == at - 1 - k for k in range(max(at - 4, 0), at - 1))
        return (talk.close(after) == "of" and talk.food_near(after + 1)) or (
            named and not talk.close(after)
        )  # "ginger, an inch"
    if unit.kind == "share":
        return False
    if talk.close(after) == "of" or talk.word(after) == "":
        return True
    # "four salmon fillets", "two chicken breasts": the piece is part of the name there, and
    # "a lemon cut in wedges" has none; before "of" or a food it is a unit
    return (
        unit.kind not in ("count", "package")
        or unit.said in word_class("always_unit")
        or talk.food_near(after)
        or talk.words[after].breaks != 0
        or not talk.known.food_at(talk.folded, at, talk.n)
    )


def _of(talk: Talk, amount: Amount) -> None:
    if talk.close(amount.end) in ("of", "o'"):
        amount.of = True
        amount.end += 1


def _another(talk: Talk, at: int) -> Amount | None:
    """ "another onion": one more of what was named shortly before."""
    length = talk.food_length(at + 1) if talk.close(at + 1) else 0
    name = talk.folded[at + 1 : at + 1 + length]
    lately = talk.folded[max(at - _LATELY, 0) : at]
    if not length or not any(lately[k : k + length] == name for k in range(len(lately))):
        return None
    return Amount(at, at + 1, 1.0, 1.0, article=True)


def _bare_unit(talk: Talk, at: int) -> Amount | None:
    """ "teaspoon of honey", "handful of spinach" without a number before it."""
    unit, size = talk.unit_at(at)
    package = unit is not None and unit.kind == "package" and talk.close(at + size) == "of"
    if unit is None or unit.name == "ml":
        return None
    of = talk.close(at + size) == "of" and talk.words[at].breaks
    weight = unit.kind == "mass" or unit.name == "l"
    if weight and not (_and_part(talk, at + size) or of):
        return None
    listed = of and talk.food_near(at + size + 1)  # "two onions, thumb of ginger"
    if unit.kind not in ("volume", "trade") and not (package or weight or listed):
        return None
    if unit.said.endswith("s") and not unit.said.endswith("ss") and unit.name != "tbsp":
        return None
    end = at + size
    if talk.text[at] == "squeeze" and talk.close(end) != "of":
        return None
    part = _and_part(talk, end)
    amount = Amount(at, end + 2 if part else end, 1.0 + part, 1.0 + part, unit)
    _of(talk, amount)
    if not (amount.of or part or unit.name in ("tsp", "tbsp")):
        return None
    each = talk.close(amount.end) == "each" and talk.close(amount.end + 1) == "of"
    alone = part and talk.words[at].breaks and talk.boundary(amount.end)
    return amount if alone or talk.food_near(amount.end + 2 * each) else None
