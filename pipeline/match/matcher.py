"""The match stage itself: each distinct line once, through memory, pantry and table."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import dropwhile

import numpy as np

from pipeline.foods.words import words
from pipeline.lines.model import ParsedLine
from pipeline.lines.parts import is_work
from pipeline.lines.vocabulary import FUNCTION_WORDS
from pipeline.match.features import FULLY, Features
from pipeline.match.index import Index
from pipeline.match.knowledge import Phrase
from pipeline.match.model import Candidate, Match
from pipeline.match.model_file import Model, load_model
from pipeline.match.near import near
from pipeline.match.open_kinds import open_kinds
from pipeline.match.query import Query, best_span, query_of
from pipeline.match.rank import AT_ONCE, Rankings, rank_all
from pipeline.match.states import sold_otherwise
from pipeline.match.tables import Choice, choose_all
from pipeline.memory.decisions import Decisions
from pipeline.memory.pantry import Pantry, PantryFood

RUNNERS_UP = 7
#: Confidence that the nearest food of the table will do for one it lacks: how often the labellers of
#: our own lines took it all the same (benchmarks/data), rounded.
STAND_IN = 0.3
#: Said of a line whose words nothing knows.
ANOTHER_LANGUAGE = "none of its words is in a words file or a table; is it another language?"
#: Confidence left to a guess at words that nothing knows: they may be any food at all.
UNKNOWN_WORDS = 0.1
#: And of a name beside which another food stands in brackets, its synonym or its substitute.
TWO_NAMES = 0.5
#: Of foods joined by "or" people count the first; so often they count another (common practice).
OR_SHARE = 0.25
#: A guess less sure than this is offered to the reader, never counted: it is wrong four times in five.
SHOW_FROM = 0.2

#: What stands between names of one food in a remark: "(lauki / doodhi)".
_BETWEEN_NAMES = re.compile(r"\s*/\s*|\bor\b|\b(?:also|aka|a\.k\.a\.|i\.e\.)\s")
MOST_WORDS_OF_A_REMARK = 4

_STATE_NO = Features._fields.index("state_no")
#: A food that the table lacks is meant where the line says all of its name, or this much of it, its
#: last word among it; less is another food whose name shares a word.
HALF_SAID = 0.5
_NAME_HEAD_SAID_AFTER = [
    Features._fields.index(name) for name in ("name_head", "name_said", "after_head")
]


@dataclass(slots=True)
class TableAnswer:
    """The table's answer to one query, kept to be used for every line that asks the same."""

    food: int
    description: str
    confidence: float
    accepted: bool
    reason: str
    runners_up: tuple[Candidate, ...]
    names_its_kind: bool = False  # a whole name stands at the end, after words nothing explains
    nearest: int = -1  # the food that stands in for a lacking one until a person chooses
    reference: int = -1  # the reference food of the same concept, where it is another
    open_kinds: tuple[Candidate, ...] = ()


