"""What has been read of a line so far, and the steps that all parts of the grammar share."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from pipeline.lines.clean import Clean
from pipeline.lines.measures import read_measure
from pipeline.lines.model import Measure, ParsedLine
from pipeline.lines.parts import COOKED, RAW
from pipeline.lines.percents import CALORIES, Percent, read_percent
from pipeline.lines.readings import Reading, attach
from pipeline.lines.tokens import END, NUMBER, WORD, Tokens
from pipeline.lines.vocabulary import LEXICON, NO_WORD, PART_OF, group

#: Words after the number of a time, and of the heat of an oven.
_TIMES, _HEATS = group("time"), group("heat")
_AT_ENDS = " ,;:-*•|/=~+"
#: What the removal of words leaves: empty parentheses, commas without a part between.
_EMPTIED = re.compile(
    r"\s*\(\s*[,;]?\s*\)|\s*[,;](?=\s*(?:[,;)]|$))|(?<=\()\s*[,;]?\s+|\s+(?=[,;)])"
)


@dataclass(slots=True)
class Draft:
    """The parts of one line as they are found; used for one line and dropped.

    Attributes:
        t: the tokens; ``clean`` the text they are cut from, ``text`` the line as written.
        parse: reads another text as a line, for lines that hold several foods.
        tail: reads the part at a token up to a limit, the token after it; parts hold others.
        into: where name words go: ``name``, or the alternative that is being gathered.
        lead: adjectives that stood between number and unit.
        cuts: spans of tokens left out of ``rest``.
        others: further foods: the token that ends the food before, the first and the last token.
        made_of: the foods that the line's one thing is made of.
        depth: how many parentheses are open.
        The others become the fields of ``ParsedLine`` that have their names.
    """

    text: str
    clean: Clean
    t: Tokens
    parse: Callable[[str], ParsedLine]
    tail: Callable[[Draft, int, int], int]
    problems: list[str]
    name: list[str]
    into: list[str]
    measures: list[Measure] = field(default_factory=list)
    plus: list[Measure] = field(default_factory=list)
    kind_parts: list[list[str]] = field(default_factory=list)
    cuts: list[tuple[int, int]] = field(default_factory=list)
    others: list[tuple[int, int, int]] = field(default_factory=list)
    made_of: tuple[str, ...] = ()
    lead: list[str] = field(default_factory=list)
    alternatives: list[list[str]] = field(default_factory=list)
    states: set[str] = field(default_factory=set)
    notes: list[str] = field(default_factory=list)
    flags: set[str] = field(default_factory=set)
    percents: list[Percent] = field(default_factory=list)
    part: str = ""
    used: float = 1.0
    depth: int = 0

    @classmethod
    def of(
        cls, text: str, line: Clean, parse: Callable[[str], ParsedLine],
        tail: Callable[[Draft, int, int], int],
    ) -> Draft:  # fmt: skip
        """A line of which nothing has been read."""
        t = Tokens(line.lower, line.text)
        name: list[str] = []
        return cls(text, line, t, parse, tail, list(line.problems), name, name)

    # --- amounts ---------------------------------------------------------------------------

    def take(self, reading: Reading) -> None:
        """Make ``reading`` the amount of the line."""
        self.measures = [self.placed(m) for m in reading.measures]
        self.plus += [self.placed(m) for m in reading.plus]
        self.flags.update(reading.flags)
        self.problems += [p for p in reading.problems if p not in self.problems]
        if any(m.amount <= 0 for m in self.measures):
            self.problems.append("amount-zero")

    def take_plain(self, measure: Measure) -> None:
        """Make ``measure`` the amount of the line."""
        self.measures = [measure if self.clean.origin is None else self.placed(measure)]
        if measure.amount <= 0:
            self.problems.append("amount-zero")

    def add(self, reading: Reading) -> None:
        """An amount after the name: the line's amount, or the same said again."""
        if self.measures:
            self.attach(reading.measures, total=True)
            self.plus += [self.placed(m) for m in reading.plus]
        else:
            self.take(reading)

    def attach(self, measures: list[Measure], *, each: bool = False, total: bool = False) -> None:
        """Put amounts said aside to those of the line, see ``readings.attach``."""
        attach(self.measures, [self.placed(m) for m in measures], each, total)

    def placed(self, measure: Measure) -> Measure:
        """``measure`` with its place in the line as written."""
        if self.clean.origin is None:
            return measure
        m = measure
        return Measure(
            m.amount, m.unit, m.kind, m.low, m.high, m.size,
            self.placed(m.each) if m.each else None, m.about, self.clean.span(*m.of_text),
        )  # fmt: skip

    def give_size(self, size: str) -> None:
        """Give the first measure a size that stood apart from it."""
        if not self.measures[0].size:
            self.measures[0] = replace(self.measures[0], size=size)

    def late_measure(self, i: int) -> Reading | None:
        """An amount after the name at token ``i``: "rice 60 g", "eggs x 2"."""
        reading = read_measure(self.t, i)
        if reading is None or self.no_amount(reading):
            return None
        t = self.t
        first = reading.measures[0]
        if self.measures:
            again = first.kind in ("mass", "volume") and t.kind[i] != WORD
            return reading if again else None
        if first.unit == "piece" and first.each is None:
            if t.kind[i] == WORD:
                return None
            j = reading.next
            j += t.word[j] == "each"  # "eggs 10 each"
            ends = t.kind[j] == END or t.word[j] in (",", "(", ";", ")", "-", "or")
            return reading if ends or LEXICON.get(t.word[j], NO_WORD).prep else None
        return None if reading.implied else reading

    def no_amount(self, reading: Reading) -> bool:
        """ "25 min", "200 fan": whether a reading is a time or a heat, none of the food."""
        behind = self.t.word[reading.next]
        return behind in _TIMES or behind in _HEATS

    def glued_word(self, i: int) -> bool:
        """ "5-spice", "7-grain", "1 cal spray": a number that belongs to a word."""
        t = self.t
        if t.kind[i] != NUMBER:
            return False
        if t.word[i + 1] in CALORIES:
            return True
        if not (
            t.word[i + 1] == "-"
            and t.kind[i + 2] == WORD
            and t.end[i] == t.start[i + 1]
            and t.end[i + 1] == t.start[i + 2]
        ):
            return False
        entry = LEXICON.get(t.word[i + 2], NO_WORD)
        return not (entry.units or entry.number_class or entry.sizes)

    def tails(self, i: int, end: int) -> None:
        """Read the parts from token ``i`` up to ``end``."""
        while i < end:
            i = max(i + 1, self.tail(self, i, end))

    # --- what is left ----------------------------------------------------------------------

    def cut(self, i: int, j: int) -> None:
        """Leave tokens ``i`` up to ``j`` out of ``rest``."""
        if j > i:
            self.cuts.append((i, j))

    def cut_amount(self, i: int, j: int) -> None:
        """Leave an amount after the name out of ``rest``.

        Behind an amount in mass or volume it stays: there it may belong to a description
        ("pizza, cheese topping, 8 ounce").
        """
        if not self.measures or self.measures[0].kind not in ("mass", "volume"):
            self.cut(i, j)

    def rest(self) -> str:
        """The words that may describe the food, as ``ParsedLine.rest`` says."""
        t, cuts = self.t, self.cuts
        if not cuts or (len(cuts) == 1 and cuts[0][0] == 0):
            kept = t.text[t.start[cuts[0][1]] if cuts else 0 :]
        else:
            pieces: list[str] = []
            begin = 0
            for i, j in sorted(cuts):
                if i > begin:
                    pieces.append(t.between(begin, i))
                begin = max(begin, j)
            pieces.append(t.between(begin, t.count))
            kept = _EMPTIED.sub("", " ".join(pieces))
        if self.lead:
            kept = f"{' '.join(self.lead)} {kept}"
        kept = kept.strip(_AT_ENDS)
        return kept if "  " not in kept else " ".join(kept.split())

    def written(self, i: int, j: int) -> str:
        """Tokens ``i`` to ``j`` as they are written."""
        if j <= i:
            return ""
        begin, end = self.t.start[i], self.t.end[j - 1]
        begin, end = self.clean.span(begin, end)
        return self.text[begin:end].strip()

    # --- words -----------------------------------------------------------------------------

    def aside(self, i: int) -> bool:
        """Whether the words after "or" name no other food: "or to taste", "or more"."""
        return self.t.phrase(i, "aside") is not None

    def percent(self, i: int) -> int | None:
        """Take the percentage at token ``i``; the token after it, None when there is none."""
        found = read_percent(self.t, i)
        if found is None:
            return None
        self.percents.append(found)
        if found.note:
            self.notes.append(found.note)
        if found.state:
            self.states.add(found.state)
        return found.next

    def contrary(self, state: str) -> bool:
        """What the food phrase says of raw or cooked holds: "dried beans, soaked and cooked"."""
        return bool(
            (state in COOKED and self.states & RAW) or (state in RAW and self.states & COOKED)
        )

    def weighed_as(self, state: str) -> None:
        """The state in which the food was weighed, in place of what is done to it."""
        self.states -= COOKED if state in RAW else RAW if state in COOKED else set()
        self.states.add(state)

    def set_part(self, parts: list[str]) -> None:
        """Juice carries the weight when juice and zest are both meant."""
        named = [PART_OF.get(p, p) for p in parts]
        if "juice" in named:
            self.part = "juice"
            if "zest" in named:
                self.flags.add("zest_too")
        elif not self.part:
            self.part = named[0]

    def keep_note(self, first: int, i: int) -> None:
        """Keep the words of tokens ``first`` to ``i`` as a note."""
        if i > first and (said := self.t.between(first, i).strip(" ,;-.*")):
            self.notes.append(said if "  " not in said else " ".join(said.split()))
