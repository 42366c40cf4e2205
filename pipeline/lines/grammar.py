"""One line, left to right: amount, food phrase, then what is said after it.

The reader walks the tokens once. In the food phrase it gathers name words; after a comma, a
spaced dash, or a word that ends a name ("for", "to") it gathers notes. States, flags, fat
figures, further amounts and alternatives are taken wherever they stand.
"""

from __future__ import annotations

from dataclasses import replace

from pipeline.lines.amounts import numeral
from pipeline.lines.clean import Clean, clean
from pipeline.lines.measures import MeasureReader, Reading, match_effect, read_size
from pipeline.lines.model import LineKind, Measure, ParsedLine
from pipeline.lines.names import finish_name
from pipeline.lines.tokens import END, FRACTION, MARK, NUMBER, WORD, Tokens
from pipeline.lines.vocabulary import HEADINGS, LEXICON, NO_LINE_STARTS, NOT_FOOD

_BULLETS = frozenset("-*•+>#=|.:;,!?°[]{}~")
_CLOSE = {"(": ")", "[": "]", "{": "}"}
_RAW = frozenset({"raw", "dry", "dried"})
_COOKED = frozenset({"cooked", "boiled", "steamed", "roasted", "baked", "grilled", "fried"})


def parse(text: str) -> ParsedLine:
    """Read one ingredient line; total: any text gives a ``ParsedLine``, none raises.

    Args:
        text: the line as written. Only the first 1,000 characters are read.
    """
    line = clean(text)
    words = line.lower.strip()
    if not words:
        return ParsedLine(text, "blank", problems=line.problems)
    kind = _no_food_line(line.text.strip(), words)
    if kind is not None:
        return ParsedLine(text, kind, problems=line.problems)
    return LineReader(text, line).read()


def _no_food_line(written: str, words: str) -> LineKind | None:
    """``heading``, ``not_food`` or None, by the shape of the whole line."""
    first, last = words[0], words[-1]
    if first.isalnum() and last not in ":)]" and words[:4] not in ("for ", "the ") and (
        words not in HEADINGS
    ):  # fmt: skip
        if words.startswith(NO_LINE_STARTS) and _starts_no_line(words):
            return "not_food"
        if not written.isupper() or any(c.isdigit() for c in words):
            return None
        return "heading" if words.rsplit(" ", 1)[-1] in HEADINGS else None
    bare = words.strip(" *#=_-:[](){}<>•|.~")
    if not bare:
        return None
    marked = first in "#=[" and not any(c.isdigit() for c in words)
    wrapped = first == "*" and last in "*:" and not any(c.isdigit() for c in words)
    if marked or wrapped:
        return "heading"
    plain = bare.removeprefix("for the ").removeprefix("for ").removeprefix("the ")
    if bare in HEADINGS or plain.removesuffix(" ingredients") in HEADINGS:
        return "heading"
    if last == ":" and not (first.isdigit() or first in "½¼¾⅓⅔-"):
        return "heading"
    if words.startswith(NO_LINE_STARTS) and _starts_no_line(words):
        return "not_food"
    if words.startswith(("for the ", "for ")) and not any(
        c.isdigit() or c in ":,(½¼¾⅓⅔" for c in words
    ):
        return "heading"
    if bare.startswith("ingredients") and "serve" in bare:
        return "heading"
    return None


def _starts_no_line(words: str) -> bool:
    start = next(s for s in NO_LINE_STARTS if words.startswith(s))
    rest = words[len(start) :].lstrip(" :~-")
    return bool(rest) and (rest[0].isdigit() or ":" in words[len(start) : len(start) + 2]
                           or start == "preheat")  # fmt: skip