class Matcher:
    """Chooses foods for parsed lines.

    Args:
        index: words and names of the snapshot in force (``pipeline.match.load_index``).
        pantry: the creator's label foods, tried before the table.
        decisions: a human's answers, obeyed before anything else.
        model: the confidence model; the fitted one by default.
    """

    def __init__(
        self,
        index: Index,
        *,
        pantry: Pantry | None = None,
        decisions: Decisions | None = None,
        model: Model | None = None,
    ) -> None:
        self.index = index
        self.pantry = pantry or Pantry()
        self.decisions = decisions or Decisions()
        self.model = model or load_model()
        self._seen: dict[Query, TableAnswer | None] = {}
        self._position = {food_id: at for at, food_id in enumerate(index.foods.ids)}
        self._pantry_names: dict[Phrase, PantryFood] = {}
        for food in self.pantry.foods:
            for name in (food.name, *food.aliases):
                phrase = self._plain(index.knowledge.canonical(words(name)))
                if phrase:
                    self._pantry_names[phrase] = food

    def with_memory(self, pantry: Pantry, decisions: Decisions | None = None) -> Matcher:
        """A matcher of another pantry and other decisions; what the table says is kept."""
        made = Matcher(self.index, pantry=pantry, decisions=decisions, model=self.model)
        made._seen = self._seen
        return made

    def words_of(self, name: str) -> frozenset[str]:
        """The words of a food name in the form in which names are compared."""
        return frozenset(self.index.knowledge.canonical(words(name)))

    def words_in(self, line: ParsedLine) -> frozenset[str]:
        """The words by which a line could name a food of the pantry."""
        return frozenset(self.query(line).phrase) | self.words_of(line.name)

    def match(self, lines: Sequence[ParsedLine]) -> list[Match]:
        """One ``Match`` a line, in order; equal names are answered once."""
        asked = [self._asked(line) for line in lines]
        self._look_up(asked)
        remarks = [
            self._remarks(line)
            if of and line.notes and (_in_doubt(of[0], self._seen[of[0]]) or _may_be_kind(line))
            else {}
            for line, of in zip(lines, asked, strict=True)
        ]
        self._look_up([list(of.values()) for of in remarks])
        return [self._match(*one) for one in zip(lines, asked, remarks, strict=True)]

    def match_one(self, line: ParsedLine) -> Match:
        """Choose the food of one line."""
        return self.match([line])[0]

    def _asked(self, line: ParsedLine) -> list[Query]:
        """What a line asks of the table, its alternatives last; nothing when it names no food."""
        if line.kind != "food" or not line.name:
            return []
        first = self.query(line, line.each_of[0] if line.each_of else None)
        return [first, *(self.query(line, name) for name in line.alternatives)]

    def _look_up(self, asked: Sequence[Sequence[Query]]) -> None:
        """Find what the table says of queries, all at once."""
        new = [q for q in dict.fromkeys(q for of in asked for q in of) if q not in self._seen]
        new.sort(key=lambda query: len(query.phrase) + len(query.rest))  # arrays of like lengths
        for start in range(0, len(new), AT_ONCE):
            self._find(new[start : start + AT_ONCE])

    def _match(
        self, line: ParsedLine, asked: Sequence[Query], remarks: Mapping[str, Query]
    ) -> Match:
        decided = self._by_decision(line)
        if decided is not None:
            return decided
        if line.kind != "food" or not line.name:
            why = {
                "heading": "a heading, no ingredient",
                "not_food": "names no food",
                "blank": "an empty line",
            }.get(line.kind, "no food name could be read")
            return Match(
                line.text, None, "", 0.0, "unmatched", "none", why,
                names_food=line.kind == "food" and not _is_remark(line),
            )  # fmt: skip
        query, *others = asked
        own = self._by_pantry(line, query)
        if own is not None:
            return self._pantry_match(line, query, own)
        if self._names_nothing(line, query):
            why = "its words name no food"
            said = bool(line.measures)  # "240 g drained" is of something
            return Match(line.text, None, "", 0.0, "unmatched", "none", why, names_food=said)
        found = self.find(query)
        named = found is not None and found.food >= 0 and self._names_behind_unread(query)
        for other in others:
            if named or (found is not None and found.food >= 0 and found.accepted):
                break
            also = self.find(other)
            if also is None or also.food < 0:
                continue
            if found is None or (found.food >= 0 and also.confidence > found.confidence + 0.25):
                found = also
            elif found.food < 0 and also.accepted:  # "brown sauce, e.g. Hilltop" names no other
                found = self._instead(found, also)
        if remarks and not named:
            found = self._by_remark(line, query, found, remarks)
        if found is not None and found.food >= 0 and found.accepted and line.alternatives:
            found = self._left_open(others, found)
        return self._table_match(line, query, found)

    def _names_nothing(self, line: ParsedLine, query: Query) -> bool:
        """ "240 g drained", "whatever": every word says a state or holds others together, and no food
        is called so."""
        phrase = query.phrase
        if phrase in self.index.names:
            return False
        if all(word in FUNCTION_WORDS for word in line.name.lower().split()):
            return True
        return len(query.said_states) == len(phrase)

    def _names_behind_unread(self, query: Query) -> bool:
        """ "Hilltop quinoa": behind words that nothing knows, a maker's say, stands a whole name."""
        known = tuple(dropwhile(set(query.unread).__contains__, query.phrase))
        return bool(query.unread) and known in self.index.names

    def _remarks(self, line: ParsedLine) -> dict[str, Query]:
        """What the remarks of a line ask of the table, by their words; whole remarks come first."""
        notes = line.notes.split(", ")
        within = sorted({said for note in notes for said in _BETWEEN_NAMES.split(note)})
        return {
            name: self.query(line, name) for name in dict.fromkeys([*notes, *within])
            if name and name.count(" ") < MOST_WORDS_OF_A_REMARK and not line.states & {name}
            and not _says_what_is_done(name)
        }  # fmt: skip

    def _by_remark(
        self, line: ParsedLine, query: Query, found: TableAnswer | None,
        remarks: Mapping[str, Query],
    ) -> TableAnswer | None:  # fmt: skip
        """``found``, or the food that one remark names: "2 cups sitaw (yardlong beans)".

        The remark has to be a sure name, and the only one, or the only one that is a whole remark:
        "skarroo (tripe), washed with lime". Where the name itself is known, its food
        has to be called by it too ("fish fillets (cod)"), or be like the one that is lacking.
        """
        sure = {name: also for name, asked in remarks.items()
                if not asked.corrected
                and (also := self.find(asked)) and also.food >= 0 and also.accepted}  # fmt: skip
        whole = {name: also for name, also in sure.items() if name in line.notes.split(", ")}
        named = whole or sure
        if len({also.food for also in named.values()}) != 1:
            return found
        name, also = min(named.items())
        also = replace(also, reason=f'"{name}" stands beside "{line.name}": {also.reason}')
        if found is None or query.corrected or query.unread or query.unknown:
            return also
        if found.food < 0:
            return self._instead(found, also)
        head = query.phrase[-1] if query.phrase else ""
        if head and any(w.endswith(head) for w in self.index.words_of(also.food)):
            return also
        named_so = set(remarks[name].phrase) <= set(query.phrase)  # "jam (apricot)": apricot jam
        if named_so or not _may_be_kind(line) or (
            near(also.food, found.food, self.index.foods.macros)
        ):  # fmt: skip
            return found
        other = f'"{name}" in brackets is another food'  # "1 turnip (swede)", "butter (margarine)"
        return replace(
            found, accepted=False, confidence=min(found.confidence, TWO_NAMES),
            reason=f"{found.reason}; {other}",
        )  # fmt: skip

    def _left_open(self, asked: Sequence[Query], found: TableAnswer) -> TableAnswer:
        """``found`` with the other foods of "corn or flour tortillas" left open, where they differ.

        The food named first is counted; how often people count another is ``OR_SHARE``.
        """
        others: dict[int, str] = {}
        for query in asked:
            other = self.find(query)
            if other is not None and other.food >= 0 and other.accepted and not near(
                other.food, found.food, self.index.foods.macros
            ):  # fmt: skip
                others[other.food] = other.description
        if not others:
            return found
        share = OR_SHARE / len(others)
        ids = self.index.foods.ids
        named = tuple(Candidate(ids[at], share, said) for at, said in others.items())
        kinds = tuple(
            replace(c, probability=round(c.probability * (1 - OR_SHARE), 4))
            for c in found.open_kinds if c.food_id not in {ids[at] for at in others}
        )  # fmt: skip
        return replace(found, open_kinds=(*named, *kinds))

    def forget(self) -> None:
        """Drop the answers kept for equal names; a long run calls it to stay small."""
        self._seen.clear()
        self.index.fits.clear()
        self.index.names_read.clear()
        self.index.plain_words.clear()
        self.index.written_out.clear()
        self.index.work_meant.clear()

    # -- memory ---------------------------------------------------------------------------

    def _by_decision(self, line: ParsedLine) -> Match | None:
        decision = self.decisions.find(line.text, line.name) if len(self.decisions) else None
        if decision is None or not decision.food_id:
            return None
        if decision.food_id == "none":
            return Match(
                line.text, None, "", 1.0, "unmatched", "decision",
                "decided by a person: no food to count", names_food=False,
            )  # fmt: skip
        description = self.describe(decision.food_id)
        if description is None:
            return Match(
                line.text, None, "", 0.0, "to review", "decision",
                f"a decision names {decision.food_id}, which this snapshot lacks",
            )  # fmt: skip
        return Match(
            line.text, decision.food_id, description, 1.0, "accepted", "decision",
            "decided by a person",
        )  # fmt: skip

    def describe(self, food_id: str) -> str | None:
        """The table's or pantry's name of a food, None when unknown."""
        at = self._position.get(food_id)
        if at is not None:
            return self.index.foods.descriptions[at]
        own = self.pantry.by_id.get(food_id)
        return own.name if own is not None else None

    def position(self, food_id: str) -> int:
        """Place of a food of the tables, -1 when they lack it."""
        return self._position.get(food_id, -1)

    def _plain(self, phrase: Phrase) -> Phrase:
        harmless = self.index.knowledge.harmless
        kept = tuple(w for w in phrase if w not in harmless)
        return kept or phrase

    def _by_pantry(self, line: ParsedLine, query: Query) -> tuple[PantryFood, bool] | None:
        """The pantry food named, and whether the phrase holds nothing else."""
        if not self._pantry_names:
            return None
        written = self._pantry_names.get(
            self._plain(self.index.knowledge.canonical(words(line.name)))
        )
        if written is not None:
            return written, True
        phrase = self._plain(query.phrase)
        whole = self._pantry_names.get(phrase)
        if whole is not None:
            return whole, True
        best: tuple[int, int, PantryFood] | None = None
        for start in range(len(phrase)):
            for end in range(len(phrase), start, -1):
                food = self._pantry_names.get(phrase[start:end])
                if food is not None and (best is None or end - start > best[1] - best[0]):
                    best = start, end, food
        if best is None:
            return None
        start, end, food = best
        table = best_span(query.phrase, self.index)
        if table is not None and table[1] - table[0] > end - start:
            return None
        if end != len(phrase):  # the head is another word
            return None
        own = set(self.index.knowledge.canonical(words(food.name)))
        return food, set(phrase[:start]) <= own

    def _pantry_match(self, line: ParsedLine, query: Query, own: tuple[PantryFood, bool]) -> Match:
        food, whole = own
        found = self.find(query)
        runners: tuple[Candidate, ...] = ()
        if found is not None and found.food >= 0:
            first = Candidate(self.index.foods.ids[found.food], 0.1, found.description)
            runners = (first, *found.runners_up)[:RUNNERS_UP]
        if whole:
            return Match(
                line.text, food.food_id, food.name, 0.99, "accepted", "pantry",
                f'"{food.name}" of your pantry', runners,
            )  # fmt: skip
        return Match(
            line.text, food.food_id, food.name, 0.6, "to review", "pantry",
            f'perhaps "{food.name}" of your pantry; the line says more than its name', runners,
        )  # fmt: skip

    def query(self, line: ParsedLine, name: str | None = None) -> Query:
        """What a line (or one of its alternatives) asks of the index."""
        return query_of(line, self.index, name)

    # -- table ----------------------------------------------------------------------------

    def find(self, query: Query) -> TableAnswer | None:
        """The table's answer to a query; None when nothing in it comes near."""
        try:
            return self._seen[query]
        except KeyError:
            self._find([query])
            return self._seen[query]

    def _find(self, queries: list[Query]) -> None:
        """Ask the table and keep its answers."""
        found = rank_all(queries, self.index)
        whole, chosen_of = _names_kinds(found), choose_all(found)
        for line, query in enumerate(queries):
            chosen = chosen_of.get(line)
            if chosen is None:
                self._seen[query] = None
                continue
            kind = whole[line] == chosen.food and chosen.confidence > UNKNOWN_WORDS / 2
            answer = self._answer(query, found, chosen, names_its_kind=kind)
            self._seen[query] = _unsure(answer) if query.unknown else answer

    def _answer(
        self, query: Query, found: Rankings, chosen: Choice, *, names_its_kind: bool
    ) -> TableAnswer:
        foods = self.index.foods
        runners: list[Candidate] = []
        for food, share in zip(chosen.ranked.foods, chosen.ranked.belief, strict=True):
            if food >= 0 and food != chosen.food and foods.answers[food]:
                runners.append(
                    Candidate(foods.ids[food], round(share, 4), foods.descriptions[food])
                )
                if len(runners) == RUNNERS_UP:
                    break
        if chosen.food < 0:
            return self._lacking(found, chosen.ranked.rows[0], tuple(runners))
        confidence = chosen.confidence * query.sure
        accepted = confidence >= chosen.accept_from and not query.unknown
        reason = _reason(query, found, chosen, accepted)
        if chosen.lender >= 0:
            lender = foods.descriptions[chosen.lender]
            reason += f'; the same food in the reference table is "{lender}"'
            if chosen.apart:
                reason += ", whose energy or protein lies more than 10 or 15 % apart"
        return TableAnswer(
            chosen.food, foods.descriptions[chosen.food], confidence, accepted, reason,
            tuple(runners), names_its_kind, reference=chosen.lender,
            open_kinds=tuple(
                Candidate(foods.ids[at], round(share, 4), foods.descriptions[at])
                for at, share in open_kinds(query, chosen.food, self.index)
            ),
        )  # fmt: skip

    def _instead(self, lacking: TableAnswer, other: TableAnswer) -> TableAnswer:
        """The food named second where the table lacks the first: accepted only if alike."""
        nearest = lacking.runners_up[0].food_id if lacking.runners_up else ""
        at = self._position.get(nearest, -1)
        if at >= 0 and near(at, other.food, self.index.foods.macros):
            return other
        reason = f"{other.reason}; the food named first is lacking from the table and may differ"
        doubtful = min(other.confidence, 0.5)
        return replace(other, confidence=doubtful, accepted=False, reason=reason)

    def _lacking(self, found: Rankings, top: int, runners: tuple[Candidate, ...]) -> TableAnswer:
        knowledge = self.index.knowledge
        foods = self.index.foods
        food, sense = int(found.food[top]), int(found.sense[top])
        if food >= 0 or sense < 0:  # only a table that lends has it
            reason = (
                f'no table in use has it; in the reference table it is "{foods.descriptions[food]}"'
            )
            return TableAnswer(-1, "", 0.0, False, reason, runners)
        lacking = int(self.index.columns.sense_row[sense]) - knowledge.name_rows
        row = knowledge.absent[lacking]
        reason = f"the table lacks it: {row.why}" if row.why else "the table lacks it"
        at = self.index.nearest[lacking]
        if at >= 0 and not foods.answers[at]:
            at = -1
        head, said, _ = found.features[_NAME_HEAD_SAID_AFTER, top]
        if said < FULLY and head * said < HALF_SAID:
            name = " ".join(self.index.name_list[found.name[top]])
            reason = f'nothing in the table is called so; nearest is "{name}", which it lacks'
            return TableAnswer(-1, "", 0.0, False, reason, runners)
        if at >= 0:
            nearest = Candidate(foods.ids[at], 0.5, foods.descriptions[at])
            runners = (nearest, *(r for r in runners if r.food_id != nearest.food_id))[:RUNNERS_UP]
            reason += f"; counted as its nearest, {foods.descriptions[at]}, until you choose"
        reason += ". Better: add it to the pantry from its pack"
        return TableAnswer(-1, "", 0.0, False, reason, runners, nearest=at)

    def _table_match(self, line: ParsedLine, query: Query, found: TableAnswer | None) -> Match:
        if _is_remark(line) and (found is None or (found.food < 0 and found.nearest < 0)):
            return Match(
                line.text, None, "", 0.0, "unmatched", "none", "a remark in brackets, no ingredient",
                names_food=False,
            )  # fmt: skip
        if found is None:
            why = f'no food of the table is called anything like "{line.name}"'
            if query.unknown:
                why += f"; {ANOTHER_LANGUAGE}"
            return Match(line.text, None, "", 0.0, "unmatched", "none", why)
        if found.nearest >= 0:
            foods = self.index.foods
            stand_in = foods.ids[found.nearest]
            others = tuple(c for c in found.runners_up if c.food_id != stand_in)
            return Match(
                line.text, stand_in, foods.descriptions[found.nearest], STAND_IN, "to review",
                "table", found.reason, others,
            )  # fmt: skip
        if found.food < 0 or (found.confidence < SHOW_FROM and not found.names_its_kind):
            return Match(
                line.text, None, "", 0.0, "unmatched", "none", found.reason, found.runners_up
            )
        return Match(
            line.text, self.index.foods.ids[found.food], found.description,
            round(found.confidence, 4), "accepted" if found.accepted else "to review", "table",
            found.reason, found.runners_up,
            reference_id=self.index.foods.ids[found.reference] if found.reference >= 0 else None,
            open_kinds=found.open_kinds,
        )  # fmt: skip


