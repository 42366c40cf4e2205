"""What is said beside a name: parentheses, and the parts after a comma or a dash."""

from __future__ import annotations

from pipeline.foods.words import singular
from pipeline.lines.measures import Reading, match_effect, read_size
from pipeline.lines.parts import (
    COOKED,
    is_adverb,
    is_participle,
    kind_state,
    named_later,
    names_food,
    part_end,
)
from pipeline.lines.percents import percent_at
from pipeline.lines.state import LineState
from pipeline.lines.tokens import END, FRACTION, MARK, NUMBER, WORD
from pipeline.lines.vocabulary import (
    CLOSING_WORDS,
    FUNCTION_WORDS,
    LEXICON,
    SHARED_HEADS,
    Word,
)

#: Work whose water is poured away: none of it is in the dish.
_POURED_OFF = frozenset(
    {"boiled", "parboiled", "blanched", "poached", "soaked", "rinsed", "washed"}
)
_JOINED = frozenset({"+", "&", "and", "plus", ","})
_JOINS = frozenset({"or", "and", "plus"})
#: Foods that stand on lines without an amount as a rule.
SEASONINGS = frozenset({"salt", "pepper", "seasoning", "spices", "herbs"})
CLOSE = {"(": ")", "[": "]", "{": "}"}
#: Words after a weight that say it is what is eaten: "(200 g flesh)".
_NET = frozenset({"flesh", "prepared", "edible", "net", "trimmed", "usable", "meat", "kernels"})
#: States that leave something off the food as bought.
_NET_STATES = frozenset({"drained", "peeled", "cooked", "boiled", "roasted", "grilled", "pitted",
                         "shelled", "boneless", "skinless", "trimmed", "cored", "raw", "dry",
                         "squeezed_dry", "thawed"})  # fmt: skip
#: Small words inside "(240 g when drained)".
_LINKS = frozenset({"when", "once", "after", "in", "with", "before", "cleaned", "approx", "+",
                    "per", "person", "packed", "off"})  # fmt: skip
_RESULTS = frozenset({"makes", "make", "yields", "yield", "gives", "becomes", "producing"})
#: Words that add nothing to an amount after "plus".
_EXTRA = frozenset({"extra", "more", "additional", "further"})


