"""What is known of words: the foods, units, sizes and states of the other stages.

Foods come from the names the match stage knows, units, sizes, states and preparation from the tables
of the lines stage; the words of talk itself are in ``phrases``.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from pipeline import kept
from pipeline.foods.words import singular
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.sounds import sound, syllables
from pipeline.intake.spoken.words import Word
from pipeline.lines.vocabulary import LEXICON
from pipeline.resources import shared_path

Phrase = tuple[str, ...]
_RARE = 70  # likeness in spelling, of 100, that a food has to have of which no other name speaks
#: Units that a recipe writes short whatever was said.
SHORT = frozenset({"g", "kg", "mg", "oz", "lb", "ml", "cl", "dl", "l", "tsp", "tbsp"})


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as a script says it."""

    name: str  # canonical
    kind: str
    said: str  # as a recipe writes it

    @property
    def weighs(self) -> bool:
        """A unit of mass or volume."""
        return self.kind in ("mass", "volume")


@dataclass(slots=True)
class Lexicon:
    """Everything that is looked up while a script is read; ``states`` holds ``prep`` and ``manners``."""

    foods: dict[str, list[Phrase]] = field(default_factory=dict)
    food_set: set[Phrase] = field(default_factory=set)
    food_words: set[str] = field(default_factory=set)
    fold_to: dict[str, str] = field(default_factory=dict)
    units: dict[Phrase, Unit] = field(default_factory=dict)
    prep: set[str] = field(default_factory=set)
    manners: set[str] = field(default_factory=set)
    states: set[str] = field(default_factory=set)
    kinds: set[str] = field(default_factory=set)
    sizes: set[str] = field(default_factory=set)
    verbs: set[str] = field(default_factory=set)
    ordinals: dict[str, int] = field(default_factory=dict)
    in_names: dict[str, int] = field(default_factory=dict)
    by_sound: dict[str, list[Phrase]] = field(default_factory=dict)

    def sounding_like(self, said: str) -> list[Phrase]:
        """Food names of one or two words that sound like ``said``, the nearest in spelling first."""
        from rapidfuzz import fuzz

        joined = said.replace(" ", "")
        if "'" in joined:
            return []
        alike: list[tuple[float, Phrase]] = []
        for phrase in self.by_sound.get(sound(joined), []):
            read = "".join(phrase)
            likeness = fuzz.ratio(read, joined)
            ends_alike = likeness >= 70 and (read[0], read[-1]) == (joined[0], joined[-1])
            usual = 8 * math.log1p(min(self.in_names.get(w, 0) for w in phrase))
            near = likeness >= 56 and likeness + usual >= _RARE
            if near and (ends_alike or syllables(read) == syllables(joined)):
                alike.append((-likeness - usual, phrase))
        return [phrase for _, phrase in sorted(alike)]

    def fold(self, word: str) -> str:
        """A word as the names tables have it: singular, regional spelling replaced."""
        one = singular(word)
        if not one.isascii() and one not in self.food_words:
            one = unicodedata.normalize("NFD", one).encode("ascii", "ignore").decode()  # crème
        return self.fold_to.get(one, one)

    def food_at(self, folded: Sequence[str], at: int, stop: int) -> int:
        """How many words of the longest food name begin at ``at``; 0 for none."""
        for phrase in self.foods.get(folded[at], ()):
            end = at + len(phrase)
            if end <= stop and tuple(folded[at:end]) == phrase:
                return len(phrase)
        parts = folded[at].split("-")  # "semi-skimmed"
        return int(len(parts) > 1 and tuple(map(self.fold, parts)) in self.food_set)

    def without_fillers(self, words: list[Word]) -> list[Word]:
        """Words without those that carry nothing within a name: "sweet like potatoes"."""
        filler = word_class("filler_within")
        return [
            word for at, word in enumerate(words)
            if not (word.text in filler and 0 < at < len(words) - 1)
            or word.breaks or words[at + 1].breaks
            or (self.fold(words[at - 1].text), self.fold(words[at + 1].text)) not in self.food_set
        ]  # fmt: skip

    def unit_at(self, words: Sequence[Word], at: int) -> tuple[Unit | None, int]:
        """The unit that begins at ``at`` and how many words it takes."""
        for size in (2, 1):
            if at + size <= len(words) and not any(w.breaks for w in words[at + 1 : at + size]):
                found = self.units.get(tuple(w.text for w in words[at : at + size]))
                if found is not None:
                    return found, size
        return None, 0


@cache
def lexicon() -> Lexicon:
    """The tables, folded for a script; read once."""
    known = Lexicon()
    known.ordinals = {w: int(n) for w, n in (x.split("=") for x in word_class("ordinal"))}
    _add_units(known)
    _add_manners(known)
    _add_foods(known)
    return known


