"""What is known of words: the foods, units, sizes and states of the other stages, and discourse.

Foods come from the names the match stage knows, units, sizes, states and preparation from the tables
of the lines stage; only the words of talk itself are the script reader's own
(``shared/spoken_words.csv``).
"""

from __future__ import annotations

import contextlib
import hashlib
import marshal
import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.foods.words import singular
from pipeline.intake.spoken.sounds import sound, syllables
from pipeline.intake.spoken.words import Word, word_set
from pipeline.lines.vocabulary import LEXICON, UnitWord
from pipeline.resources import ROOT, shared_rows
from pipeline.safe_files import write_atomically

Phrase = tuple[str, ...]
_HERE = Path(__file__).parent

#: Unit words that mean something else when spoken.
_NO_UNIT = word_set(
    "c tb pt shake shakes crack "
    "cracks half halves quarter quarters round rounds can whole t s l g m "
    "spray sprays bar bars "
    "steak steaks chop chops rib ribs leg legs ring rings wing wings ball balls "
    "finger fingers joint rack head heads bowl bowls plate plates"
) - {"g", "l", "can", "ball", "balls", "bar", "bars", "head", "heads", "bowl", "bowls"}
_SPOKEN_UNITS = {"mil": "ml", "mils": "ml", "mill": "ml", "mls": "ml", "spoons": "tbsp",
                 "rashers": "rasher"}  # fmt: skip
#: Cuts that are named without their animal: "six boneless thighs".
_PIECES = ("thigh", "breast", "drumstick", "fillet", "mince")


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
    """Everything that is looked up while a script is read."""

    foods: dict[str, list[Phrase]] = field(default_factory=dict)
    food_set: set[Phrase] = field(default_factory=set)
    food_words: set[str] = field(default_factory=set)
    fold_to: dict[str, str] = field(default_factory=dict)
    units: dict[Phrase, Unit] = field(default_factory=dict)
    classes: dict[str, frozenset[str]] = field(default_factory=dict)
    prep: set[str] = field(default_factory=set)
    manners: set[str] = field(default_factory=set)
    kinds: set[str] = field(default_factory=set)
    sizes: set[str] = field(default_factory=set)
    verbs: set[str] = field(default_factory=set)
    ordinals: dict[str, int] = field(default_factory=dict)
    in_names: dict[str, int] = field(default_factory=dict)
    by_sound: dict[str, list[Phrase]] = field(default_factory=dict)

    def sounding_like(self, said: str) -> list[Phrase]:
        """Food names of at most "
        "two words that sound like ``said``, the nearest in spelling first."""
        from rapidfuzz import fuzz

        joined = said.replace(" ", "")
        found = self.by_sound.get(sound(joined), [])
        alike: list[tuple[float, Phrase]] = []
        for phrase in found:
            likeness = fuzz.ratio("".join(phrase), joined)
            read = "".join(phrase)
            ends_alike = read[0] == joined[0] and read[-1] == joined[-1]
            if likeness >= 56 and (
                syllables(read) == syllables(joined) or (likeness >= 70 and ends_alike)
            ):  # fmt: skip
                common = min(self.in_names.get(w, 0) for w in phrase)
                alike.append((likeness + 8 * math.log1p(common), phrase))
        return [phrase for _, phrase in sorted(alike, key=lambda a: (-a[0], a[1]))]

    def fold(self, word: str) -> str:
        """A word as the names tables have it: singular, regional spelling replaced."""
        one = singular(word)
        return self.fold_to.get(one, one)

    def food_at(self, folded: Sequence[str], at: int, stop: int) -> int:
        """How many words of the longest food name begin at ``at``; 0 for none."""
        for phrase in self.foods.get(folded[at], ()):
            end = at + len(phrase)
            if end <= stop and tuple(folded[at:end]) == phrase:
                return len(phrase)
        return 0

    def unit_at(self, words: Sequence[Word], at: int) -> tuple[Unit | None, int]:
        """The unit that begins at ``at`` and how many words it takes."""
        if at >= len(words):
            return None, 0
        if at + 1 < len(words) and not words[at + 1].breaks:
            two = self.units.get((words[at].text, words[at + 1].text))
            if two is not None:
                return two, 2
        one = self.units.get((words[at].text,))
        return (one, 1) if one is not None else (None, 0)


@cache
def lexicon() -> Lexicon:
    """The tables, folded for a script; read once."""
    known = Lexicon()
    for row in shared_rows("spoken_words.csv"):
        words = row["words"].split()
        if row["class"] == "ordinal":
            known.ordinals = {w: int(n) for w, n in (x.split("=") for x in words)}
        else:
            known.classes[row["class"]] = frozenset(words)
    _add_units(known)
    _add_manners(known)
    _add_foods(known)
    return known


def _add_units(known: Lexicon) -> None:
    for first, word in LEXICON.items():
        for rest, unit, phrase in word.units:
            if first in _NO_UNIT and not rest:
                continue
            if len(rest) <= 1:
                known.units[first, *rest] = _unit(unit, phrase)
    for spoken, name in _SPOKEN_UNITS.items():
        known.units[(spoken,)] = Unit(name, "volume" if name in ("ml", "tbsp") else "count", name)
    for said in ("can", "cans"):
        known.units[(said,)] = Unit("tin", "package", said)
    known.sizes |= {t for t, w in LEXICON.items() if any(not rest for rest, *_ in w.sizes)}