def _names_kinds(found: Rankings) -> list[int]:
    """The best food of each query whose phrase ends in a whole name of it, after words that nothing
    explains; -2 of others.

    "Bulk Mexican chorizo sausage" is a chorizo sausage of some kind, "savory seasoning" no savory.
    """
    head, said, after = found.features[_NAME_HEAD_SAID_AFTER]
    whole = (found.name >= 0) & (head >= 1.0) & (said >= 0.999) & (after == 0.0)
    best = np.append(np.where(whole, found.food, -2), -2)[found.start[:-1]]
    return [int(at) for at in np.where(np.diff(found.start) > 0, best, -2)]


def _in_doubt(query: Query, found: TableAnswer | None) -> bool:
    """Whether the name alone leaves a doubt that a remark may settle."""
    return found is None or not found.accepted or bool(query.corrected)


def _may_be_kind(line: ParsedLine) -> bool:
    """One word, and one in brackets that may say which kind: "cheese (gouda)", "berries (blueberries)"."""
    alone = " " not in line.name and line.notes.isalpha()
    return alone and line.remarks.in_brackets(line.notes)


def _is_remark(line: ParsedLine) -> bool:
    """Whether all of a line stands in brackets, without a figure: "(numbers are for one tub)"."""
    text = line.text.strip()
    whole = text[:1] == "(" and text.find(")") == len(text) - 1
    return whole and not any(map(str.isdigit, text))