def _add_units(known: Lexicon) -> None:
    for first, word in LEXICON.items():
        for rest, unit, phrase in word.units:
            if len(rest) <= 1 and (rest or first not in word_class("no_unit")):
                said = unit.unit if unit.unit in SHORT else phrase
                known.units[first, *rest] = Unit(unit.unit, unit.kind, said)
    for spoken, name in (pair.split("=") for pair in word_class("spoken_unit")):
        known.units[tuple(spoken.split("_"))] = Unit(
            name, "volume" if name in SHORT else "count", name
        )
    for said in ("can", "cans"):
        known.units[(said,)] = Unit("tin", "package", said)
    known.sizes |= {t for t, w in LEXICON.items() if any(not rest for rest, *_ in w.sizes)}


def _add_manners(known: Lexicon) -> None:
    """Words of preparation and state, and the plain verbs that the participles come from."""
    known.verbs = set(word_class("verb"))
    for text, word in LEXICON.items():
        if word.prep and word.prep != "adverb":
            known.prep.add(text)
            known.verbs |= _bases(text)
        if word.modifier:
            known.kinds.add(text)
        if any(not rest and effect.kind == "state" for rest, effect in word.effects):
            known.manners.add(text)
    known.states = known.prep | known.manners
    known.verbs -= known.states


def _bases(participle: str) -> set[str]:
    """ "chopped" → chop, chopping."""
    if not participle.endswith("ed") or len(participle) < 5:
        return set()
    stem = participle[:-2]
    if len(stem) > 3 and stem[-1] == stem[-2] and stem[-1] not in "sl":
        return {stem[:-1], stem + "ing"}
    return {stem, stem + "e", stem + "ing"} - {"grate"}


def _add_foods(known: Lexicon) -> None:
    """The names of foods, kept beside the snapshots."""
    from pipeline.match.knowledge import knowledge_digest
    from pipeline.snapshot.home import home_dir

    here = Path(__file__).parent
    made_of = [here / "lexicon.py", here / "sounds.py", shared_path("spoken_words.csv")]
    path = home_dir() / f"spoken-{kept.key([knowledge_digest()], made_of)}.bin"
    got = kept.read(path)
    if got is None:
        got = _food_names()
        kept.save(path, got)
    known.foods, known.food_words, known.fold_to = got["foods"], got["words"], got["fold_to"]
    known.by_sound, known.in_names = got["by_sound"], got["in_names"]
    known.food_set = {p for listed in known.foods.values() for p in listed}
    things = {p[0] for p in known.food_set if len(p) == 1} | {u[0] for u in known.units}
    known.verbs -= things - word_class("verb")


def _food_names() -> dict[str, Any]:
    from pipeline.match.knowledge import ENGLISH, load_knowledge

    facts = load_knowledge()
    # a script is in English: "ol'" and "ei" are no foods, though they are in German
    variants = {a: b for a, b in facts.variants.items() if facts.foreign.isdisjoint(a)}
    fold_to = {
        said[0]: meant[0] for said, meant in variants.items() if len(said) == len(meant) == 1
    }

    def folded(phrase: Phrase) -> Phrase:
        return tuple(fold_to.get(word, word) for word in phrase)

    pieces = {(word,) for word in word_class("piece_of_meat") | word_class("group_of_foods")}
    common = word_class("function") | word_class("filler") | word_class("verb")
    phrases = {p for row in facts.names if row.language == ENGLISH for p in row.phrases}
    phrases |= {p for row in facts.absent for p in row.phrases}
    phrases |= {said for said, meant in variants.items() if meant in phrases}
    phrases = {p for p in phrases if facts.foreign.isdisjoint(p)}
    names = {folded(p) for p in phrases if len(p) > 1 or p[0] not in common} | pieces
    foods: dict[str, list[Phrase]] = {}
    by_sound: dict[str, list[Phrase]] = {}
    in_names: dict[str, int] = {}
    for phrase in sorted(names):
        foods.setdefault(phrase[0], []).append(phrase)
        for word in phrase:
            in_names[word] = in_names.get(word, 0) + 1
        if len(phrase) <= 2 and sum(map(len, phrase)) >= 4:
            by_sound.setdefault(sound("".join(phrase)), []).append(phrase)
    for listed in foods.values():
        listed.sort(key=len, reverse=True)
    words = {w for p in names for w in p}
    return {
        "foods": foods, "words": words, "fold_to": fold_to, "by_sound": by_sound,
        "in_names": in_names,
    }  # fmt: skip
