"""What has been read of a line so far, and the steps that all parts of the grammar share."""

from __future__ import annotations

import re
from dataclasses import replace

from pipeline.lines.clean import Clean
from pipeline.lines.measures import MeasureReader, Reading, match_effect
from pipeline.lines.model import Measure, new_measure
from pipeline.lines.parts import COOKED, RAW
from pipeline.lines.percents import CALORIES, Percent, read_percent
from pipeline.lines.tokens import END, FRACTION, NUMBER, WORD, Tokens
from pipeline.lines.vocabulary import LEXICON

_PART = {
    "whites": "white", "yolks": "yolk", "peel": "zest", "rind": "zest", "juiced": "juice",
    "zested": "zest", "pulp": "flesh", "leaves": "", "kernels": "", "meat": "",
}  # fmt: skip


_AT_ENDS = " ,;:-*•|/=~+"
#: What the removal of words leaves: empty parentheses, commas without a part between.
_EMPTIED = re.compile(
    r"\s*\(\s*[,;]?\s*\)|\s*[,;](?=\s*(?:[,;)]|$))|(?<=\()\s*[,;]?\s+|\s+(?=[,;)])"
)


class LineState:
    """The parts of one line as they are found; used for one line and dropped."""

    __slots__ = (
        "alternatives", "clean", "cuts", "depth", "flags", "into", "kind_parts", "lead", "made_of", "measures",
        "name", "notes", "others", "part", "percents", "plus", "problems", "reader", "share", "states",
        "t", "text", "written",
    )  # fmt: skip

    def __init__(self, text: str, line: Clean) -> None:
        self.text = text
        self.clean = line
        self.t = Tokens(line.lower)
        self.reader = MeasureReader(self.t, line.text)
        self.measures: list[Measure] = []
        self.plus: list[Measure] = []
        self.name: list[str] = []
        self.into = self.name  # the name, or the alternative that is being gathered
        self.kind_parts: list[list[str]] = []
        self.cuts: list[tuple[int, int]] = []
        self.others: list[tuple[int, int, int]] = []  # further foods: cut, first and last token
        self.made_of: tuple[str, ...] = ()
        self.lead: list[str] = []
        self.alternatives: list[list[str]] = []
        self.states: set[str] = set()
        self.notes: list[str] = []
        self.flags: set[str] = set()
        self.problems: list[str] = list(line.problems)
        self.percents: list[Percent] = []
        self.part = ""
        self.share = False
        self.written = ""
        self.depth = 0

    # --- amounts ---------------------------------------------------------------------------

    def take(self, reading: Reading) -> None:
        """Make ``reading`` the amount of the line."""
        self.measures = [self.placed(m) for m in reading.measures]
        self.plus += [self.placed(m) for m in reading.plus]
        self.flags.update(reading.flags)
        self.problems += [p for p in reading.problems if p not in self.problems]
        self.share = reading.share
        self.written = reading.written
        if any(m.amount <= 0 for m in self.measures):
            self.problems.append("amount-zero")

    def take_plain(self, measure: Measure) -> None:
        """Make ``measure`` the amount of the line."""
        self.measures = [measure if self.clean.origin is None else self.placed(measure)]
        self.written = "numeral"
        if measure.amount <= 0:
            self.problems.append("amount-zero")

    def add(self, reading: Reading) -> None:
        """An amount after the name: the line's amount, or the same said again."""
        if not self.measures:
            self.take(reading)
            return
        self.reader.attach(self.measures, [self.placed(m) for m in reading.measures], False, True)
        self.plus += [self.placed(m) for m in reading.plus]

    def placed(self, measure: Measure) -> Measure:
        """``measure`` with its place in the line as written."""
        if self.clean.origin is None:
            return measure
        m = measure
        return new_measure(
            m.amount, m.unit, m.kind, m.low, m.high, m.size,
            self.placed(m.each) if m.each else None, m.about, self.clean.span(*m.of_text),
        )  # fmt: skip

    def size(self, size: str) -> None:
        """Give the first measure a size that stood apart from it."""
        if not self.measures[0].size:
            self.measures[0] = replace(self.measures[0], size=size)

    def late_measure(self, i: int) -> Reading | None:
        """An amount after the name at token ``i``: "rice 60 g", "eggs x 2"."""
        reading = self.reader.read(i)
        if reading is None:
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
            ends = t.kind[j] == END or t.word[j] in (",", "(", ";", ")", "-", "or")
            return reading if ends else None
        return None if reading.implied else reading

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
        entry = LEXICON.get(t.word[i + 2])
        return entry is None or not (entry.units or entry.number_class or entry.sizes)

    # --- what is left ----------------------------------------------------------------------

    def cut(self, i: int, j: int) -> None:
        """Leave tokens ``i`` up to ``j`` out of ``rest``."""
        if j > i:
            self.cuts.append((i, j))

    def cut_amount(self, i: int, j: int) -> None:
        """Leave an amount behind the name out of ``rest``.

        Behind an amount in mass or volume it stays: there it may belong to a description
        ("pizza, cheese topping, 8 ounce").
        """
        if not self.measures or self.measures[0].kind not in ("mass", "volume"):
            self.cut(i, j)

    def rest(self) -> str:
        """The words that may describe the food, as ``ParsedLine.rest`` says."""
        t = self.t
        start, end, text, size = t.start, t.end, t.text, t.size
        cuts = self.cuts
        if not cuts or (len(cuts) == 1 and cuts[0][0] == 0):
            begin = cuts[0][1] if cuts else 0
            kept = text[start[begin] :]
        else:
            pieces: list[str] = []
            begin = 0
            for i, j in sorted(cuts):
                if i > begin:
                    pieces.append(text[start[begin] : end[i - 1]])
                begin = max(begin, j)
            if begin < size:
                pieces.append(text[start[begin] :])
            kept = _EMPTIED.sub("", " ".join(pieces))
        if self.lead:
            kept = f"{' '.join(self.lead)} {kept}"
        kept = kept.strip(_AT_ENDS)
        return kept if "  " not in kept else " ".join(kept.split())

    # --- words -----------------------------------------------------------------------------

    def aside(self, i: int) -> bool:
        """Whether the words after "or" name no other food: "or to taste", "or more"."""
        return match_effect(self.t, i, "aside") is not None

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

    def set_part(self, parts: list[str]) -> None:
        """Juice carries the weight when juice and zest are both meant."""
        named = [_PART.get(p, p) for p in parts]
        if "juice" in named:
            self.part = "juice"
            if "zest" in named:
                self.flags.add("zest_too")
        elif not self.part:
            self.part = named[0]

    def keep_note(self, first: int, i: int) -> None:
        """Keep the words of tokens ``first`` to ``i`` as a note."""
        if i > first:
            said = self.t.text[self.t.start[first] : self.t.end[i - 1]].strip(" ,;-.*")
            if said:
                self.notes.append(said if "  " not in said else " ".join(said.split()))

    def alternatives_until(self, j: int, end: int) -> None:
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
                past = self.percent(j) if not self.percents else None
                if past is None:
                    reading = self.reader.read(j, leading=not current)
                    past = reading.next if reading is not None else j + 1
                    if reading is not None:
                        self.cut_amount(j, past)
                j = past
                continue
            if current and match_effect(t, j, "stopflag") is not None:
                self.notes.append(" ".join(word[j:end]))
                break
            if t.kind[j] == WORD:
                current.append(w)
            j += 1
