"""One line, left to right: amount, food phrase, then what is said after it.

The reader walks the tokens once. In the food phrase it gathers name words; after a comma, a
spaced dash, or a word that ends a name ("for", "to") it gathers notes. States, flags, fat
figures, further amounts and alternatives are taken wherever they stand.

The layers, each in its own module: ``clean`` (typography), ``tokens``, ``amounts`` (numbers),
``measures`` (with units), ``percents``, ``state`` and ``tails`` (beside the name), this module
(the walk), ``names`` (the phrase put right), ``sorting`` (lines that name no food).
"""

from __future__ import annotations

import re

from pipeline.lines.clean import clean
from pipeline.lines.measures import match_effect, read_size
from pipeline.lines.model import LineKind, Measure, ParsedLine, new_line
from pipeline.lines.names import finish_name
from pipeline.lines.parts import goes_on, is_participle, names_food
from pipeline.lines.percents import percent_at, settle
from pipeline.lines.sorting import names_no_food, sort_line
from pipeline.lines.tails import CLOSE, SEASONINGS, TailReader
from pipeline.lines.tokens import END, FRACTION, MARK, NUMBER, WORD
from pipeline.lines.vocabulary import HEADINGS, LEXICON, Word

_BULLETS = frozenset("-*•+>#=|.:;,!?°[]{}%&/\"')")
#: States of which a food has one: "fresh/frozen" leaves the choice.
_EITHER = frozenset({"fresh", "frozen", "canned", "dried", "dry", "raw", "cooked", "salted",
                     "unsalted", "sweetened", "unsweetened", "smoked", "low_fat", "reduced_fat",
                     "full_fat", "fat_free", "semi_skimmed"})  # fmt: skip
_NONE: frozenset[str] = frozenset()
_NOT_NUMBERS = frozenset({"∞", "nan", "inf", "infinity"})


def parse(text: str) -> ParsedLine:
    """Read one ingredient line; total: any text gives a ``ParsedLine``, none raises.

    Args:
        text: the line as written. Only the first 1,000 characters are read.
    """
    line = clean(text)
    words = line.lower.strip()
    if not words:
        return ParsedLine(text, "blank", problems=line.problems)
    kind = sort_line(line.text.strip(), words)
    if kind is not None:
        return ParsedLine(text, kind, problems=line.problems)
    return LineReader(text, line).read()


#: Notes that say the weight on the line is of what is left to eat.
_NET_WEIGHT = frozenset(
    f"{word} weight"
    for word in ("drained", "net", "peeled", "pitted", "shelled", "trimmed", "edible")
)


