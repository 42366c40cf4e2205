"""What a line of a card is by itself: of a list, a heading of a section, stated numbers."""

from __future__ import annotations

import re
from functools import partial

from pipeline.intake.entries import is_heading
from pipeline.intake.facts_line import yield_line
from pipeline.intake.known_texts import kept_by_text
from pipeline.intake.numbers import Roles, words_of
from pipeline.intake.patterns import pattern
from pipeline.intake.stated_line import read_stated_line
from pipeline.lines.sorting import tells_time_or_heat

BULLET = pattern("bullet")

#: Characters of a heading, at most.
_HEAD_CHARS = 50
_FIRST = re.compile(r"([^\W\d_]+)(?:,| and | in | with |$)")
_words = partial(words_of, "card_words.csv")
_THEN = re.compile(rf"(?:(?:{_words('then')})\b[,:]?\s+)+", re.IGNORECASE)


def _section(role: str) -> re.Pattern[str]:
    """A line that begins a section: its word alone, or with text behind a colon."""
    leading = _words(role, leads="y")
    behind = rf"|^\W*(?:{leading})\s*[:–—-]\s*\S" if leading else ""
    return re.compile(rf"^\W*(?:{_words(role)})\W*$" + behind, re.IGNORECASE)


def _key(role: str, value: str = r"\S.*") -> re.Pattern[str]:
    """A line that gives something under its name ("Title: ...")."""
    return re.compile(rf"^\W*(?:{_words(role)})\s*:\s*(?P<value>{value})$", re.IGNORECASE)


METHOD, NOTES = _section("method"), _section("notes")
NUTRITION, GENERIC = _section("nutrition"), _section("generic")
TITLE_KEY, ID_KEY, DESCRIPTION_KEY = _key("title"), _key("id"), _key("description")
IGNORED_KEY = re.compile(rf"{_key('ignored', '.*').pattern}|^\W*https?://\S+\W*$", re.IGNORECASE)
#: Where a line of a written-out script was said; for the reader's eye, not part of the line.
SAID_AT = pattern("spoken_at")
#: A line that may state something: it names a nutrient, announces numbers, or says what for.
MAYBE_STATED = pattern("maybe_stated")


#: A number and a noun that together tell of what kind the thing behind them is: "5-tub chilli".
_COMPOUND = re.compile(r"\W*\d+[-\u2011](?P<noun>[^\W\d_]{3,})\s+[^\W\d_][^\d]*$")


@kept_by_text
def begins_with_compound(text: str) -> bool:
    """Whether a text begins with a number that belongs to a word: "3-bean salad", not "400-gram tin".

    >>> [*map(begins_with_compound, ("5-tub chilli", "10-minute noodles", "2-inch piece ginger"))]
    [True, True, False]
    """
    found = _COMPOUND.match(text)
    if not found:
        return False
    from pipeline.lines import parse  # here: few lines are asked

    return not any(
        m.kind in ("mass", "volume", "length") for m in parse(f"1 {found['noun']} x").measures
    )


@kept_by_text
def looks_like_ingredient(text: str) -> bool:
    """True for "200 g rice", "rice - 200 g", "- salt", "a handful of basil"; False for prose."""
    if BULLET.match(text):
        return True
    if begins_with_compound(text):
        return False
    if len(text) > 140 or tells_time_or_heat(text) or pattern("price").search(text):
        return False
    if not pattern("quantity").match(text):
        named = pattern("named_amount").match(text)
        return bool(named) and len(text.split()) <= 10 and not states(text) and not yield_line(text)
    words = len(text.split())
    return bool(pattern("amount").search(text)) or (
        words <= 10 and not text.rstrip().endswith((".", "!", "?"))
    )


def heads_part(text: str) -> bool:
    """Whether a text heads a part of a list: "For the sauce:", "-- Sauce --", "SAUCE (make first)"."""
    from pipeline.lines import parse  # here: few lines are asked

    return is_heading(text) or bool(
        len(text) < _HEAD_CHARS
        and not any(map(str.isdigit, text))
        and parse(text).kind == "heading"
    )


def unmarked(text: str) -> str:
    """A text without the marks of emphasis and of a heading around it; "#2" stays a number."""
    bare = text.strip("*_ ").rstrip("# ")
    return bare if re.match(r"#\d", bare) else bare.lstrip("*_# ")


@kept_by_text
def tells(text: str) -> bool:
    """Whether a text tells what to do: it begins with a verb, or a word and "the"."""
    from pipeline.intake.spoken.lexicon import lexicon

    text = _THEN.sub("", text)
    first = _FIRST.match(text)
    listed = first is not None and first[1].lower() in lexicon().verbs  # "Mash, flake, mix"
    return listed or bool(
        pattern("verb_start").match(text) or Roles(text).search("^ word definite")
    )


#: "Sauce: 2 tbsp oil, 1 egg".
_HEAD_OF_LIST = re.compile(r"(?P<head>[^\W\d][^:\d]{1,40}):\s+(?P<rest>\S.*)")


def head_of_list(text: str) -> tuple[str, str]:
    """The name of a part and what of its list stands behind it on the line; "" for a name of none."""
    from pipeline.intake.text.features import known_food  # here: it reads the kinds of lines itself

    head = _HEAD_OF_LIST.match(text)
    headed = head and not known_food(head["head"]) and measures(head["rest"])
    return (head["head"], head["rest"]) if head and headed else ("", text)


def heads_a_list(word: str) -> bool:
    """Whether a word stands above lists rather than in them: "ingredients"."""
    return pattern("ingredients").match(word) is not None


def names_something(text: str) -> bool:
    """Whether a line that begins with an amount says of what; "4.8 (120 ratings)" does not."""
    from pipeline.lines import parse  # here: few lines are asked

    return bool(name := parse(text).name) and not heads_a_list(name)


def measures(text: str) -> bool:
    """Whether the line reader finds a food and its amount, wherever the amount stands."""
    from pipeline.lines import parse  # here: few lines are asked

    line = parse(text)
    return bool(line.measures and line.name)


def states(text: str) -> bool:
    """Whether a text states numbers or announces them."""
    read = read_stated_line(text)
    return read.certain or read.heading


def begins_section(text: str) -> bool:
    """Whether a text is one of the words that begin a section of a card ("Method")."""
    match = pattern("ingredients").match(text)
    return bool(
        (match and not match["rest"])
        or METHOD.match(text)
        or NOTES.match(text)
        or NUTRITION.match(text)
    )


def names_a_fact(text: str) -> bool:
    """Whether a text alone says what is beside it: "Recipe", "Author", "Prep time"."""
    return any(key.match(f"{text.rstrip(': ')}: x") for key in
               (TITLE_KEY, ID_KEY, pattern("creator"), DESCRIPTION_KEY, IGNORED_KEY))  # fmt: skip