class TailReader(LineState):
    """Reads parentheses and comma parts."""

    __slots__ = ()

    # --- parentheses -----------------------------------------------------------------------

    def parenthesis(self, i: int) -> int:
        """Read "( ... )" and return the token after it; unclosed ones end with the line."""
        if self.depth > 1:
            return i + 1
        self.depth += 1
        after = self._inside(i)
        self.depth -= 1
        return after

    def _inside(self, i: int) -> int:
        t, word = self.t, self.t.word
        end = self._close(i)
        after = min(end + 1, t.size)
        j = i + 1
        if j >= end:
            return after
        if word[j] == "or" and not self.aside(j + 1):
            self.alternatives_until(j + 1, end)
            return after
        example = match_effect(t, j, "example")
        if example and self.name and not percent_at(t, example[1]):
            self._examples(example[1], end)
            return after
        if self._measure_of_state(j, end):
            return after
        if self._made_of(j, end):
            return after
        reading = self.reader.read(j)
        if (
            reading is not None and not reading.implied
            and reading.measures[0].unit != "piece" and reading.next <= end
        ):  # fmt: skip
            stop = reading.next if word[reading.next] in CLOSE else end  # "(30 g (whey or casein))"
            self._measure_aside(j, reading, reading.next, stop)
            while stop < end:
                stop = max(stop + 1, self.tail(stop, end))
            return after
        if self.name and self._foods_only(j, end):
            begun = len(self.alternatives)
            self.alternatives_until(j, end)
            self._kinds_of_name(begun)
            return after
        size, k = read_size(t, j)
        if size and k == end and self.measures:
            self.size(size)
            return after
        if not self.measures and t.kind[j] == NUMBER and j + 1 == end:
            late = self.reader.read(j, leading=True)  # "Eggs (2)"
            if late is not None:
                self.take(late)
                self.cut(j, end)
                return after
        while j < end:
            j = max(j + 1, self.tail(j, end))
        return after

    def _made_of(self, j: int, end: int) -> bool:
        """ "1 flax egg (1 tbsp ground flax + 3 tbsp water)": what the one thing is made of."""
        t = self.t
        if (
            t.kind[j] not in (NUMBER, FRACTION)
            or self.depth > 1
            or not self.name
            or not (_JOINED.intersection(t.word[j:end]))
        ):
            return False
        if self.measures and (self.measures[0].kind != "count" or self.measures[0].amount != 1):
            return False
        begin, stop = self.clean.span(t.start[j], t.end[end - 1])
        parts = self.split(self.text[begin:stop])
        if not parts:
            return False
        self.made_of = parts
        self.keep_note(j, end)
        return True

    def split(self, text: str) -> tuple[str, ...]:
        """The foods of a text, each with an amount; () when they are not all read."""
        raise NotImplementedError

    def _kinds_of_name(self, begun: int) -> None:
        """ "oil (olive or vegetable)": the first kind goes to the name, the others complete it."""
        kinds = self.alternatives[begun:]
        if not kinds or not all(_all_modifiers(words) for words in kinds):
            if self.depth:
                self._narrow(begun)
            return
        self.kind_parts.append(kinds[0])
        del self.alternatives[begun]
        for words in kinds[1:]:
            words += self.name

    def _examples(self, i: int, stop: int) -> None:
        """ "milk, such as oat or soy": foods that may stand for the name, from token ``i`` on."""
        begun = len(self.alternatives)
        self.alternatives_until(i, stop)
        self._narrow(begun)

    def _narrow(self, begun: int) -> None:
        """Words beside a food narrow it: "beans (black or pinto)" are black beans, pinto beans.

        What names a food by itself stays alone: "cheese (cheddar or feta)".
        """
        if not self.name:
            return
        head = next((w for w in reversed(self.name) if not _is_piece(w)), self.name[-1])
        alone = SHARED_HEADS.get(head)
        for words in self.alternatives[begun:]:
            if not words or singular(words[-1]) == singular(head):
                continue
            shares = alone is not None and words[-1] not in alone and words[-1] not in SHARED_HEADS
            if (shares and words[-1] not in SHARED_HEADS["*"]) or _all_modifiers(words):
                words.append(head)

    def _close(self, i: int) -> int:
        word, kind = self.t.word, self.t.kind
        opening, closing = word[i], CLOSE[word[i]]
        depth = 0
        while kind[i] != END:
            if word[i] == opening:
                depth += 1
            elif word[i] == closing:
                depth -= 1
                if depth == 0:
                    break
            i += 1
        return i

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
        if said or "net" in t.word[j:k]:
            self.flags.add("net_weight")
        self._measure_aside(j, reading, reading.next, end)
        return True

    def _measure_aside(self, begin: int, reading: Reading, j: int, end: int) -> None:
        """An amount in parentheses, tokens ``begin`` to ``end``, read up to ``j``."""
        t, word = self.t, self.t.word
        measures = list(reading.measures)
        each = total = False
        states: set[str] = set()
        rest: list[str] = []
        while j < end:
            w = word[j]
            if w in ("each", "apiece", "ea"):
                each = True
                j += 1
                continue
            if w == "per":
                each = True
            if w == "total" or (w == "in" and word[j + 1] in ("all", "total")):
                total = True
                j += 1
                continue
            if w in ("/", ",", ";", "or", "=") and t.kind[j + 1] in (NUMBER, FRACTION):
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
            if w != "weight":
                rest.append(w)
            j += 1
        if any(LEXICON.get(w) is None and w not in _NET and w not in _LINKS for w in rest):
            words = " ".join(rest).split()
            if any(LEXICON.get(w) is None and w not in _NET and w not in _LINKS for w in words):
                comma = next((k for k in range(reading.next, end) if word[k] in (",", ";")), 0)
                if comma:  # "(about 6 oz each, preferably skinned)": the weight, then a remark
                    self._measure_aside(begin, reading, reading.next, comma)
                    while comma < end:
                        comma = max(comma + 1, self.tail(comma, end))
                    return
                self.keep_note(begin, end)  # "(1 tbsp ground flax + 3 tbsp water)"
                return
        contrary = any(self.contrary(state) for state in states)
        same_kind = any(m.kind == n.kind for m in self.measures for n in measures)
        weighed = any(m.kind == "mass" for m in self.measures)
        length = measures[0].kind == "length"
        if self.measures and (length or contrary or (states and (weighed or same_kind))):
            self.keep_note(begin, end)
            return
        if rest:
            self.notes.append(" ".join(rest))
        self.cut_amount(begin, reading.next if rest else end)
        self.states |= states
        if states & _NET_STATES or any(w in _NET for w in rest):
            self.flags.add("net_weight")
        placed = [self.placed(m) for m in measures]
        if self.measures:
            total = total or self.measures[0].amount > 1
            self.reader.attach(self.measures, placed, each, total)
        else:
            self.measures = placed
            self.problems += [p for p in reading.problems if p not in self.problems]

    def _foods_only(self, j: int, end: int) -> bool:
        """ "(cod or haddock)": words and one "or", nothing that prepares or measures."""
        t = self.t
        if "or" not in t.word[j:end]:
            return False
        for k in range(j, end):
            w = t.word[k]
            if t.kind[k] != WORD and w not in (",", "/"):
                return False
            entry = LEXICON.get(w)
            if entry is None or w in ("or", "and") or entry.modifier:
                continue
            if entry.prep or entry.sizes or match_effect(t, k) is not None:
                return False
        return True

    # --- after the name --------------------------------------------------------------------

    def tail(self, i: int, limit: int) -> int:
        """One comma part from token ``i``: alternative, added amount, amount, kind, or note."""
        t = self.t
        word, kind = t.word, t.kind
        i = self.past_marks(i, limit)
        if i >= limit:
            return limit
        w = word[i]
        entry = LEXICON.get(w)
        if entry is not None or kind[i] != WORD or w in ("with", "&"):
            if w == "or" and kind[i + 1] != END and not self.aside(i + 1):
                stop = self._part_end(i + 1, limit)
                self.alternatives_until(i + 1, stop)
                return stop
            if entry is not None and entry.remark and self.name:
                example = match_effect(t, i, "example")
                if example is not None and not percent_at(t, example[1]):
                    stop = limit if "or" in word[i:limit] else self._part_end(i, limit)
                    self._examples(example[1], stop)
                    return stop
            if w in ("plus", "+", "and", "&", "with"):
                past = self._plus(i, limit)
                if past is not None:
                    return past
            past = self._tail_measure(i, limit)
            if past is not None:
                return past
        if self.name and (
            names_food(t, i, limit)
            if word[i - 1] == "," and not self.depth and self.measures
            else self._kind_segment(i, limit)
        ):
            return self._name_part(i, part_end(t, i, limit))
        return self._note(i, limit)

    def _name_part(self, i: int, stop: int) -> int:
        """A comma part that goes on with the name: "yogurt, greek", "sugar, granulated"."""
        t = self.t
        if t.word[i] in ("white", "yolk", "whites", "yolks") and self.name in (["egg"], ["eggs"]):
            self.part = t.word[i].rstrip("s")  # "egg, white, raw"
            self.name[:] = ["egg", self.part]
            i += 1
            if i == stop:
                return stop
        self.kind_parts.append([w for w, k in zip(t.word[i:stop], t.kind[i:stop], strict=True)
                                if k == WORD])  # fmt: skip
        first = i
        while i < stop:
            found = match_effect(t, i, "state")
            if found is None:
                i += 1
                continue
            effect, i = found
            if effect.noun and effect.value in COOKED and i == stop > first + 1:
                continue  # "chuck, arm roast" is a cut, no cooking
            # "tuna, light" is light tuna: what may not follow the word stands before the comma
            if effect.not_before.isdisjoint(self.name) and not self.contrary(effect.value):
                self.states.add(effect.value)
        return stop

    def _part_end(self, i: int, limit: int) -> int:
        """Where the comma part around token ``i`` ends."""
        word = self.t.word
        while i < limit and word[i] not in (",", ";", "(", ")"):
            i += 1
        return i

    def past_marks(self, i: int, limit: int) -> int:
        """The first token from ``i`` on that is no separating mark."""
        t = self.t
        while i < limit and t.kind[i] == MARK and t.word[i] in ",;-:|./*•)":
            i += 1
        return i

    def _plus(self, i: int, limit: int) -> int | None:
        """ "plus 1 tbsp for sprinkling"; open ones are a flag and handled as a phrase."""
        t = self.t
        if match_effect(t, i, "flag") is not None:
            return None
        reading = self.reader.read(i + 1, leading=True)
        if reading is None or reading.next > limit:
            return None
        first = reading.measures[0]
        k = reading.next
        if reading.written == "article" and first.unit == "piece" and t.word[k] in LEXICON:
            return None
        while t.word[k] in _EXTRA:
            k += 1
        named = t.kind[k] == WORD and k < limit and match_effect(t, k, "stopflag") is None
        if named and not self._same_food(k, limit):
            return self._second_food(i, i + 1, limit)
        if reading.written == "article" and first.unit == "piece":
            return None
        if first.unit == "piece" and not (self.measures and self.measures[0].kind == "count"):
            return None
        self.plus += [self.placed(m) for m in reading.measures[:1]]
        self.cut_amount(i, k)
        return self._note(k, limit) if k < limit else k

    def _same_food(self, k: int, limit: int) -> bool:
        """Whether the words from ``k`` name the line's own food again."""
        t = self.t
        own = {singular(w) for w in self.name}
        seen = False
        while k < limit and t.kind[k] == WORD and match_effect(t, k, "stopflag") is None:
            if singular(t.word[k]) not in own:
                return False
            seen = True
            k += 1
        return seen

    def _second_food(self, i: int, begin: int, limit: int) -> int:
        """Another food with its own amount from token ``begin`` on; the first one ends at ``i``.

        Outside parentheses all that follows belongs to it, and may hold further foods.
        """
        stop = self._part_end(begin, limit) if self.depth else limit
        if self.t.word[begin - 1] in ("with", "in"):  # "lentils cooked in 500 ml water"
            while i > 1 and _is_work(self.t.word[i - 1]):
                i -= 1
        self.others.append((i, begin, stop))
        self.keep_note(i, stop)
        return stop

    def _names_another(self, k: int, limit: int, *, counted: bool = False) -> bool:
        """Whether the word at ``k``, behind an amount, begins the name of another food.

        Words of a kind ("milk", "rye") name one behind a weight or volume only: behind a number
        they tell kinds apart ("3 loaves, 1 rye").
        """
        t = self.t
        if t.kind[k] != WORD or k >= limit or t.word[k] in FUNCTION_WORDS:
            return False
        stop = k
        new = False
        while stop < limit and t.kind[stop] == WORD:
            word = t.word[stop]
            entry = LEXICON.get(word)
            if entry is not None and (entry.role in _JOINS or entry.number is not None):
                break
            if word in CLOSING_WORDS or match_effect(t, stop, "stopflag") is not None:
                break
            if word in FUNCTION_WORDS:
                return False  # "1 cut into wedges", "20 g kept back"
            kind = (
                not counted and entry is not None and entry.modifier in ("kind", "flavour")
                and not (stop > k and is_participle(t.word[stop - 1]))  # "20 g kept back"
            )  # fmt: skip
            new = new or kind or (_is_noun(entry) and not (is_participle(word) or is_adverb(word)))
            stop += 1
        return new and not self._same_food(k, limit)

    def _mixed_in(self, i: int, first: int, limit: int) -> int:
        """ "mixed with 2 tbsp water", "fried in 1 tbsp oil": the token after it, 0 when it is none.

        Args:
            i: the "with" or "in".
            first: where the note begins that holds it.
            limit: token at which line or parenthesis ends.
        """
        t = self.t
        reading = self.reader.read(i + 1, leading=True)
        if reading is None or reading.next >= limit:
            return 0
        unit = reading.measures[0]
        if unit.kind not in ("mass", "volume", "trade") or not self._names_another(
            reading.next, limit
        ):
            return 0
        work = t.word[first:i]
        if work and not any(map(_is_work, work)):
            return 0  # "start with 1 tsp pepper"
        if "water" in t.word[reading.next : limit] and not _POURED_OFF.isdisjoint(work):
            return 0
        cut = first if self.depth else i
        while cut > first and (_is_work(t.word[cut - 1]) or t.word[cut - 1] in ("and", "together")):
            cut -= 1
        return self._second_food(cut, i + 1, limit)

    def _list_before(self, i: int) -> bool:
        """Whether all before token ``i`` are foods without an amount: "salt, pepper, 1 tbsp oil".

        One food alone before an amount may be told apart from its kind ("beef, 500 g mince"); a
        seasoning may not.
        """
        t = self.t
        foods, past = 1, 0
        for k in range(i):
            flag = match_effect(t, k, "flag")
            past = max(past, flag[1] if flag is not None else 0)
            if k < past:  # "salt to taste, 1 tbsp oil"
                continue
            word = t.word[k]
            if t.kind[k] != WORD:
                if word not in ",;&+":
                    return False
                foods += k + 1 < i
                continue
            if word == "and":
                foods += 1
                continue
            entry = LEXICON.get(word)
            found = match_effect(t, k, "statestop")
            if (entry is not None and (entry.prep or entry.number is not None)) or (
                is_participle(word) or (found is not None and not found[0].noun)
            ):
                return False
        return foods > 1 or not SEASONINGS.isdisjoint(self.name)

    def _tail_measure(self, i: int, limit: int) -> int | None:
        """An amount at the start of a comma part: "butter, 50g", "1 duck, around 2 kg"."""
        t = self.t
        if t.kind[i] == WORD:
            entry = LEXICON.get(t.word[i])
            if entry is None or not (
                entry.number is not None or entry.hedge or entry.units or entry.sizes
                or entry.role in ("x", "between")
            ):  # fmt: skip
                return None
        elif t.kind[i] == MARK and t.word[i] not in ("~", "×"):
            return None
        if t.word[i] in ("×", "x") and t.kind[i + 1] == NUMBER:
            i += 1
        if percent_at(t, i) or self.glued_word(i):
            return None
        reading = self.reader.read(i, leading=not self.measures)
        if reading is None or reading.next > limit:
            return None
        first = reading.measures[0]
        j = reading.next
        if not self.measures:
            if first.unit == "piece" and first.each is None and (
                reading.written in ("article", "fraction")
            ):  # fmt: skip
                return None  # "half sliced and half diced"
            if self.name and not self.depth and self._names_another(j, limit) and (
                self._list_before(i)
            ):  # fmt: skip
                return self._second_food(i, i, limit)
            self.take(reading)
            self.cut(i, j)
            return j
        if first.kind not in ("mass", "volume") or reading.implied:
            counted = first.kind in ("count", "trade", "package") and not reading.implied
            another = counted and not self.depth and self._names_another(j, limit, counted=True)
            return self._second_food(i, i, limit) if another else None
        if t.word[j] in ("each", "apiece", "ea"):
            self.reader.attach(self.measures, [self.placed(first)], True, False)
            self.cut_amount(i, j + 1)
            return j + 1
        if t.word[j] in ("total", "altogether"):
            self.reader.attach(self.measures, [self.placed(first)], False, True)
            self.cut_amount(i, j + 1)
            return j + 1
        found = match_effect(t, j) if t.kind[j] == WORD and j < limit else None
        if t.kind[j] == WORD and j < limit and found is None:
            return self._second_food(i, i, limit) if self._names_another(j, limit) else None
        if found is not None and found[0].kind == "state":
            if self.contrary(found[0].value) or self.measures[0].kind == "mass":
                return None
            if found[0].value in _NET_STATES:
                self.flags.add("net_weight")
        self.reader.attach(self.measures, [self.placed(m) for m in reading.measures], False, True)
        self.cut_amount(i, j)
        return j

    def _kind_segment(self, i: int, limit: int) -> bool:
        """A part of kind words only: "rice (brown)", and "rice, brown" without an amount.

        Without an amount commas often part foods ("salt, black pepper, oil").
        """
        t = self.t
        begin = i
        if self.depth and (t.word[i - 1] not in CLOSE or named_later(t, i, limit)):
            return False  # "sandwich (beef, pita bread)" lists what is in it
        while i < limit and t.word[i] != "," and t.kind[i] != END:
            entry = LEXICON.get(t.word[i])
            if entry is None or entry.modifier in ("", "quality"):
                past = 0 if self.depth else kind_state(t, i)
                if not past:
                    return False
                i = past
                continue
            i += 1
        return i > begin

    def _note(self, i: int, limit: int) -> int:
        """Words kept as a note up to the next comma; states, flags and figures are read."""
        t = self.t
        word, kind = t.word, t.kind
        first = i
        results = False
        flags_to = i if self.measures or self.name else -1
        while i < limit:
            k, w = kind[i], word[i]
            if k == MARK:
                if w == "," or w == ";":
                    break
                if w in CLOSE:
                    self.keep_note(first, i)
                    first = i = min(self.parenthesis(i), limit)
                    continue
                if w == "-" and i > first and t.end[i - 1] < t.start[i] < t.end[i] < t.start[i + 1]:
                    break
                if w in "+&":
                    if match_effect(t, i, "flag"):
                        self.flags.add("plus_extra")
                    elif kind[i + 1] in (NUMBER, FRACTION) and i > first and not self.depth:
                        past = self._plus(i, limit)  # "butter, melted + 2 tbsp butter"
                        if past is not None:
                            self.keep_note(first, i)
                            return past
                i += 1
                continue
            if k == NUMBER:
                i = self.percent(i) or i + 1
                continue
            if (w == "with" or w == "in") and not results:
                past = self._mixed_in(i, first, limit)
                if past:
                    self.keep_note(first, i)
                    return past
            entry = LEXICON.get(w)
            if entry is None:
                results = results or w in _RESULTS
                i += 1
                continue
            if entry.effects:
                found = match_effect(t, i)
                if found is not None:
                    effect, j = found
                    if effect.kind != "state" and t.word[j - 1] in ("with", "in") and not results:
                        past = self._mixed_in(j - 1, first, limit)
                        if past:
                            return past
                    if effect.kind == "state":
                        if not (results or self._undone(i) or self.contrary(effect.value)):
                            self.states.add(effect.value)
                        i = j
                        continue
                    if effect.kind == "flag":
                        self.flags.add(effect.value)
                        if flags_to == i:
                            flags_to = j
                        i = j
                        continue
            if entry.role == "extra" and word[i + 1] in ("for", "to"):
                self.flags.add("plus_extra")
            if entry.role == "part":
                self._note_part(i, limit, first)
                i += 1
                continue
            if w == "plus" and i > first:
                past = self._plus(i, limit)
                if past is not None:
                    self.keep_note(first, i)
                    return past
            if entry.sizes and self.measures and i == first:
                size, j = read_size(t, i)
                if size and (j >= limit or kind[j] == MARK):
                    self.size(size)
                    i = j
                    continue
            i += 1
        if flags_to == i > first:
            self.cut(first, i)
        self.keep_note(first, i)
        return i

    def _undone(self, i: int) -> bool:
        """ "not toasted", "to be cooked", "fresh or tinned": not the state it is in."""
        return i > 0 and self.t.word[i - 1] in ("not", "be", "or", "half", "until", "if")

    def _note_part(self, i: int, limit: int, first: int) -> None:
        """ "juiced", "zested and juiced", "whites only" after the name."""
        word = self.t.word
        stop = self._part_end(i, limit)
        segment = word[first:stop]
        w = word[i]
        if w in ("juiced", "juice", "zested", "zest"):
            begins = i == first or w.endswith("ed") or (
                word[i - 1] in ("and", "&", "finely", "grated", "the", "zest", "juice")
            )  # fmt: skip
            if "half" in segment or not begins or self.name[-1:] in (["juice"], ["zest"]):
                return
            if NUMBER in self.t.kind[first:stop]:
                if self.part == "zest" and w == "juice":  # "zest of 1 lemon, juice of 2"
                    self.others.append((first, i, stop))
                return  # "1 juiced and 1 cut into wedges"
            cut = any(
                (e := LEXICON.get(x)) is not None and e.prep == "cut" and e.role != "part"
                for x in segment
            )
            if w in ("zested", "zest") and cut and "grated" not in segment:
                return  # "zested and segmented": all of it is used
            if self.part == "juice":
                if w in ("zested", "zest"):
                    self.flags.add("zest_too")
            else:
                self.set_part([w, *([self.part] if self.part else [])])
        elif w in ("whites", "yolks", "white", "yolk"):
            only = word[i + 1] == "only" or (i == first and i + 1 >= limit)
            if only and any(n.startswith("egg") for n in self.name):
                self.part = "white" if w.startswith("white") else "yolk"
                self.name[:] = ["egg", self.part]
        elif w in ("seeds", "flesh") and word[i + 1] == "only":
            self.part = w


def _is_noun(entry: Word | None) -> bool:
    """Whether a word may name a food by itself: no size, state, kind or piece."""
    if entry is None or entry.role == "part":
        return True
    if entry.noun is not None:
        return entry.noun.keep
    return not (
        entry.role or entry.prep or entry.modifier or entry.sizes or entry.units
        or any(not rest for rest, _ in entry.effects)
    )  # fmt: skip


def _is_piece(word: str) -> bool:
    """ "cubes", "fillets": what the food is counted in."""
    entry = LEXICON.get(word)
    return entry is not None and entry.noun is not None and not entry.noun.keep


def _is_work(word: str) -> bool:
    """ "mixed", "well", "lightly": words of what is done with a food."""
    entry = LEXICON.get(word)
    return is_participle(word) or is_adverb(word) or (entry is not None and bool(entry.prep))


def _all_modifiers(words: list[str]) -> bool:
    return all((e := LEXICON.get(w)) is not None and bool(e.modifier) for w in words)