class LineReader(TailReader):
    """The walk over one line."""

    __slots__ = ()

    def read(self) -> ParsedLine:
        """Walk the tokens and put the parts together."""
        kind, size = self.t.kind, self.t.size
        i = self._lead()
        self.cut(0, i)
        i = self._food(self._head(i))
        while kind[i] != END:
            if not self.name and not self.measures:  # "optional, 1 egg": the food is still to come
                i = self.past_marks(i, size)
                if kind[i] == WORD:
                    i = max(i + 1, self._food(self._head(i)))
                    continue
            i = max(i + 1, self.tail(i, size))
        return self._result()

    # --- before the name -------------------------------------------------------------------

    def _lead(self) -> int:
        """Past bullets, numbering and a heading before a colon ("Dressing: 2 tbsp oil")."""
        t = self.t
        word, kind, start, end = t.word, t.kind, t.start, t.end
        i = 0
        while kind[i] == MARK and word[i] in _BULLETS:
            if word[i] == "-" and kind[i + 1] in (NUMBER, FRACTION) and end[i] == start[i + 1]:
                place = self.clean.span(start[i], end[i])[0]
                if self.text[place] in "-−":  # a longer dash is a bullet
                    self.problems.append("amount-negative")
            i += 1
        if (
            kind[i] == NUMBER and word[i].isdecimal() and word[i + 1] in (".", ")")
            and end[i] == start[i + 1] and start[i + 2] > end[i + 1] and kind[i + 2] != END
        ):  # fmt: skip
            i += 2
        if word[i] == "x" and kind[i + 1] in (NUMBER, FRACTION):
            i += 1
        if ":" in t.text:
            for j in range(i + 1, min(i + 5, t.size)):
                if word[j] == ":":
                    return self._before_colon(i, j)
        return i

    def _before_colon(self, i: int, j: int) -> int:
        t = self.t
        if " ".join(t.word[i:j]) not in HEADINGS and t.word[i] not in ("for", "to"):
            return i
        for k in range(i, j):
            found = match_effect(t, k, "flag")
            if found:
                self.flags.add(found[0].value)
                break
        return j + 1

    def _head(self, i: int) -> int:
        """The amount in front, with "juice of" and "the" before it."""
        t = self.t
        word, kind = t.word, t.kind
        if kind[i] == NUMBER or kind[i] == FRACTION:
            plain = self.reader.plain(i)
            if plain is not None:
                measure, past = plain
                self.take_plain(measure)
                self.cut(i, past)
                return past if word[past] not in LEXICON else self._part_of(past)
        i = begin = self._part_of(i)
        if word[i] == "the":
            i += 1
        if word[i] in ("remaining", "reserved", "rest"):
            self.flags.add("remaining")
            i += 1
            while word[i] in ("of", "the"):
                i += 1
        found = match_effect(t, i, "open")
        if found:
            self.flags.add("vague")
            self.cut(begin, found[1])
            return found[1]
        if not word[i] or percent_at(t, i) or self.glued_word(i):
            return i
        reading = self.reader.read(i, leading=True)
        if reading is None:
            return self._no_number(i)
        first = reading.measures[0]
        if reading.written == "article" and first.unit == "piece" and word[reading.next] == "of":
            return i
        self.take(reading)
        i = reading.next
        if reading.lead:
            self._lead_words(reading.lead)
        if word[i] in ("the", "a", "an") and not reading.share:
            i += 1
        self.cut(begin, i if reading.food_at < 0 else reading.food_at)
        return i if self.part else self._part_of(i)

    def _no_number(self, i: int) -> int:
        """Where a number should stand and none does: "∞ g", "NaN g"."""
        if self.t.word[i] not in _NOT_NUMBERS:
            return i
        self.problems.append("amount-not-a-number")
        past = i + 2 if self.reader.unit_after(i + 1) else i + 1
        self.cut(i, past)
        return past

    def _lead_words(self, words: list[str]) -> None:
        """Adjectives that stood before the unit: states go to the name, the rest is dropped."""
        self.lead = words
        for w in words:
            for rest, effect in LEXICON[w].effects:
                if not rest and effect.kind == "state":
                    self.name.append(w)
                    self.states.add(effect.value)
                    break

    def _part_of(self, i: int) -> int:
        """ "juice of", "zest and juice of", "finely grated zest of", "whites of"; else ``i``."""
        word = self.t.word
        j = i + 1 if word[i] == "the" else i
        j = self._past_prep(j)
        entry = LEXICON.get(word[j])
        if entry is None or entry.role != "part":
            return i
        parts = [word[j]]
        j += 1
        while word[j] in ("and", "&", "/", "+", ",", "plus"):
            k = self._past_prep(j + 1)
            entry = LEXICON.get(word[k])
            if entry is None or entry.role != "part":
                break
            parts.append(word[k])
            j = k + 1
        named = j
        if word[j] == "only":
            j += 1
        if word[j] in ("of", "from"):
            j += 1
        elif parts[0] not in ("juice", "zest") or self.reader.read(j, leading=True) is None:
            return i
        self.set_part(parts)
        if named > i + 1 and set(word[i:named]) - {"juice", "zest", "and", "the"}:
            self.keep_note(i, named)
        return j

    def _past_prep(self, j: int) -> int:
        word = self.t.word
        stop = j + 4
        while j < stop and (entry := LEXICON.get(word[j])) is not None and (
            entry.role != "part" and (entry.prep or word[j] in ("fresh", "peeled"))
        ):  # fmt: skip
            j += 1
        return j

    # --- the food phrase -------------------------------------------------------------------

    def _food(self, i: int) -> int:
        """Name words up to what ends them; returns the token where the tail begins."""
        t = self.t
        word, kind = t.word, t.kind
        self.into = self.name
        while True:
            k = kind[i]
            if k == WORD:
                entry = LEXICON.get(word[i])
                if entry is None:
                    self.into.append(word[i])
                    i += 1
                    continue
                past = self._known_word(i, entry)
                if past < 0:
                    return i
                i = past
            elif k == MARK:
                past = self._mark(i)
                if past < 0:
                    return i
                i = past
            elif k == END:
                return i
            else:
                i = self._number(i)

    def _known_word(self, i: int, entry: Word) -> int:
        """A word of the tables inside the name: the token after it, -1 when it ends the name."""
        t = self.t
        word, kind = t.word, t.kind
        into, name = self.into, self.name
        role = entry.role
        if role == "or" and (name or self.measures):
            return self._or(i)
        if name and (
            role == "plus"
            or (
                role == "and"
                and (
                    kind[i + 1] in (NUMBER, FRACTION)
                    or self._part_follows(i + 1)
                    or self._amount_follows(i + 1)
                )
            )
        ):
            return -1
        if role == "extra" and into and word[i + 1] in ("for", "to"):
            return -1
        if into and word[i] in ("with", "in", "w") and (
            kind[i + 1] in (NUMBER, FRACTION) or self._amount_follows(i + 1)
        ):  # fmt: skip
            return -1
        if role == "each" and not into:
            self.flags.add("each")
            return i + 2 if word[i + 1] in ("of", ":") else i + 1
        if entry.effects:
            found = match_effect(t, i)
            if found is not None:
                effect, j = found
                what = effect.kind
                if what == "state":
                    if into is name:
                        self.states.add(effect.value)
                    if into and not effect.in_name and word[j] in ("in", "with", "for"):
                        return -1  # "soaked in 3 tbsp water"
                    after_noun = j - i > 1 and into and kind[j] != WORD  # "skin on"
                    if effect.in_name and not after_noun:
                        into.extend(word[i:j])
                    else:
                        self.notes.append(" ".join(word[i:j]))
                    return j
                if what == "note":
                    self.notes.append(" ".join(word[i:j]))
                    return j
                if what == "flag":
                    if into or self.measures or j - i > 1:
                        if kind[j] == END or word[j] in ",;(":  # "salt to taste"
                            self.cut(i, j)
                        self.flags.add(effect.value)
                        stop = self._object_end(j) if into and word[i] in ("for", "to") else j
                        self.notes.append(" ".join(word[i:stop]))
                        return stop
                elif into and what in ("stop", "example"):
                    return -1
                elif into and what == "hedge" and kind[j] in (NUMBER, FRACTION):
                    return j
        if entry.sizes and self.measures:
            size, j = read_size(t, i)
            if size and (kind[j] in (WORD, END) or not name):
                self.size(size)
                return j
        if into and not self.measures and (entry.number is not None or entry.units):
            reading = self.late_measure(i)
            if reading is not None:
                self.cut_amount(i, reading.next)
                self.add(reading)
                return reading.next
        into.append(word[i])
        return i + 1

    def _object_end(self, j: int) -> int:
        """Past the words that say on what: "sugar for rolling | dough", "oil to fry | the onions"."""
        t = self.t
        while t.kind[j] == WORD:
            entry = LEXICON.get(t.word[j])
            role = entry.role if entry is not None else ""
            if role in ("plus", "or") or (role == "and" and t.kind[j + 1] in (NUMBER, FRACTION)):
                break
            j += 1
        return j

    def _part_follows(self, i: int) -> bool:
        """ "and zest of 1 lemon": a part of another thing."""
        entry = LEXICON.get(self.t.word[i])
        return entry is not None and entry.role == "part" and self.t.word[i + 1] in ("of", "from")

    def _amount_follows(self, i: int) -> bool:
        """ "and a pinch of salt", "and an egg": an amount in words with a food behind it."""
        entry = LEXICON.get(self.t.word[i])
        if entry is None or entry.number is None:
            return False
        reading = self.reader.read(i, leading=True)
        return reading is not None and self._names_another(reading.next, self.t.size)

    def _or(self, i: int) -> int:
        """ "or" inside the name begins an alternative; its own amount is dropped."""
        t = self.t
        if self.aside(i + 1) or t.kind[i + 1] == END:
            return -1
        j = i + 1
        if not percent_at(t, j):
            reading = self.reader.read(j)
            if reading is not None:
                self.cut_amount(i if not self.name else j, reading.next)
                if not self.name:  # "1 tin or 240 g cooked chickpeas"
                    self.measures += [self.placed(m) for m in reading.measures]
                    return reading.next
                j = reading.next
        self._begin_alternative()
        return j

    def _begin_alternative(self) -> None:
        self.into = []
        self.alternatives.append(self.into)

    def _number(self, i: int) -> int:
        """A number inside the name: a percentage, a late amount, or part of the name."""
        past = self.percent(i)
        if past is not None:
            return past
        t = self.t
        if self.glued_word(i):
            if t.word[i + 1] == "-":
                self.into.append(f"{t.word[i]}-{t.word[i + 2]}")
                return i + 3
            self.into += t.word[i : i + 2]
            return i + 2
        reading = self.late_measure(i)
        if reading is not None:
            self.cut_amount(i, reading.next)
            self.add(reading)
            return reading.next
        self.into.append(t.word[i])
        return i + 1

    def _mark(self, i: int) -> int:
        """A mark inside the name: the token after it, -1 when it ends the name."""
        t = self.t
        word, into = t.word, self.into
        w = word[i]
        if w == "," or w == ";":
            if "each" in self.flags and into and "and" not in into and self._lists_on(i + 1):
                into.append(",")
                return i + 1
            if not self._name_begun(into, i + 1):
                return i + 1
            stop = self._or_list(i + 1) if self.name else 0
            if not stop or (word[stop] == "," and names_food(t, i + 1, t.size)):
                return -1
            begun = len(self.alternatives)
            self.alternatives_until(i + 1, stop)
            self._kinds_of_name(begun)
            return stop
        if w in CLOSE:
            if self._noun_inside(i):
                return i + 1
            return self.parenthesis(i)
        if w == "-":
            return -1 if into and t.start[i] > t.end[i - 1] else i + 1
        if w == "/":
            if self._both_states(i):
                return i + 1
            if into and t.kind[i + 1] == WORD and into[-1] not in ("and", "w", "c"):
                self._begin_alternative()
            return i + 1
        if w == "&" or w == "+":
            if into:
                if (
                    t.kind[i + 1] in (NUMBER, FRACTION)
                    or match_effect(t, i, "flag")
                    or word[i + 2] in ("of", "from")  # "+ zest of 1 lemon"
                ):
                    return -1
                into.append("and")
            return i + 1
        if into and (
            w in ":|" or (w == "." and t.start[i + 1] > t.end[i] and len(into[-1]) > 3)
        ):  # fmt: skip
            return -1
        return i + 1

    def _noun_inside(self, i: int) -> bool:
        """ "boneless (skinless chicken breasts, sliced)": a comma turned into a bracket."""
        if self.into is not self.name or not self.name or self.t.word[i] != "(":
            return False
        return not self._name_begun(self.name, i + 1) and names_food(self.t, i + 1, self._close(i))

    def _lists_on(self, i: int) -> bool:
        """Whether after "each" a comma goes on with the foods and begins no note."""
        word = self.t.word
        if "and" in word[i:] or "&" in word[i:]:
            return True
        entry = LEXICON.get(word[i])
        return entry is None or not (entry.prep or entry.number_class or entry.effects)

    def _or_list(self, i: int) -> int:
        """ "olive oil, avocado oil, or ghee": where the foods after the comma end, 0 for none."""
        t = self.t
        word = t.word
        seen_or, length = False, 0
        food = names = False  # any of them, this one names a food: "homemade or bought" do not
        while True:
            w = word[i]
            if w == "or":
                if self.aside(i + 1):
                    return 0
                food, seen_or, length = food or names, True, 0
            elif w == ",":
                if seen_or:
                    return i
                length = 0
            elif t.kind[i] != WORD:
                ends = t.kind[i] == END or w in CLOSE
                return i if seen_or and length and (food or names) and ends else 0
            else:
                entry = LEXICON.get(w)
                if entry is not None and not entry.modifier and (
                    entry.prep or entry.number_class or entry.role or entry.effects or entry.sizes
                ):  # fmt: skip
                    return i if seen_or and length else 0
                names = not (is_participle(w) or (entry and entry.modifier == "quality"))
                length += 1
                if length > 3 or w in ("removed", "discarded"):
                    return 0
            i += 1

    def _both_states(self, i: int) -> bool:
        """ "boneless/skinless": both hold; "fresh/frozen": the one or the other."""
        sides = (self.into[-1] if self.into else "", self.t.word[i + 1])
        for side in sides:
            entry = LEXICON.get(side)
            states = [e.value for rest, e in entry.effects if not rest] if entry else []
            if not states or states[0] in _EITHER:
                return False
        return True

    def _name_begun(self, into: list[str], after: int) -> bool:
        """A comma ends the name unless only adjectives stand before it ("boneless, skinless").

        Colour, texture and the like are adjectives when the noun comes behind the comma: "plain,
        non-fat greek yogurt".
        """
        kinds = False
        for w in into:
            entry = LEXICON.get(w)
            if entry is None:
                return True
            if not (
                entry.modifier == "quality" or entry.prep or entry.sizes
                or any(not rest for rest, _ in entry.effects)
            ):  # fmt: skip
                if entry.modifier in ("", "kind"):
                    return True
                kinds = True
        return kinds and not goes_on(self.t, after, self.t.size)

    # --- putting it together ---------------------------------------------------------------

    def _result(self) -> ParsedLine:
        fat, lean, cocoa = (
            settle(self.percents, self.t.text) if self.percents else (None, None, None)
        )
        if self.name and self.name[-1] in ("juice", "zest") and len(self.name) > 1:
            self._owned_part()
        finished = finish_name(
            self.name, self.kind_parts, self.alternatives, self.measures, self.notes,
            each="each" in self.flags,
        )  # fmt: skip
        name, measures, problems = finished.name, finished.measures, self.problems
        if "egg " in name and not self.part:
            last = name.rsplit(" ", 1)[-1].rstrip("s")
            self.part = last if last in ("white", "yolk") else ""
        elif self.part in ("white", "yolk") and name in ("egg", "eggs"):
            name = f"egg {self.part}"
        kind: LineKind = "food"
        written = " ".join(self.name)
        if names_no_food(written) or (name != written and names_no_food(name)):
            kind = "not_food"
        elif not name:
            if not any(c.isalnum() for c in self.text):
                kind = "blank"
            else:
                problems.append("name-missing")
        if "amount-negative" in problems or "amount-not-a-number" in problems:
            measures, self.plus = [], []
        for measure in measures:
            if measure.unit == "tin":
                self.states.add("canned")
        if len(measures) == 1 and _no_count(measures[0]):
            problems.append("unit-missing")
        if self.notes and measures and measures[0].kind == "mass" and (
            not _NET_WEIGHT.isdisjoint(self.notes)
        ):  # fmt: skip
            self.flags.add("net_weight")  # "240 g chickpeas, drained weight"
        return new_line(
            self.text, kind, tuple(measures), tuple(self.plus), name, finished.alternatives,
            frozenset(self.states) if self.states else _NONE, ", ".join(self.notes),
            fat, lean, cocoa, self.part, frozenset(self.flags) if self.flags else _NONE,
            tuple(dict.fromkeys(problems)) if problems else (), finished.each_of,
            self.rest() if kind != "blank" else "",
            self.made_of or self._parts(finished.each_of),
        )  # fmt: skip

    # --- more than one food ----------------------------------------------------------------

    def _parts(self, each_of: tuple[str, ...]) -> tuple[str, ...]:
        """The line of each food, where the line holds several; () when it turns out to hold one."""
        if not self.others:
            if each_of:
                return self._each_part(each_of)
            listed = not self.measures and not SEASONINGS.isdisjoint(self.name[:1])
            return self._seasonings() if listed else ()
        t = self.t
        further: list[str] = []
        kept, begin = [], 0
        for cut, first, stop in self.others:
            text = self._written(first, stop)
            read = parse(text)
            if read.kind != "food":
                continue
            further += read.parts or (self._completed(text, read),)
            kept.append(self._written(begin, cut))
            begin = stop
        if not further:
            return ()
        kept.append(self._written(begin, t.size))
        head = _tidied(" ".join(kept))
        own = list(parse(head).parts) or [head]
        if not self.measures:  # "salt, pepper, 1 tbsp oil"
            own = _listed(head)
        if "optional" in self.flags:
            own, further = [_optional(p) for p in own], [_optional(p) for p in further]
        return (*own, *further)

    def _seasonings(self) -> tuple[str, ...]:
        """ "Salt, pepper, garlic powder": a list without amounts that goes beyond salt and pepper."""
        if "," not in self.t.word or not self._list_before(self.t.size):
            return ()
        foods = _listed(self.text.strip())
        beyond = any(SEASONINGS.isdisjoint(food.lower().split()) for food in foods)
        return tuple(foods) if beyond and all(parse(food).name for food in foods) else ()

    def split(self, text: str) -> tuple[str, ...]:
        parts = parse(text).parts
        return parts if all(parse(part).measures for part in parts) else ()

    def _each_part(self, each_of: tuple[str, ...]) -> tuple[str, ...]:
        """ "1 tsp each ground cumin and coriander": "1 tsp ground cumin", "1 tsp ground coriander"."""
        if len(each_of) < 2 or not self.measures:
            return ()
        amount = self._written(0, self.t.word.index("each")).strip(" ,:;-")
        if not amount:
            return ()
        state = each_of[0].partition(" ")[0]
        first = LEXICON.get(state)
        shared = first is not None and any(
            e.kind == "state" for rest, e in first.effects if not rest
        )
        return tuple(
            f"{amount} {state} {food}" if shared and not _has_state(food) else f"{amount} {food}"
            for food in each_of
        )

    def _written(self, i: int, j: int) -> str:
        """Tokens ``i`` to ``j`` as they are written."""
        if j <= i:
            return ""
        begin, end = self.clean.span(self.t.start[i], self.t.end[j - 1])
        return self.text[begin:end].strip()

    def _completed(self, text: str, read: ParsedLine) -> str:
        """A part that names only what of the first food is meant: "1 yolk" behind "2 eggs"."""
        alone = read.name in ("white", "whites", "yolk", "yolks", "zest", "juice") or (
            not read.name and read.part
        )  # fmt: skip
        if not alone or not self.name:
            return text
        owner = "egg" if self.name[-1] in ("egg", "eggs") else " ".join(self.name)
        owner = owner.removesuffix(" juice").removesuffix(" zest")
        if not read.name:  # "juice of 2"
            return f"{text} {owner}"
        return f"{text[: text.lower().rindex(read.name)]}{owner} {read.name}"

    def _owned_part(self) -> None:
        """ "1 lemon's juice": the juice of one lemon."""
        owner = self.name[-2]
        if owner.endswith(("'s", "s'")) and self.measures and self.measures[0].unit == "piece":
            self.set_part([self.name.pop()])
            self.name[-1] = owner.rstrip("s").rstrip("'")