class LineReader:
    """State of reading one line; used once."""

    __slots__ = (
        "alternatives", "clean", "cocoa", "depth", "fat", "flags", "kind_words", "lean",
        "measures", "name", "name_states", "notes", "part", "percents", "plus", "problems",
        "reader", "share", "states", "t", "text", "written",
    )  # fmt: skip

    def __init__(self, text: str, line: Clean) -> None:
        self.text = text
        self.clean = line
        self.t = Tokens(line.lower)
        self.reader = MeasureReader(self.t, line.text, None)
        self.measures: list[Measure] = []
        self.plus: list[Measure] = []
        self.name: list[str] = []
        self.kind_words: list[str] = []
        self.alternatives: list[list[str]] = []
        self.states: set[str] = set()
        self.notes: list[str] = []
        self.flags: set[str] = set()
        self.problems: list[str] = list(line.problems)
        self.percents: list[tuple[float, str]] = []
        self.fat: float | None = None
        self.lean: float | None = None
        self.cocoa: float | None = None
        self.part = ""
        self.share = False
        self.written = ""
        self.depth = 0

    # --- the whole line --------------------------------------------------------------------

    def read(self) -> ParsedLine:
        """Walk the tokens and put the parts together."""
        i = self._lead()
        i = self._head(i)
        i = self._food(i)
        while self.t.kind[i] != END:
            i = max(i + 1, self._tail(i, self.t.size))
        return self._result()

    def _lead(self) -> int:
        """Past bullets, numbering and a heading before a colon ("Dressing: 2 tbsp oil")."""
        t = self.t
        word, kind = t.word, t.kind
        i = 0
        while kind[i] == MARK and word[i] in _BULLETS:
            if (
                word[i] == "-"
                and kind[i + 1] in (NUMBER, FRACTION)
                and (t.end[i] == t.start[i + 1] and self.clean.text[t.start[i]] == self._written(i))
            ):
                self.problems.append("amount-negative")
            if word[i] == "[" and word[i + 1] in ("]", "x"):
                i += 2
            if word[i] == "~":
                break
            i += 1
        if (
            kind[i] == NUMBER
            and word[i].isdecimal()
            and word[i + 1] in (".", ")")
            and (
                t.end[i] == t.start[i + 1] and t.start[i + 2] > t.end[i + 1] and kind[i + 2] != END
            )
        ):
            i += 2
        if word[i] == "x" and kind[i + 1] in (NUMBER, FRACTION):
            i += 1
        for j in range(i, min(i + 5, t.size)):
            if word[j] == ":" and j > i:
                return self._before_colon(i, j)
        return i

    def _written(self, i: int) -> str:
        """The character as typed, to tell a minus from a dash used as a bullet."""
        place = self.clean.span(self.t.start[i], self.t.end[i])[0]
        return self.text[place]

    def _before_colon(self, i: int, j: int) -> int:
        said = " ".join(self.t.word[i:j])
        if said in HEADINGS or self.t.word[i] in ("for", "to"):
            for k in range(i, j):
                found = match_effect(self.t, k, "flag")
                if found:
                    self.flags.add(found[0].value)
                    break
            return j + 1
        return i

    def _head(self, i: int) -> int:
        """The amount in front, with "juice of" and "the" before it."""
        t = self.t
        i = self._part_of(i)
        start = i
        if t.word[i] == "the":
            i += 1
        if t.word[i] in ("remaining", "reserved", "rest"):
            self.flags.add("remaining")
            i += 1
            if t.word[i] == "of":
                i += 1
            if t.word[i] == "the":
                i += 1
            start = i
        found = match_effect(t, i, "open")
        if found:
            self.flags.add("vague")
            return found[1]
        if t.word[i] == "" or self._percent_at(i):
            return i
        reading = None if self._glued_word(i) else self.reader.read(i, leading=True)
        if reading is None:
            if t.word[i] in ("∞", "nan", "inf", "infinity") or (
                t.word[i] == "?" and t.kind[i + 1] != END
            ):
                self.problems.append("amount-not-a-number")
                after = self.reader._unit_after(i + 1)
                return i + 2 if after else i + 1
            return start if t.word[start] != "the" else start + 1
        if self._article_only(reading) and t.word[reading.next] == "of":
            return i
        self._take(reading)
        i = reading.next
        if reading.lead:
            self._lead_words(reading.lead)
        if t.word[i] in ("the", "a", "an") and not reading.share:
            i += 1
        return self._part_of(i) if not self.part else i

    def _lead_words(self, words: list[str]) -> None:
        for w in words:
            entry = LEXICON[w]
            if entry.effects:
                self.name.append(w)
                for rest, effect in entry.effects:
                    if not rest and effect.kind == "state":
                        self.states.add(effect.value)
                        break

    def _article_only(self, reading: Reading) -> bool:
        return reading.written == "article" and reading.measures[0].unit == "piece"

    def _part_of(self, i: int) -> int:
        """ "juice of", "zest and juice of", "finely grated zest of", "whites of"; else ``i``."""
        t = self.t
        word = t.word
        j = i
        if word[j] == "the":
            j += 1
        while (
            (entry := LEXICON.get(word[j])) is not None
            and (entry.prep or word[j] in ("strips", "peeled", "fresh", "pared"))
            and entry.role != "part"
            and j - i < 4
        ):
            j += 1
            if word[j] == "and":
                j += 1
        entry = LEXICON.get(word[j])
        if entry is None or entry.role != "part":
            return i
        parts = [word[j]]
        j += 1
        while word[j] in ("and", "&", "/", "+", ",", "plus"):
            k = j + 1
            while (
                (entry := LEXICON.get(word[k])) is not None
                and entry.prep
                and (entry.role != "part")
            ):
                k += 1
            entry = LEXICON.get(word[k])
            if entry is None or entry.role != "part":
                break
            parts.append(word[k])
            j = k + 1
        if word[j] == "only":
            j += 1
        if word[j] in ("of", "from"):
            j += 1
        elif parts[0] not in ("juice", "zest") or not self.reader.read(j, leading=True):
            return i
        self._set_part(parts)
        if j > i + len(parts):
            said = " ".join(w for w in word[i:j] if w not in ("of", "the", "from"))
            if said not in ("juice", "zest", "zest and juice", "juice and zest"):
                self.notes.append(said)
        return j

    def _set_part(self, parts: list[str]) -> None:
        """Juice carries the weight when juice and zest are both meant."""
        as_part = {"whites": "white", "yolks": "yolk", "peel": "zest", "rind": "zest",
                   "juiced": "juice", "zested": "zest"}  # fmt: skip
        named = [as_part.get(p, p) for p in parts]
        if "juice" in named:
            self.part = "juice"
            if "zest" in named:
                self.flags.add("zest_too")
        elif not self.part:
            self.part = named[0]

    def _take(self, reading: Reading) -> None:
        self.measures = [self._placed(m) for m in reading.measures]
        self.plus += [self._placed(m) for m in reading.plus]
        self.flags.update(reading.flags)
        self.problems += [p for p in reading.problems if p not in self.problems]
        self.share = reading.share
        self.written = reading.written
        for measure in self.measures:
            if measure.amount <= 0 and "amount-zero" not in self.problems:
                self.problems.append("amount-zero")
        if "amount-negative" in self.problems or "amount-not-a-number" in self.problems:
            self.measures, self.plus = [], []

    def _placed(self, measure: Measure) -> Measure:
        if self.clean.origin is None:
            return measure
        each = measure.each
        return replace(
            measure,
            of_text=self.clean.span(*measure.of_text),
            each=self._placed(each) if each else None,
        )

    # --- the food phrase -------------------------------------------------------------------

    def _food(self, i: int) -> int:
        """Name words up to what ends them; returns the token where the tail begins."""
        t = self.t
        word, kind, start, end = t.word, t.kind, t.start, t.end
        name = self.name
        into = name
        begun_alternative = False
        while True:
            k = kind[i]
            w = word[i]
            if k == WORD:
                entry = LEXICON.get(w)
                if entry is None:
                    into.append(w)
                    i += 1
                    continue
                role = entry.role
                if role == "or":
                    if self._aside(i + 1):
                        return i
                    if name or self.measures:
                        j = self._alternative(i + 1)
                        if j is None:
                            return i
                        into = []
                        self.alternatives.append(into)
                        begun_alternative = True
                        i = j
                        continue
                if name and (
                    role == "plus" or (role == "and" and kind[i + 1] in (NUMBER, FRACTION))
                ):
                    return i
                if role == "each" and not into:
                    self.flags.add("each")
                    i += 1
                    if word[i] in ("of", ":"):
                        i += 1
                    continue
                if entry.effects:
                    found = match_effect(t, i)
                    if found is not None:
                        effect, j = found
                        what = effect.kind
                        if what == "state":
                            if not begun_alternative:
                                self.states.add(effect.value)
                            if effect.in_name and not self._phrase_after_name(i, j, into):
                                into.extend(word[i:j])
                            else:
                                self.notes.append(" ".join(word[i:j]))
                            i = j
                            continue
                        if what == "note":
                            self.notes.append(" ".join(word[i:j]))
                            i = j
                            continue
                        if what in ("flag", "aside"):
                            if what == "flag" and (into or self.measures or j - i > 1):
                                self.flags.add(effect.value)
                                self.notes.append(" ".join(word[i:j]))
                                i = j
                                continue
                        elif what in ("stop", "example") and into:
                            if not (w in ("to", "from") and not name):
                                return i
                        elif what == "hedge" and into and kind[j] in (NUMBER, FRACTION):
                            i = j
                            continue
                if entry.sizes and self.measures:
                    size, j = read_size(t, i)
                    if size and (kind[j] == WORD or not name or kind[j] == END):
                        self._size(size)
                        i = j
                        continue
                if (
                    (entry.number is not None or entry.units)
                    and not self.measures
                    and into
                    and self._late_measure(i)
                ):
                    i = self._late(i)
                    continue
                into.append(w)
                i += 1
            elif k in (NUMBER, FRACTION):
                j = self._percent(i)
                if j is not None:
                    i = j
                    continue
                if self._glued_word(i):
                    into.append(f"{w}-{word[i + 2]}")
                    i += 3
                    continue
                if self._late_measure(i):
                    i = self._late(i)
                    continue
                into.append(w)
                i += 1
            elif k == END:
                return i
            elif w == "," or w == ";":
                if (
                    "each" in self.flags
                    and into
                    and "and" not in into
                    and ("and" in word[i:] or "&" in word[i:])
                ):
                    if word[i + 1] not in ("and", "&"):
                        into.append(",")
                elif self._name_begun(into):
                    return i
                i += 1
            elif w == "(" or w == "[" or w == "{":
                i = self._parenthesis(i)
            elif w == "-":
                if into and start[i] > end[i - 1]:
                    return i
                i += 1
            elif w == "/":
                if into and kind[i + 1] == WORD and end[i] - start[i] == 1:
                    if into[-1] in ("and", "w", "c"):
                        i += 1
                        continue
                    into = []
                    self.alternatives.append(into)
                    begun_alternative = True
                i += 1
            elif w == "&" or w == "+":
                if into:
                    if kind[i + 1] in (NUMBER, FRACTION):
                        return i
                    into.append("and")
                i += 1
            elif w == "%":
                i += 1
            elif (
                (w == ":" and into)
                or (w == "." and into and start[i + 1] > end[i] and len(into[-1]) > 3)
                or (w == "|" and into)
            ):
                return i
            elif w in ("×",) and kind[i + 1] == NUMBER:
                i += 1
            else:
                i += 1

    def _aside(self, i: int) -> bool:
        return match_effect(self.t, i, "aside") is not None

    def _name_begun(self, into: list[str]) -> bool:
        """A comma ends the name unless only adjectives stand before it ("boneless, skinless")."""
        for w in into:
            entry = LEXICON.get(w)
            if entry is None:
                return True
            if not (entry.modifier == "quality" or entry.prep or entry.sizes or entry.effects):
                return True
        return False

    def _phrase_after_name(self, i: int, j: int, into: list[str]) -> bool:
        """A state phrase of several words after the noun is no part of the name: "skin on"."""
        return j - i > 1 and bool(into) and self.t.kind[j] != WORD

    def _alternative(self, i: int) -> int | None:
        """Past an amount after "or"; None when what follows belongs to the notes."""
        t = self.t
        if t.kind[i] == END:
            return None
        if self._percent_at(i):
            return i
        reading = self.reader.read(i)
        if reading is None:
            return i
        if not self.name:
            self.measures += [self._placed(m) for m in reading.measures]
        return reading.next

    def _size(self, size: str) -> None:
        first = self.measures[0]
        if not first.size:
            self.measures[0] = replace(first, size=size)

    def _glued_word(self, i: int) -> bool:
        """ "5-spice", "7-grain": a number that belongs to a word."""
        t = self.t
        if not (
            t.kind[i] == NUMBER
            and t.word[i + 1] == "-"
            and t.kind[i + 2] == WORD
            and t.end[i] == t.start[i + 1]
            and t.end[i + 1] == t.start[i + 2]
        ):
            return False
        entry = LEXICON.get(t.word[i + 2])
        return entry is None or not (entry.units or entry.number_class)

    def _late_measure(self, i: int) -> bool:
        """Whether an amount after the name starts at token ``i``."""
        reading = self.reader.read(i)
        if reading is None:
            return False
        first = reading.measures[0]
        if self.measures:
            return first.kind in ("mass", "volume") and self.t.kind[i] != WORD
        if first.unit == "piece" and first.each is None:
            if self.t.kind[i] == WORD:
                return False
            j = reading.next
            return self.t.kind[j] == END or self.t.word[j] in (",", "(", ";", ")", "-", "or")
        return not reading.implied

    def _late(self, i: int) -> int:
        reading = self.reader.read(i)
        if reading is None:
            return i + 1
        self._add(reading)
        return reading.next

    def _add(self, reading: Reading) -> None:
        """An amount after the name: the line's amount, or the same said again."""
        if not self.measures:
            self._take(reading)
            return
        self.reader.attach(self.measures, [self._placed(m) for m in reading.measures], False, True)
        self.plus += [self._placed(m) for m in reading.plus]

    # --- percentages -----------------------------------------------------------------------

    def _percent_at(self, i: int) -> bool:
        t = self.t
        if t.kind[i] != NUMBER:
            return False
        after = t.word[i + 1]
        if after == "%" or after in ("percent", "pct"):
            return True
        if "/" in t.word[i]:
            a, _, b = t.word[i].partition("/")
            a, b = a.strip(), b.strip()
            return a.isdecimal() and b.isdecimal() and len(a) < 4 and int(a) + int(b) == 100
        return False

    def _percent(self, i: int) -> int | None:
        """ "5 % fat", "0%", "93% lean", "80/20", "70 % cocoa" at token ``i``: the token after."""
        t, word = self.t, self.t.word
        if t.kind[i] != NUMBER:
            return None
        if not self._percent_at(i):
            if word[i + 1] == "-" and t.kind[i + 2] == NUMBER and self._percent_at(i + 2):
                i += 2  # "2-5% fat": the higher figure, said again below as it stands
            else:
                return None
        if "/" in word[i] and word[i + 1] != "%":
            a, _, b = word[i].partition("/")
            lean = float(max(int(a), int(b)))
            self.lean, self.fat = lean, 100.0 - lean
            return i + 1
        value = numeral(word[i]).value
        j = i + 2
        said = word[j]
        if said == "-" and t.kind[j + 1] == WORD:
            j += 1
            said = word[j]
        if said in ("fat", "milkfat", "butterfat", "m.f", "mf", "bf"):
            j += 1
            if word[j] in ("free", "-free"):
                value, j = 100.0 - value, j + 1
            if word[j] == "content":
                j += 1
            self.percents.append((value, "fat"))
        elif said == "fat-free":
            self.percents.append((100.0 - value, "fat"))
            j += 1
        elif said in ("milk", "butter") and word[j + 1] == "fat":
            self.percents.append((value, "fat"))
            j += 2
        elif said == "lean":
            self.percents.append((value, "lean"))
            j += 1
        elif said in ("cocoa", "cacao"):
            self.percents.append((value, "cocoa"))
            j += 1
            if word[j] in ("solids", "mass", "content"):
                j += 1
        elif said in ("less", "reduced", "more", "lower", "extra"):
            self.notes.append(f"{word[i]}% {said}")
            j += 1
            if word[j] in ("fat", "salt", "sugar", "sodium"):
                self.notes[-1] += f" {word[j]}"
                if word[j] in ("fat", "salt", "sodium"):
                    self.states.add("reduced_fat" if word[j] == "fat" else "low_sodium")
                    j += 1
        elif said in ("abv", "alcohol", "vol", "acidity", "acid", "proof", "protein", "hydration"):
            self.notes.append(f"{word[i]}% {said}")
            j += 1
        else:
            self.percents.append((value, ""))
        return j

    def _settle_percents(self, said: str) -> None:
        """Give figures without a word their meaning, from the food they stand beside."""
        for value, what in self.percents:
            if not what:
                if value >= 100:
                    continue
                if "chocolate" in said or "cocoa" in said or "cacao" in said:
                    what = "cocoa"
                elif value > 50:
                    meat = ("mince", "beef", "turkey", "pork", "ground", "lamb", "ham", "burger")
                    if not any(m in said for m in meat):
                        continue
                    what = "lean"
                elif "vinegar" in said or "wine" in said or "beer" in said or "juice" in said:
                    continue
                else:
                    what = "fat"
            if what == "fat" and self.fat is None:
                self.fat = value
            elif what == "lean" and self.lean is None:
                self.lean = value
                if self.fat is None and 50 < value <= 100:
                    self.fat = 100.0 - value
            elif what == "cocoa" and self.cocoa is None:
                self.cocoa = value

    # --- parentheses -----------------------------------------------------------------------

    def _parenthesis(self, i: int) -> int:
        """Read "( ... )" and return the token after it; unclosed ones end with the line."""
        if self.depth > 1:
            return i + 1
        self.depth += 1
        after = self._inside(i)
        self.depth -= 1
        return after

    def _inside(self, i: int) -> int:
        t, word = self.t, self.t.word
        close = _CLOSE[word[i]]
        depth, end = 0, i
        while t.kind[end] != END:
            if word[end] == word[i]:
                depth += 1
            elif word[end] == close:
                depth -= 1
                if depth == 0:
                    break
            end += 1
        after = min(end + 1, t.size)
        j = i + 1
        if j >= end:
            return after
        if word[j] == "or" and not self._aside(j + 1):
            self._alternatives_until(j + 1, end)
            return after
        example = match_effect(t, j, "example")
        if example and self.name and not self._percent_at(example[1]):
            self._alternatives_until(example[1], end)
            return after
        if self._measure_of_state(j, end):
            return after
        reading = self.reader.read(j)
        if (
            reading is not None and not reading.implied
            and reading.measures[0].unit != "piece"
            and reading.next <= end
        ):  # fmt: skip
            self._measure_aside(reading, reading.next, end)
            return after
        if self.name and self._foods_only(j, end):
            begun = len(self.alternatives)
            self._alternatives_until(j, end)
            kinds = self.alternatives[begun:]
            if all(_all_modifiers(words) for words in kinds):
                for words in kinds:  # "oil (olive or vegetable)"
                    words.append(self.name[-1])
            return after
        size, k = read_size(t, j)
        if size and k == end and self.measures:
            self._size(size)
            return after
        if not self.measures and k == j and t.kind[j] == NUMBER and j + 1 == end:
            late = self.reader.read(j, leading=True)  # "Eggs (2)"
            if late is not None:
                self._take(late)
                return after
        while j < end:
            j = max(j + 1, self._tail(j, end))
        return after

    def _measure_of_state(self, j: int, end: int) -> bool:
        """ "(drained weight 240 g)": the weight is of the food in that state."""
        t = self.t
        said = match_effect(t, j, "state")
        k = said[1] if said else j
        while t.word[k] in ("weight", ":", "net", "total"):
            k += 1
        if k == j or k >= end or t.kind[k] not in (NUMBER, FRACTION, MARK):
            return False
        reading = self.reader.read(k)
        if reading is None or reading.measures[0].kind != "mass" or reading.next > end:
            return False
        if said:
            self.states.add(said[0].value)
            self.notes.append(" ".join(t.word[j : said[1]]))
            self.flags.add("net_weight")
        self._measure_aside(reading, reading.next, end)
        return True

    def _measure_aside(self, reading: Reading, j: int, end: int) -> None:
        t, word = self.t, self.t.word
        measures = list(reading.measures)
        each = total = False
        states: set[str] = set()
        rest: list[str] = []
        while j < end:
            if word[j] in ("each", "apiece", "ea"):
                each = True
                j += 1
                continue
            if word[j] == "per":
                each = True
            if word[j] == "total" or (word[j] == "in" and word[j + 1] == "all"):
                total = True
                j += 1
                continue
            if word[j] in ("/", ",", ";", "or", "=") and t.kind[j + 1] in (NUMBER, FRACTION):
                again = self.reader.read(j + 1)
                if again is not None and again.next <= end:
                    measures += again.measures
                    j = again.next
                    continue
            found = match_effect(t, j, "state")
            if found is not None and found[1] <= end:
                states.add(found[0].value)
                rest.append(" ".join(word[j : found[1]]))
                j = found[1]
                continue
            rest.append(word[j])
            j += 1
        note = " ".join(rest)
        known = self.states | states
        contrary = any(self._contrary(state) for state in states)
        same_kind = any(m.kind == n.kind for m in self.measures for n in measures)
        if self.measures and (contrary or (states and (self._weighed() or same_kind))):
            said = t.text[t.start[self._token_at(measures[0])] : t.end[end - 1]]
            self.notes.append(said)
            return
        if note:
            self.notes.append(note)
        self.states = known
        if states:
            self.flags.add("net_weight")
        placed = [self._placed(m) for m in measures]
        if self.measures:
            self.reader.attach(self.measures, placed, each, total)
        else:
            self.measures = placed
            self.problems += [p for p in reading.problems if p not in self.problems]

    def _weighed(self) -> bool:
        return any(m.kind == "mass" for m in self.measures)

    def _token_at(self, measure: Measure) -> int:
        place = measure.of_text[0]
        for k, start in enumerate(self.t.start):
            if start >= place:
                return k
        return self.t.size

    def _foods_only(self, j: int, end: int) -> bool:
        """ "(cod or haddock)": words and one "or", nothing that prepares or measures."""
        if "or" not in self.t.word[j:end]:
            return False
        for k in range(j, end):
            w = self.t.word[k]
            if self.t.kind[k] != WORD and w not in (",", "/"):
                return False
            entry = LEXICON.get(w)
            if (
                entry is not None
                and w not in ("or", "and")
                and not entry.modifier
                and (entry.prep or entry.sizes or match_effect(self.t, k) is not None)
            ):
                return False
        return True

    def _alternatives_until(self, j: int, end: int) -> None:
        """Foods between ``j`` and ``end``, parted by "or", "," and "/"; amounts dropped."""
        t, word = self.t, self.t.word
        current: list[str] = []
        self.alternatives.append(current)
        while j < end:
            w = word[j]
            if w in ("or", "/", ","):
                if current:
                    current = []
                    self.alternatives.append(current)
                j += 1
                continue
            if t.kind[j] in (NUMBER, FRACTION) or (w in ("a", "an") and not current):
                past = self._percent(j) if not self.percents else None
                if past is None:
                    reading = self.reader.read(j, leading=not current)
                    past = reading.next if reading is not None else j + 1
                j = past
                continue
            found = match_effect(t, j, "stopflag")
            if found is not None and current:
                self.notes.append(" ".join(word[j:end]))
                break
            if t.kind[j] == WORD:
                current.append(w)
            j += 1

    # --- after the name --------------------------------------------------------------------

    def _tail(self, i: int, limit: int) -> int:
        """One comma part from token ``i``: amount, flags, alternative, else a note."""
        t = self.t
        word, kind = t.word, t.kind
        while i < limit and kind[i] == MARK and word[i] in ",;-:|./*•)":
            i += 1
        if i >= limit:
            return limit
        w = word[i]
        if w == "or" and kind[i + 1] != END and not self._aside(i + 1):
            j = i + 1
            stop = j
            while stop < limit and word[stop] not in (",", ";", "(", ")"):
                stop += 1
            self._alternatives_until(j, stop)
            return stop
        if w in ("plus", "+", "and", "&", "with"):
            past = self._plus(i, limit)
            if past is not None:
                return past
        if not self.name and not self.measures and kind[i] == WORD and limit == t.size:
            before = i
            i = self._food(i)
            if i > before:
                return i
        past = self._tail_measure(i, limit)
        if past is not None:
            return past
        if self.name and self._kind_segment(i, limit):
            while i < limit and word[i] != "," and kind[i] != END:
                if kind[i] == WORD:
                    self.kind_words.append(word[i])
                i += 1
            return i
        return self._note(i, limit)

    def _plus(self, i: int, limit: int) -> int | None:
        """ "plus 1 tbsp for sprinkling"; open ones are a flag and handled as a phrase."""
        if match_effect(self.t, i, "flag") is not None:
            return None
        reading = self.reader.read(i + 1, leading=True)
        if reading is None or reading.next > limit:
            return None
        if reading.written == "article" and reading.measures[0].unit == "piece":
            return None
        t = self.t
        k = reading.next
        first = reading.measures[0]
        named = t.kind[k] == WORD and k < limit and match_effect(t, k, "stopflag") is None
        if named and (first.unit == "piece" or t.word[i] in ("with", "and")):
            self.notes.append(t.text[t.start[i] : t.end[limit - 1]])
            self.problems.append("two-foods")
            return limit
        if first.unit == "piece" and not self._counted_line():
            return None
        self.plus += [self._placed(m) for m in reading.measures[:1]]
        return self._note(k, limit) if k < limit else k

    def _counted_line(self) -> bool:
        return bool(self.measures) and self.measures[0].kind == "count"

    def _tail_measure(self, i: int, limit: int) -> int | None:
        """An amount at the start of a comma part: "butter, 50g", "1 duck, around 2 kg"."""
        t = self.t
        if t.kind[i] == WORD:
            entry = LEXICON.get(t.word[i])
            if entry is None or not (
                entry.number is not None or entry.effects or entry.units or entry.sizes
            ):
                return None
        elif t.kind[i] == MARK and t.word[i] not in ("~", "×"):
            return None
        if t.word[i] in ("×",):
            i += 1
        if t.word[i] == "x" and t.kind[i + 1] == NUMBER:
            i += 1
        if self._percent_at(i):
            return None
        reading = self.reader.read(i, leading=not self.measures)
        if reading is None or reading.next > limit:
            return None
        first = reading.measures[0]
        j = reading.next
        if self.measures:
            if first.kind not in ("mass", "volume") or reading.implied:
                return None
            if t.word[j] in ("each", "apiece", "ea"):
                self.reader.attach(self.measures, [self._placed(first)], True, False)
                return j + 1
            if j < limit and t.kind[j] == WORD and match_effect(t, j) is None:
                return None
            self.reader.attach(
                self.measures, [self._placed(m) for m in reading.measures], False, True
            )
            return j
        if reading.written == "article" and first.unit == "piece":
            return None
        if reading.written == "fraction" and first.unit == "piece":
            return None  # "half sliced and half diced"
        self._take(reading)
        return j

    def _kind_segment(self, i: int, limit: int) -> bool:
        """A comma part of kind words only: "rice, brown", "peppers, red"."""
        t = self.t
        seen = False
        while i < limit and t.word[i] != "," and t.kind[i] != END:
            if t.kind[i] != WORD:
                return False
            entry = LEXICON.get(t.word[i])
            if entry is None or entry.modifier != "kind":
                return False
            seen = True
            i += 1
        return seen

    def _note(self, i: int, limit: int) -> int:
        """Words kept as a note up to the next comma; states, flags and figures are read."""
        t = self.t
        word, kind = t.word, t.kind
        first = i
        while i < limit:
            k, w = kind[i], word[i]
            if k == MARK:
                if w == "," or w == ";":
                    break
                if w in _CLOSE:
                    self._keep_note(first, i)
                    i = min(self._parenthesis(i), limit)
                    first = i
                    continue
                i += 1
                continue
            if k == NUMBER:
                j = self._percent(i)
                i = j if j is not None else i + 1
                continue
            if k == FRACTION:
                i += 1
                continue
            entry = LEXICON.get(w)
            if entry is None:
                i += 1
                continue
            if entry.effects:
                found = match_effect(t, i)
                if found is not None:
                    effect, j = found
                    if effect.kind == "state":
                        if not self._undone(i) and not self._contrary(effect.value):
                            self.states.add(effect.value)
                        i = j
                        continue
                    if effect.kind == "flag":
                        self.flags.add(effect.value)
                        if word[j] in ("extra", "more") or effect.value == "plus_extra":
                            self.flags.add("plus_extra")
                        i = j
                        continue
                    if effect.kind == "open" and i > first and word[i - 1] == "plus":
                        self.flags.add("plus_extra")
            if entry.role == "part":
                i = self._note_part(i, limit, first)
                continue
            if w == "plus" and i > first:
                j2 = self._plus(i, limit)
                if j2 is not None:
                    self._keep_note(first, i)
                    return j2
            if entry.sizes and self.measures:
                size, j = read_size(t, i)
                if size and i == first and (j >= limit or kind[j] == MARK):
                    self._size(size)
                    i = j
                    continue
            i += 1
        self._keep_note(first, i)
        return i

    def _contrary(self, state: str) -> bool:
        """What the food phrase says of raw or cooked holds: "dried beans, soaked and cooked"."""
        return bool(
            (state in _COOKED and self.states & _RAW) or (state in _RAW and self.states & _COOKED)
        )

    def _undone(self, i: int) -> bool:
        """ "not toasted", "to be cooked": the state is not so yet."""
        return i > 0 and self.t.word[i - 1] in ("not", "be", "or", "un", "half", "until", "if")

    def _note_part(self, i: int, limit: int, first: int) -> int:
        """ "juiced", "zested and juiced", "whites only" after the name."""
        word = self.t.word
        segment = word[first:limit]
        w = word[i]
        if w in ("juiced", "juice", "zested", "zest"):
            if "half" in segment or (i > first and word[i - 1] in ("in", "with", "own", "or")):
                return i + 1
            if (
                w in ("zested", "zest")
                and any(
                    (e := LEXICON.get(x)) is not None and e.prep == "cut" and e.role != "part"
                    for x in segment
                )
                and "grated" not in segment
            ):
                return i + 1
            if self.part != "juice":
                self._set_part([w, *([self.part] if self.part else [])])
            elif w in ("zested", "zest"):
                self.flags.add("zest_too")
            return i + 1
        if (
            w in ("whites", "yolks", "white", "yolk")
            and (word[i + 1] == "only" or (i == first and i + 1 >= limit))
            and any(n.startswith("egg") for n in self.name)
        ):
            self.part = "white" if w.startswith("white") else "yolk"
            self.name = ["egg", self.part]
        elif w in ("seeds", "flesh") and word[i + 1] == "only":
            self.part = w
        return i + 1

    def _keep_note(self, first: int, i: int) -> None:
        if i > first:
            said = self.t.text[self.t.start[first] : self.t.end[i - 1]].strip(" ,;-.")
            if said:
                self.notes.append(" ".join(said.split()))

    # --- putting it together ---------------------------------------------------------------

    def _result(self) -> ParsedLine:
        if self.percents:
            self._settle_percents(self.t.text)
        finished = finish_name(
            self.name, self.kind_words, self.alternatives, self.measures, self.notes,
            each="each" in self.flags,
        )  # fmt: skip
        name = finished.name
        self.measures = finished.measures
        if any(m.unit == "tin" for m in self.measures):
            self.states.add("canned")
        if name.endswith((" white", " whites")) and "egg" in name and not self.part:
            self.part = "white"
        elif name.endswith((" yolk", " yolks")) and not self.part:
            self.part = "yolk"
        elif self.part in ("white", "yolk") and name in ("egg", "eggs"):
            name = f"egg {self.part}"
        if not name and not self.measures and not self.alternatives and not self.states:
            kind = "blank" if not any(c.isalnum() for c in self.text) else "food"
        else:
            kind = "food"
        if _names_no_food(name):
            kind = "not_food"
        if kind == "food" and not name:
            self.problems.append("name-missing")
        return ParsedLine(
            text=self.text,
            kind=kind,  # type: ignore[arg-type]
            measures=tuple(self.measures),
            plus=tuple(self.plus),
            name=name,
            alternatives=finished.alternatives,
            states=frozenset(self.states),
            notes=", ".join(self.notes),
            fat_pct=self.fat,
            lean_pct=self.lean,
            cocoa_pct=self.cocoa,
            part=self.part,
            flags=frozenset(self.flags),
            problems=tuple(dict.fromkeys(self.problems)),
            each_of=finished.each_of,
        )


def _all_modifiers(words: list[str]) -> bool:
    return all((e := LEXICON.get(w)) is not None and bool(e.modifier) for w in words)


def _names_no_food(name: str) -> bool:
    """The whole name or its last words stand in ``not_food.csv``."""
    if not name:
        return False
    words = name.split()
    last = words[-1]
    folded = last[:-1] if last.endswith("s") and not last.endswith("ss") else last
    alone = NOT_FOOD.get(folded) if len(words) == 1 else None
    if alone is not None:
        return True
    tail = folded
    for n in range(1, min(4, len(words)) + 1):
        if n > 1:
            tail = f"{words[-n]} {tail}"
        only_alone = NOT_FOOD.get(tail)
        if only_alone is False or (only_alone and n == len(words)):
            return True
    return False
