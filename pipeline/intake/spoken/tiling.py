"""The best way to lay amounts and foods side by side: one best path over the words.

"oats 50 grams yogurt 150 grams" and "50 grams oats 150 grams yogurt" hold the same words; which
amount belongs to which food is decided for the whole run at once (Viterbi over the candidates of
``grammar``), not from the left word by word.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.intake.spoken.grammar import PARTS, Amount, Food, Mention, Talk
from pipeline.intake.spoken.words import STRONG, WEAK

_ALONE = 0.4  # an amount without a food of its own
_NAMED = 0.5  # a food without an amount
_REACH = 8  # words that may stand between a food and its amount


@dataclass(slots=True)
class Chunk:
    """A tile: ``both`` food and amount, an ``amount``, or a ``food``."""

    kind: str
    start: int
    end: int
    mention: Mention | None = None
    amount: Amount | None = None

    @property
    def of(self) -> Mention:
        """The mention of a tile that holds a food."""
        assert self.mention is not None
        return self.mention


def tiling(talk: Talk, blocked: list[bool]) -> list[Chunk]:
    """The best tiles over all words that ``blocked`` leaves free."""
    n = talk.n
    best = [0.0] * (n + 1)
    choice: list[Chunk | None] = [None] * (n + 1)
    for at in range(n):
        if best[at] > best[at + 1]:
            best[at + 1], choice[at + 1] = best[at], None
        if blocked[at]:
            continue
        for end, score, chunk in _chunks(talk, at, blocked):
            if best[at] + score > best[end]:
                best[end], choice[end] = best[at] + score, chunk
    out: list[Chunk] = []
    at = n
    while at > 0:
        ending = choice[at]
        if ending is None:
            at -= 1
        else:
            out.append(ending)
            at = ending.start
    return out[::-1]


def _free(blocked: list[bool], start: int, end: int) -> bool:
    return not any(blocked[start:end])


def _chunks(talk: Talk, at: int, blocked: list[bool]) -> list[tuple[int, float, Chunk]]:
    out: list[tuple[int, float, Chunk]] = []
    amount = talk.amount_at(at)
    if amount is not None and _free(blocked, at, amount.end):
        out += _from_amount(talk, at, amount, blocked)
    elif amount is None:
        length = talk.food_length(at)
        if length and not (length == 1 and talk.text[at] in talk.known.classes["talk"]):
            out += _from_food(talk, at, blocked)
        elif not length and talk.words[at].breaks and _describing(talk, at):
            out += _from_food(talk, at, blocked)  # "wholemeal wrap, one"
    return out


def _describing(talk: Talk, at: int) -> bool:
    """A word that describes the food right after it."""
    text, known = talk.text[at], talk.known
    if text in talk._ends or text in known.verbs or text in known.classes["talk"]:
        return False
    if text not in known.kinds | known.manners | known.food_words:
        return False
    return at + 1 < talk.n and not talk.words[at + 1].breaks and talk.food_length(at + 1) > 0


def _from_amount(
    talk: Talk, at: int, amount: Amount, blocked: list[bool]
) -> list[tuple[int, float, Chunk]]:
    out: list[tuple[int, float, Chunk]] = []
    unit = amount.unit
    food: Food | None = None
    broken = amount.end < talk.n and talk.words[amount.end].breaks and not amount.of
    inner = talk.amount_at(amount.end) if broken and unit is not None else None
    if (
        inner is not None
        and inner.unit is not None
        and inner.unit.kind in ("mass", "volume")
        and (
            inner.end < talk.n
            and talk.words[inner.end].breaks == WEAK
            and talk.words[amount.end].breaks == WEAK
            and not inner.of
        )
    ):  # "1 scoop (25 g) casein"
        food = talk.food_span(inner.end, measured=True)
        if food is not None and food.known and _free(blocked, at, food.end):
            mention = Mention(at, food.end, food, amount, also=[inner])
            mention.amount_spans = [(amount.start, amount.end), (inner.start, inner.end)]
            out.append((food.end, 4.6, Chunk("both", at, food.end, mention, amount)))
        food = None
    if amount.end < talk.n and not broken:
        weighed = unit is not None and unit.kind in ("mass", "volume", "trade") and (
            amount.of or (unit.name in ("tsp", "tbsp") and talk.word(amount.end) != "or")
        )  # fmt: skip
        food = talk.food_span(amount.end, measured=unit is not None, weighed=weighed)
    if food is not None and _free(blocked, at, food.end):
        heavy = unit is not None and unit.kind in ("mass", "volume")
        score = 4.0 if food.known else 2.4 if amount.of or heavy else 0.0
        if unit is None and amount.article:
            score = 2.0 if food.known and food.start - amount.end <= 1 else 0.0
        if unit is None and not food.known:
            score = 0.0
        if (
            food.determined in ("the", "that", "those", "these", "this")
            and unit is None
            and not amount.of
        ):
            score = 0.0
        if score:
            start, part = _part(talk, at)
            mention = Mention(start, food.end, food, amount, part=part)
            mention.amount_spans = [(amount.start, amount.end)]
            out.append((food.end, score, Chunk("both", at, food.end, mention, amount)))
    if unit is not None or _counted_alone(talk, amount):
        end = amount.end - (1 if amount.of else 0)
        if talk.close(end) in ("each", "apiece"):
            amount = _copy(amount, end)
            amount.apiece = True
            end += 1
        elif talk.close(end) == "of" and talk.close(end + 1) in (
            "them",
            "those",
            "it",
            "that",
            "em",
        ):
            end += 2
        out.append((end, _ALONE, Chunk("amount", at, end, None, amount)))
    return out


def _copy(amount: Amount, end: int) -> Amount:
    return Amount(
        amount.start, end, amount.value, amount.high, amount.unit, amount.size, amount.each
    )


def _counted_alone(talk: Talk, amount: Amount) -> bool:
    """ "two of them", "the remaining quarter"."""
    if amount.article:
        return False
    if amount.of and talk.close(amount.end) in ("them", "those", "it", "that", "em", "these"):
        return True
    return talk.word(amount.start - 1) in ("remaining", "other") and talk.words[amount.start].share


def _part(talk: Talk, at: int) -> tuple[int, str]:
    """ "the zest and juice of" before an amount: where it begins, and its words."""
    if talk.word(at - 1) != "of" or talk.word(at - 2) not in PARTS:
        return at, ""
    begin = at - 2
    if talk.word(at - 3) == "and" and talk.word(at - 4) in PARTS:
        begin = at - 4
    return begin, " ".join(talk.text[begin:at])


def _from_food(talk: Talk, at: int, blocked: list[bool]) -> list[tuple[int, float, Chunk]]:
    food = talk.food_span(at, measured=False)
    if food is None or not food.known or not _free(blocked, at, food.end):
        return []
    food.determined = talk.word(at - 1) if not talk.words[at].breaks else ""
    mention = Mention(at, food.end, food)
    out = [(food.end, _NAMED, Chunk("food", at, food.end, mention))]
    link = talk.known.classes["link"]
    gap, hedged = food.end, False
    while gap < talk.n and gap - food.end <= _REACH:
        word = talk.words[gap]
        if blocked[gap]:
            break
        if word.value is not None or talk.known.unit_at(talk.words, gap)[0] is not None:
            amount = talk.amount_at(gap)
            if amount is not None and _fits_behind(talk, amount):
                end = amount.end - (1 if amount.of else 0)
                if amount.of and talk.close(amount.end) in ("them", "those", "it", "em", "these"):
                    end = amount.end + 1
                elif amount.of:
                    break
                if not _free(blocked, gap, end):
                    break
                score = 3.4 if hedged or word.breaks else 3.05
                if not (hedged or word.breaks or amount.measured or end > amount.end):
                    break
                if amount.unit is None:
                    score -= 0.6
                told = Mention(at, end, food, amount)
                told.amount_spans = [(amount.start, end)]
                out.append((end, score, Chunk("both", at, end, told, amount)))
                break
            if amount is not None and not amount.article:
                break
        if (
            word.breaks == STRONG
            and gap > food.end
            and talk.text[gap] not in ("that", "that's", "it's", "about")
        ):
            break
        if (
            talk.text[gap] == "in"
            and talk.word(gap + 1) == "the"
            and talk.word(gap + 2) in ("pan", "pot", "bowl", "jug")
        ):
            gap += 3
            hedged = True
            continue
        if word.value is None and talk.text[gap] not in link and talk.text[gap] not in talk.known.prep and (
            talk.text[gap] not in talk.known.manners
        ):  # fmt: skip
            break
        hedged = True
        gap += 1
    return out


def _fits_behind(talk: Talk, amount: Amount) -> bool:
    """An amount that can belong "
    "to the food before it: measured, or counted with nothing after it."""
    if amount.article and amount.unit is None:
        return False
    if amount.unit is not None:
        return True
    if amount.of and talk.close(amount.end) in ("them", "those", "it", "em", "these"):
        return True
    behind = amount.end >= talk.n or talk.words[amount.end].breaks
    return bool(talk.words[amount.start].breaks and behind and float(amount.value).is_integer())