def _says_what_is_done(remark: str) -> bool:
    """ "Soaked in rum", "rinsed well": work, and no name for the food."""
    said = remark.split()
    begins = is_work(said[0])
    return begins and all(is_work(w) or FUNCTION_WORDS.get(w) for w in said[1:2])


def _unsure(found: TableAnswer) -> TableAnswer:
    """An answer to words that nothing knows: a guess, however alike they look."""
    return replace(
        found, confidence=min(found.confidence, UNKNOWN_WORDS), accepted=False,
        reason=f"{ANOTHER_LANGUAGE}; {found.reason}",
    )  # fmt: skip


#: Why a known name is asked about, by the doubt of its row in the words files.
_DOUBTED = {
    "stand_in": "it stands in for what the line names, which the table has only so",
    "varies": "what is sold by this name varies, in fat above all",
    "state": "whether it is meant raw, cooked or dried is open",
}


def _reason(query: Query, found: Rankings, chosen: Choice, accepted: bool) -> str:
    top, name_at = chosen.ranked.rows[0], chosen.ranked.name
    leftover = found.leftover[chosen.ranked.line]
    said: list[str] = []
    if name_at >= 0:
        name = " ".join(found.index.name_list[name_at])
        said.append(f'"{name}" is a name of this food')
    else:
        said.append("nearest by the words of the table's own name")
    sense, columns = int(found.sense[top]), found.index.columns
    doubt = columns.doubts[columns.sense_doubt[sense]] if sense >= 0 else ""
    if doubt in _DOUBTED and not accepted:
        said.append(_DOUBTED[doubt])
    said += [f'"{a}" read as "{b}"' for a, b in query.corrected]
    if leftover:
        said.append("not explained: " + ", ".join(f'"{w}"' for w in leftover))
    if found.features[_STATE_NO, top] >= 0.5:
        said.append("the state said on the line is not this food's")
    elif sold_otherwise(query.states, found.index.foods.states[chosen.ranked.foods[0]]):
        said.append("the line asks for a tin or a jar, and this food is fresh or frozen")
    if not accepted and not leftover and doubt not in _DOUBTED and len(chosen.ranked.rows) > 1:
        said.append("other foods fit about as well")
    return "; ".join(said)