#: What the removal of a food leaves at the end of the first one's words.
_ENDS = re.compile(r"(?:[\s,;:+&/(-]|\b(?:and|plus|with|then)$)+$", re.IGNORECASE)
_EMPTY = re.compile(r"\s*[(\[][\s,;+&]*[)\]]")


def _tidied(text: str) -> str:
    while True:
        plain = _EMPTY.sub("", text)
        if plain == text:
            return _ENDS.sub("", plain).strip(" ,;")
        text = plain


def _listed(text: str) -> list[str]:
    return [food for food in re.split(r"\s*(?:[,;&+]|\band\b)\s*", text) if food]


def _optional(part: str) -> str:
    return part if "optional" in parse(part).flags else f"{part} (optional)"


def _has_state(food: str) -> bool:
    return any(
        (entry := LEXICON.get(word)) is not None
        and any(e.kind == "state" for rest, e in entry.effects if not rest)
        for word in food.split()
    )


def _no_count(measure: Measure) -> bool:
    """ "17.3 puff pastry": no whole number of things and no common fraction of one."""
    amount = measure.amount
    if measure.unit != "piece" or measure.each is not None or measure.low != measure.high:
        return False
    if not 2 <= amount < 1000:
        return False
    return all(abs(amount * n - round(amount * n)) > 0.02 for n in (1, 2, 3, 4, 8))
