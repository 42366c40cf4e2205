"""The words the grammar knows, read once from the tables in ``shared/``.

Every word of a line costs one dictionary look-up: ``LEXICON[word]`` gives a ``Word`` with all
its roles, or nothing for an ordinary word of a food name. Units, sizes and phrases of several
words are keyed by their first word, the longest first.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import get_args

from pipeline.lines.model import UnitKind
from pipeline.resources import shared_rows


@dataclass(frozen=True, slots=True)
class UnitWord:
    """One row of ``units.csv``.

    Attributes:
        unit: canonical unit, e.g. ``fl_oz``.
        kind: mass, volume, trade, count, package, length, share.
        keep: the word also names the food and stays in the name ("chicken breast").
        only_after: with ``keep`` false: dropped from a name only after one of these words.
        unless_after: with ``keep`` false: dropped unless the name holds one of these words.
        needs_of: a singular form is a unit only before "of" ("1 head of broccoli").
        needs_number: without a number it is one only before "of" ("1 glass wine", "glass noodles").
        not_in: names of foods that begin with the word, as two words: "pot barley".
    """

    unit: str
    kind: UnitKind
    keep: bool = False
    only_after: frozenset[str] = frozenset()
    unless_after: frozenset[str] = frozenset()
    needs_of: bool = False
    needs_number: bool = False
    not_in: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Effect:
    """What a phrase of the tables does.

    Attributes:
        kind: state, flag, open, hedge, stop, example, aside, note.
        value: canonical state or flag.
        in_name: the phrase is also part of the food's name.
        noun: it may be the name's last word ("cocoa powder") and is never cut from it.
        leads: as the last word it tells no state: "roast beef" is roasted, "beef roast" a joint.
        not_before: next words, one or two, that make it something else ("dry white wine").
    """

    kind: str
    value: str
    in_name: bool = False
    noun: bool = False
    not_before: frozenset[str] = frozenset()
    leads: bool = False


#: The other words of a phrase, and what the whole phrase means.
UnitPhrase = tuple[tuple[str, ...], UnitWord, str]
SizePhrase = tuple[tuple[str, ...], str, frozenset[str], bool]
EffectPhrase = tuple[tuple[str, ...], Effect]


@dataclass(slots=True)
class Word:
    """All roles of one word; ``number`` with ``number_class`` count, article, fraction, ...

    Attributes:
        state: the state that the word alone is.
        alone: the word alone is a phrase of the tables.
        bare_unit: the unit that the word alone is, None when it needs "of" or other words to be
            one, or when more than the unit is to be read with it (lengths, shares, "piece").
        bare_size: the size that the word alone is, and the next words before which it is none;
            None when it is also something else.
        after_unit: after a number and a unit the word has no more to say of the amount.
        naming: inside a name the word is one of its words and nothing else.
        hedge, remark: a phrase that begins with the word hedges an amount; is no state.
        counted: directly after a number the word can only begin the name of what is counted.
    """

    number: float | None = None
    number_class: str = ""
    number_low: float = 0.0
    number_high: float = 0.0
    units: list[UnitPhrase] = field(default_factory=list)
    noun: UnitWord | None = None
    plural: bool = False
    sizes: list[SizePhrase] = field(default_factory=list)
    effects: list[EffectPhrase] = field(default_factory=list)
    role: str = ""
    system: str | None = None
    prep: str = ""
    stay_before: frozenset[str] = frozenset()
    modifier: str = ""
    state: Effect | None = None
    alone: bool = False
    bare_unit: UnitWord | None = None
    bare_size: tuple[str, frozenset[str]] | None = None
    after_unit: bool = False
    counted: bool = False
    naming: bool = False
    hedge: bool = False
    remark: bool = False


LEXICON: dict[str, Word] = {}

#: Stands for a word that no table knows.
NO_WORD = Word()


def _split(cell: str) -> list[str]:
    return [part.strip() for part in cell.split(";") if part.strip()]


def _entry(word: str) -> Word:
    return LEXICON.setdefault(word, Word())


def _first_and_rest(phrase: str) -> tuple[str, tuple[str, ...]]:
    first, *rest = phrase.lower().replace(".", " ").split()
    return first, tuple(rest)


_KINDS: dict[str, UnitKind] = {kind: kind for kind in get_args(UnitKind)}


def _unit_of(row: dict[str, str]) -> UnitWord:
    kind = _KINDS[row["kind"]]
    rule, _, words = row["noun"].partition(":")
    listed = frozenset(_split(words))
    return UnitWord(
        unit=row["unit"],
        kind=kind,
        keep=rule == "keep" and not listed,
        only_after=listed if rule == "drop" else frozenset(),
        unless_after=listed if rule == "keep" else frozenset(),
        needs_of=row["lead"] == "of",
        needs_number=row["lead"] == "number",
        not_in=frozenset(_split(row["not_in"])),
    )


_GROUPS = {row["group"]: tuple(_split(row["words"])) for row in shared_rows("word_groups.csv")}


def group(name: str) -> frozenset[str]:
    """The words of a row of ``word_groups.csv``."""
    return frozenset(_GROUPS[name])


#: Units a system may go with.
WITH_SYSTEM = group("system_unit")
#: Words behind "in" that make it inches.
INCH_BEFORE = group("inch_before")
#: Cuts whose word names the food: "2 breasts of chicken" is "chicken breast".
NAMING_CUTS = group("naming_cut")
#: What the words for parts come to where it is not the word itself; "" for all that is eaten.
PART_OF = {
    "whites": "white", "yolks": "yolk", "peel": "zest", "rind": "zest", "juiced": "juice",
    "zested": "zest", "pulp": "flesh", "leaves": "", "kernels": "", "meat": "",
}  # fmt: skip
#: Words of the grammar itself, with one role each; those of one role each have its name.
_ROLES = {
    "extra": ("extra", "more"),
    "part": _GROUPS["part"],
    **{word: (word,) for word in ("or", "and", "plus", "of", "to", "x", "each", "the", "between")},
}

#: Canonical unit → a word that reads back as it.
UNIT_WORD: dict[str, str] = {}
#: Canonical unit → its row.
UNITS: dict[str, UnitWord] = {}
#: Suffixes of the systems of cups and spoons; "metric cup" is ``cup_metric``.
SYSTEMS: dict[str, str] = {}
#: Word of a count unit → its singular ("breasts" → "breast").
SINGULAR: dict[str, str] = {}
_LONG_UNIT_WORDS: list[str] = []


def _load_units() -> None:
    for row in shared_rows("units.csv"):
        unit = _unit_of(row)
        UNITS[unit.unit] = unit
        words = _split(row["words"])
        UNIT_WORD[unit.unit] = words[0].lower()
        for phrase in words:
            first, rest = _first_and_rest(phrase)
            if any(rest == known for known, *_ in _entry(first).units):
                continue
            _entry(first).units.append((rest, unit, phrase.lower()))
            if rest:
                continue
            word = _entry(first)
            if unit.kind == "count" and row["noun"] != "none":
                word.noun = unit
                SINGULAR[first] = words[0]
            word.plural = first != words[0] and first.endswith("s")
            if unit.kind in ("mass", "volume", "trade") and len(first) > 6:
                _LONG_UNIT_WORDS.append(first)
    for row in shared_rows("unit_systems.csv"):
        _entry(row["word"]).system = row["suffix"]
        SYSTEMS.setdefault(row["suffix"], row["word"])
    for suffix, spoken in SYSTEMS.items():
        for base in WITH_SYSTEM:
            UNIT_WORD[f"{base}_{suffix}"] = f"{spoken} {UNIT_WORD[base]}"


def _load_numbers() -> None:
    for row in shared_rows("number_words.csv"):
        word = _entry(row["word"])
        word.number, word.number_class = float(row["value"]), row["class"]
        word.number_low = float(row["low"] or row["value"])
        word.number_high = float(row["high"] or row["value"])


def _load_sizes() -> None:
    for row in shared_rows("sizes.csv"):
        not_before = frozenset(_split(row["not_before"]))
        for phrase in _split(row["words"]):
            nearly = dict.fromkeys(_more_or_less(phrase), _MODERATE.get(row["size"], row["size"]))
            for said, size in ({phrase: row["size"]} | nearly).items():
                first, rest = _first_and_rest(said)
                _entry(first).sizes.append((rest, size, not_before, row["place"] == "near"))


#: What a size comes to that is not meant in full: "largish".
_MODERATE = {"large": "medium-large", "small": "small-medium"}


def _more_or_less(size: str) -> list[str]:
    """A size that is not meant exactly: "big-ish", "biggish", "largish"."""
    if not size.isalpha() or len(size) < len("big"):
        return []
    return [f"{size}-ish", f"{size.removesuffix('e')}ish", f"{size}ish", f"{size}{size[-1]}ish"]


def _load_phrases() -> None:
    def add(phrase: str, effect: Effect) -> None:
        first, rest = _first_and_rest(phrase)
        _entry(first).effects.append((rest, effect))

    for row in shared_rows("states.csv"):
        not_before = frozenset(_split(row["not_before"]))
        effect = Effect(
            "state", row["state"], row["place"] != "note", row["place"] in ("noun", "leads"),
            not_before, row["place"] == "leads",
        )  # fmt: skip
        for phrase in _split(row["words"]):
            add(phrase, effect)
    for row in shared_rows("line_phrases.csv"):
        for phrase in _split(row["words"]):
            add(phrase, Effect(row["effect"], row["value"]))
    for row in shared_rows("prep_words.csv"):
        word = _entry(row["word"])
        word.prep, word.stay_before = row["kind"], frozenset(_split(row["stay_before"]))
    for row in shared_rows("modifiers.csv"):
        for text in _split(row["words"]):
            word = _entry(text)
            word.modifier = word.modifier or row["class"]


#: Canonical states in the order of the table.
STATES: tuple[str, ...] = ()
#: Last word of an alternative → words that stand alone beside it ("butter or olive oil").
SHARED_HEADS: dict[str, frozenset[str]] = {}
#: Phrases that name no food; True when only as the whole name.
NOT_FOOD: dict[str, bool] = {}
#: Their last words.
NOT_FOOD_ENDS: set[str] = set()
HEADINGS: frozenset[str] = frozenset()
#: Those that in small letters, without a mark, are what they name.
SEASONINGS: frozenset[str] = frozenset()
#: Prepositions, determiners, pronouns and their like → their class.
FUNCTION_WORDS: dict[str, str] = {}
#: Words that end a remark: "white part".
CLOSING_WORDS: set[str] = set()
#: Past participles that do not end in -ed.
IRREGULAR_PARTICIPLES: set[str] = set()
#: What knife work is called as a noun: "dice", "chop".
CUT_NOUNS: set[str] = set()
#: What a note tells to do with the food: "dice", "parboil", not "mince", which is a meat too.
WORK_VERBS: set[str] = set()
#: What adverbs of knife work are as adjectives: "rough", "fine".
MANNERS: set[str] = set()
NO_LINE_STARTS: tuple[str, ...] = ()
#: A word with one letter left out → the unit word it was ("tablspoon" → "tablespoon").
MISSPELT: dict[str, str] = {}


def _load_lists() -> None:
    global STATES, HEADINGS, SEASONINGS, NO_LINE_STARTS
    STATES = tuple(dict.fromkeys(row["state"] for row in shared_rows("states.csv")))
    for row in shared_rows("shared_heads.csv"):
        alone = frozenset(_split(row["standalone"]))
        for head in _split(row["heads"]):
            SHARED_HEADS[head] = alone
    for row in shared_rows("not_food.csv"):
        for phrase in _split(row["words"]):
            NOT_FOOD[phrase] = row["alone"] == "y"
            NOT_FOOD_ENDS.add(phrase.rpartition(" ")[2])
    for row in shared_rows("function_words.csv"):
        for text in _split(row["words"]):
            if row["class"] == "closing":
                CLOSING_WORDS.add(text)
            elif row["class"] == "participle":
                IRREGULAR_PARTICIPLES.add(text)
            else:
                FUNCTION_WORDS[text] = row["class"]
    for row in shared_rows("prep_words.csv"):
        word = row["word"]
        if row["kind"] == "adverb" and word.endswith("ly"):
            MANNERS.add(word.removesuffix("ly"))
        elif row["kind"] == "cut" and word.endswith("ed"):
            stems = {word[:-1], word[:-2]}
            if word[-3] == word[-4]:  # chopped
                stems.add(word[:-3])
            CUT_NOUNS.update(stems)
            if "meat" not in _split(row["stay_before"]):
                WORK_VERBS.update(stems)
    for word in group("poured_off") | group("cooked_state"):
        WORK_VERBS.update((word[:-1], word[:-2]))
    headings = list(shared_rows("headings.csv"))
    of = {r["match"]: _split(r["words"]) for r in headings}
    SEASONINGS, NO_LINE_STARTS = frozenset(of["marked"]), tuple(of["start"])
    HEADINGS = frozenset(of["whole"]) | SEASONINGS


def deletions(word: str) -> list[str]:
    """The word with each one of its letters left out."""
    return [word[:i] + word[i + 1 :] for i in range(len(word))]


@lru_cache(maxsize=16_384)
def meant_unit(text: str) -> UnitWord | None:
    """The unit that an unknown word is one slip away from: a letter left out, added, exchanged, and
    never the first: "tatties" are no catties."""
    if not 6 <= len(text) <= 16:
        return None
    meant = MISSPELT.get(text)
    if meant is None:
        for shorter in deletions(text):
            meant = shorter if shorter in LEXICON else MISSPELT.get(shorter)
            if meant is not None:
                break
    if meant is None or len(meant) < 7 or meant[0] != text[0]:
        return None
    kinds = ("mass", "volume", "trade") if len(text) > 6 else ("mass", "volume")  # "potato gratin"
    for rest, unit, _ in LEXICON[meant].units:
        if not rest and unit.kind in kinds:
            return unit
    return None


def _first_tests(text: str, word: Word) -> None:
    """Answers of the cheap tests that come before the full reading of an amount."""
    if len(word.units) == 1 and not word.units[0][0] and word.system is None and not word.sizes:
        unit = word.units[0][1]
        asks = unit.needs_of or unit.not_in
        if unit.kind not in ("length", "share") and unit.unit != "piece" and not asks:
            word.bare_unit = unit
    single = [effect for rest, effect in word.effects if not rest]
    word.alone = bool(single)
    word.state = next((effect for effect in single if effect.kind == "state"), None)
    word.hedge = any(effect.kind == "hedge" for _, effect in word.effects)
    word.remark = any(effect.kind != "state" for _, effect in word.effects)
    lone = word.sizes and not word.sizes[-1][0] and not word.sizes[-1][3]
    if lone and not (word.units or word.effects or word.number is not None or word.role):
        word.bare_size = (word.sizes[-1][1], word.sizes[-1][2])
    says_more = word.units or word.sizes or word.number is not None or word.system is not None
    word.after_unit = not says_more and word.role in ("", "part")
    word.naming = not (says_more or word.effects or word.role) and text not in ("with", "in")
    word.counted = not (says_more or word.effects or word.role or word.modifier == "quality")


def _load() -> None:
    _load_units()
    _load_numbers()
    _load_sizes()
    _load_phrases()
    _load_lists()
    for role, words in _ROLES.items():
        for text in words:
            _entry(text).role = role
    for text, word in LEXICON.items():
        word.units.sort(key=lambda p: -len(p[0]))
        word.sizes.sort(key=lambda p: -len(p[0]))
        word.effects.sort(key=lambda p: -len(p[0]))
        _first_tests(text, word)
    for text in _LONG_UNIT_WORDS:
        for shorter in deletions(text):
            MISSPELT.setdefault(shorter, text)
    for text in LEXICON:
        MISSPELT.pop(text, None)


_load()
