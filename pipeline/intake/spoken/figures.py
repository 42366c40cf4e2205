"""Numbers that are part of a name and no amount: "5 percent yogurt", "93 7 turkey", "seven spice"."""

from __future__ import annotations

from pipeline.intake.spoken.talk import Talk


def figure(talk: Talk, at: int) -> int:
    """Words of a percentage or a product's own figure within a name; 0 for none."""
    if talk.words[at].value is None:
        return int("/" in talk.text[at])
    if talk.words[at].article:
        return 0
    after = talk.close(at + 1)
    if after in ("percent", "lean") or (
        after == "fat" and talk.close(at + 2) not in ("", "and") and not fat_ones(talk, at + 1)
    ):
        return 2 + (talk.close(at + 2) in ("fat", "lean"))
    if after in ("calorie", "cal", "kcal") and talk.food_near(at + 2):
        return 2
    other = talk.words[at + 1].value if at + 1 < talk.n else None
    if other is not None and talk.number(at) + other == 100:
        return 2
    return int(of_a_name(talk, at))


def of_a_name(talk: Talk, at: int) -> bool:
    """ "two teaspoons of seven spice", "a 12 muffin tin", "the Ward Four soup": a number that
    names a thing."""
    word, before = talk.words[at], talk.word(at - 1)
    if not at or word.breaks or word.article or word.share or (
        talk.unit_at(at + 1)[0] is not None
        or talk.close(at + 1) in ("percent", "lean")
    ):  # fmt: skip
        return False
    if (word.capital and talk.words[at - 1].capital) or talk.words[at - 1].article:
        return True
    unit, _ = talk.unit_at(at - 2) if at > 1 else (None, 0)
    return before == "of" and unit is not None and unit.weighs and not talk.boundary(at + 1)


def fat_ones(talk: Talk, at: int) -> bool:
    """ "two fat leeks": how big they are, not what is in them."""
    several = talk.close(at + 1) and talk.text[at + 1] != talk.folded[at + 1]
    return talk.close(at) == "fat" and bool(several) and talk.food_length(at + 1) > 0
