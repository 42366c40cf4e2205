"""What the page asks: lines that are in doubt, and what is known of each."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from pipeline.memory.decisions import Decision, same_text
from pipeline.web.model import Place, Question, Reading, line_key
from pipeline.web.touched import NOT_OF_LINES

if TYPE_CHECKING:
    from pipeline.match.model import Match
    from pipeline.web.state import ReviewState
    from pipeline.weigh.weight import Weight

#: How the match begins its reason where a table is known to lack a food.
LACKS = "the table lacks it"


class Questions:
    """Questions about the lines of a collection, and the answers that settled them."""

    def __init__(self, state: ReviewState) -> None:
        self._state = state
        self._asked: set[str] = set()
        self._readings: dict[str, Reading] = {}
        self._read_by: object = None

    def queue(self) -> list[Question]:
        """Texts that ask, by the energy that is really open; trivial ones last."""
        state = self._state
        with state.lock:
            asking: dict[str, list[Place]] = defaultdict(list)
            why: dict[str, str] = {}
            for recipe_id, recipe in state.recipes.items():
                for line_no, row in recipe.asks.items():
                    key = line_key(row["text"])
                    if key in state.lines.texts:
                        asking[key].append((recipe_id, line_no))
                        why.setdefault(key, str(row["why"] or ""))
            found = [self._question(key, places, why[key]) for key, places in asking.items()]
            return sorted(found, key=lambda q: (-q.open_kcal, -q.kcal, q.text, q.key))

    def progress(self, queue: Sequence[Question]) -> tuple[int, int]:
        """How many of the texts that asked are settled, and how many asked."""
        texts = self._state.lines.texts
        with self._state.lock:
            open_keys = {question.key for question in queue}
            self._asked = {key for key in self._asked if key in texts} | open_keys
            answered = {key for _, keys in self.settled() for key in keys} - open_keys
            done = {key for key in answered if self.reading(key).asks}
            # a pantry food settles lines without an answer of theirs
            done |= self._asked - open_keys
            return len(done), len(done) + len(open_keys)

    def settled(self) -> list[tuple[Decision, list[str]]]:
        """Answers in force that touch a line here, the latest last, each with its texts' keys."""
        state = self._state
        with state.lock:
            answers = [
                (answer, state.lines.about(*subject))
                for subject, answer in state.own.decisions.by_subject.items()
                if subject[0] not in NOT_OF_LINES
            ]
            return [(answer, keys) for answer, keys in answers if keys]

    def reading(self, key: str) -> Reading:
        """How the tool reads a text by itself."""
        state = self._state
        with state.lock:
            if self._read_by is not state.own_matcher:
                self._readings, self._read_by = {}, state.own_matcher
            known = self._readings.get(key)
            if known is None:
                parsed = state.lines.parsed[key]
                match = state.own_matcher.match_one(parsed)
                weight = state.tools.weigher.weigh_one(
                    parsed, match.food_id, match.description, match.reference_id
                )
                known = self._readings[key] = Reading(parsed, match, weight)
            return known

    def weight_as(self, key: str, food_id: str) -> Weight:
        """What a line would weigh if it meant a food; grams a person gave hold for any food."""
        state = self._state
        with state.lock:
            answer = self.answer_to(key, "line")
            weight = state.tools.weigher.weigh_one(state.lines.parsed[key], food_id, "")
            given = answer.grams if answer is not None else None
            return weight if given is None else replace(weight, grams=given)

    def same_food(self, key: str) -> bool:
        """Whether all lines of this text's food name mean the same food in the same state."""
        lines = self._state.lines
        keys = lines.same_name(key)
        meant = {(self._food(one), lines.parsed[one].states) for one in keys}
        return len(keys) > 1 and len(meant) == 1

    def lacks(self, key: str) -> bool:
        """Whether the table is known to lack the food of a text, or nothing in it comes near."""
        match = self.reading(key).match
        if not match.names_food or match.origin == "pantry":
            return False
        return match.food_id is None or match.reason.startswith(LACKS)

    def parts(self, key: str) -> list[str]:
        """Keys of the foods that a line is counted as, where it holds several; else none."""
        lines = self._state.lines
        keys = [line_key(text) for text in lines.parsed[key].parts]
        answer = self.answer_to(key, "line")
        return keys if answer is None or not answer.food_id else []

    def part_of(self, key: str) -> str:
        """Text of the written line whose food this is, "" when it is a line of its own."""
        state = self._state
        for recipe_id, line_no in state.lines.places(key):
            row = state.line(recipe_id, line_no)
            written = None if row is None else row.get("part_of")
            if written is None:
                return ""
            whole = state.line(recipe_id, int(written))
            return "" if whole is None else str(whole["text"])
        return ""

    def answer_to(self, key: str, scope: str) -> Decision | None:
        """The answer in force about a text, or about its food name."""
        parsed = self._state.lines.parsed[key]
        subject = (scope, same_text(parsed.text if scope == "line" else parsed.name))
        return self._state.own.decisions.by_subject.get(subject)

    def _food(self, key: str) -> Any:
        row = self._state.line(*self._state.lines.places(key)[0])
        return None if row is None else row["food_id"]

    def _question(self, key: str, places: list[Place], why: str) -> Question:
        rows = [self._state.line(*place) for place in places]
        known = [row["kcal"] for row in rows if row is not None and row["kcal"] is not None]
        estimated = not known
        kcal = self._rough_kcal(key) * len(places) if estimated else sum(known)
        is_open = sum(self._open_kcal(*place) for place in places)
        text = self._state.lines.texts[key]
        return Question(key, text, tuple(places), why, kcal, estimated, is_open)

    def _open_kcal(self, recipe_id: str, line_no: int) -> float:
        """Energy of a line that its doubt leaves open, kcal of the whole recipe."""
        from pipeline.report.todo import open_share

        recipe = self._state.recipes[recipe_id]
        doubt = next((d for d in recipe.doubt if int(d["line_no"]) == line_no), None)
        row = recipe.line(line_no)
        kcal = math.nan if row is None or row["kcal"] is None else row["kcal"]
        return float(open_share(doubt["share"] if doubt else 0.0, recipe.half_kcal, kcal))

    def _rough_kcal(self, key: str) -> float:
        """Energy of a line whose food or grams are not known, by what comes nearest."""
        from pipeline.compute.totals import KCAL_PER_GRAM, KCAL_PER_LINE, ROUGH_GRAMS

        reading = self.reading(key)
        rough = (
            m.amount * ROUGH_GRAMS[m.unit] for m in reading.parsed.measures
            if m.unit in ROUGH_GRAMS
        )  # fmt: skip
        grams = next(rough, None) if reading.weight.grams is None else reading.weight.grams
        near = [
            (food.kcal, share) for food_id, share in _beliefs(reading.match)
            if (food := self._state.foods.get(food_id)) is not None and food.kcal is not None
        ]  # fmt: skip
        whole = sum(share for _, share in near)
        per_gram = sum(k * s for k, s in near) / whole / 100 if whole > 0 else KCAL_PER_GRAM
        return KCAL_PER_LINE if grams is None else grams * per_gram


def _beliefs(match: Match) -> list[tuple[str, float]]:
    if match.food_id is not None:
        return [(match.food_id, 1.0)]
    return [(c.food_id, c.probability) for c in match.runners_up]