def _unit(unit: UnitWord, phrase: str) -> Unit:
    short = unit.unit if unit.unit in _SHORT else phrase
    return Unit(unit.unit, unit.kind, short)


_SHORT = frozenset({"g", "kg", "mg", "oz", "lb", "ml", "cl", "dl", "l", "tsp", "tbsp"})


def _add_manners(known: Lexicon) -> None:
    """Words of preparation and state, and the plain verbs that the participles come from."""
    known.verbs = set(known.classes["verb"])
    for text, word in LEXICON.items():
        if word.prep and word.prep != "adverb":
            known.prep.add(text)
            known.verbs |= _bases(text)
        if word.modifier:
            known.kinds.add(text)
        for rest, effect in word.effects:
            if not rest and effect.kind == "state":
                known.manners.add(text)
    known.verbs -= known.prep | known.manners


def _bases(participle: str) -> set[str]:
    """ "chopped" → chop, chopping."""
    if not participle.endswith("ed") or len(participle) < 5:
        return set()
    stem = participle[:-2]
    if len(stem) > 3 and stem[-1] == stem[-2] and stem[-1] not in "sl":
        return {stem[:-1], stem + "ing"}
    return {stem, stem + "e", stem + "ing"} - {"grate"}


def _add_foods(known: Lexicon) -> None:
    """The names of foods, from the store beside the snapshots where it is of these tables."""
    from pipeline.match.knowledge import knowledge_digest

    path = _store(knowledge_digest())
    got = _read(path)
    if got is None:
        got = _food_names(known)
        _write(path, got)
    known.foods, known.food_words, known.fold_to = got["foods"], got["words"], got["fold_to"]
    known.by_sound, known.in_names = got["by_sound"], got["in_names"]
    known.food_set = {p for listed in known.foods.values() for p in listed}
    known.verbs -= {
        p[0] for p in known.food_set if len(p) == 1 and p[0] not in known.classes["verb"]
    }
    known.verbs -= {u[0] for u in known.units if u[0] not in known.classes["verb"]}


def _food_names(known: Lexicon) -> dict[str, Any]:
    from pipeline.match.knowledge import ENGLISH, load_knowledge

    facts = load_knowledge()
    fold_to = {
        said[0]: meant[0] for said, meant in facts.variants.items() if len(said) == len(meant) == 1
    }
    phrases = {p for row in facts.names for p in row.phrases}
    english = {p for row in facts.names if row.language == ENGLISH for p in row.phrases}
    phrases |= {p for row in facts.absent for p in row.phrases}
    phrases |= {s for s, m in facts.variants.items() if m in phrases}
    common = known.classes["function"] | known.classes["filler"] | known.classes["verb"]
    names = {
        tuple(fold_to.get(w, w) for w in p) for p in phrases if len(p) > 1 or p[0] not in common
    }
    names |= {(word,) for word in _PIECES}
    heard = {*english, *((word,) for word in _PIECES)}
    heard |= {p for row in facts.absent for p in row.phrases}
    heard |= {s for s, m in facts.variants.items() if m in heard}
    heard = {tuple(fold_to.get(w, w) for w in p) for p in heard if facts.foreign.isdisjoint(p)}
    foods: dict[str, list[Phrase]] = {}
    by_sound: dict[str, list[Phrase]] = {}
    in_names: dict[str, int] = {}
    for phrase in sorted(names):
        foods.setdefault(phrase[0], []).append(phrase)
        for word in phrase:
            in_names[word] = in_names.get(word, 0) + 1
        # how another language sounds would be another table of sounds
        if phrase in heard and len(phrase) <= 2 and sum(map(len, phrase)) >= 4:
            by_sound.setdefault(sound("".join(phrase)), []).append(phrase)
    for listed in foods.values():
        listed.sort(key=len, reverse=True)
    words = {w for p in names for w in p}
    return {
        "foods": foods, "words": words, "fold_to": fold_to, "by_sound": by_sound,
        "in_names": in_names,
    }  # fmt: skip


# --- the store: derived, may be thrown away at any time ----------------------------------------


def _store(digest: str) -> Path:
    """Where the names are kept; the file's name holds a digest of all they follow from."""
    from pipeline.snapshot.home import home_dir

    made_of = hashlib.sha256(f"{digest}\0{sys.version_info[:2]}".encode())
    made_of.update(b"".join(p.read_bytes() for p in (_HERE / "lexicon.py", _HERE / "sounds.py")))
    made_of.update((ROOT / "shared" / "spoken_words.csv").read_bytes())
    return home_dir() / f"spoken-{made_of.hexdigest()[:16]}.bin"


def _read(path: Path) -> dict[str, Any] | None:
    try:
        raw = path.read_bytes()
    except OSError:
        return None
    if hashlib.sha256(raw[32:]).digest() != raw[:32]:
        return None
    got: dict[str, Any] = marshal.loads(raw[32:])
    return got


def _write(path: Path, names: dict[str, Any]) -> None:
    """Written in one step; a folder that is not there or cannot be written is no fault."""
    body = marshal.dumps(names)
    with contextlib.suppress(OSError):
        for old in path.parent.glob("spoken-*.bin"):
            old.unlink(missing_ok=True)
        write_atomically(path, hashlib.sha256(body).digest() + body, durable=False)
