"""Corrections of a spoken script: changes of single lines in the cards beside it.

``spoken/cards.py`` says what these cards are and reads them. Every change made here is read back:
what would not be understood as meant is refused, and nothing is changed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Any

from pipeline.intake.entries import MAX_LINE_CHARS, clean
from pipeline.intake.model import cut
from pipeline.intake.spoken.captions import clock
from pipeline.intake.spoken.cards import (
    INGREDIENTS_WORD,
    NOTES_WORD,
    SERVES,
    CardFile,
    Entry,
    Place,
    Span,
    WrittenRecipe,
    words_key,
)
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card import read_cards
from pipeline.intake.text.line_kinds import BULLET, SAID_AT
from pipeline.intake.text.plain_lines import card_lines

if TYPE_CHECKING:
    from pipeline.intake.collect import Collection


class CannotChange(ValueError):
    """A correction that a card could not hold; its text says why and what to write instead."""


class CardEditor(CardFile):
    """A file of cards whose single lines can be changed.

    Recipes and lines are named by their 0-based places. A change that would not be read back as
    meant raises ``CannotChange`` and changes nothing.
    """

    # -- changes ---------------------------------------------------------------------------

    def change_line(self, recipe: int, line: int, text: str) -> None:
        """Write another text into an ingredient line; its place stays."""
        entry = self._alone(recipe, line)
        text = _one_line(text, "the line")
        bullet = BULLET.match(self._lines[entry.at])
        lead = bullet[0] if bullet else "" if text.endswith(":") else "- "

        with self._checked(lambda: self.recipes[recipe].lines[line].text == text, text):
            self._lines[entry.at] = f"{lead}{text}{entry.place.tag}"

    def drop_line(self, recipe: int, line: int) -> None:
        """Take an ingredient line out."""
        entry = self._alone(recipe, line)
        left = self._texts()
        left.remove(entry.text)
        with self._checked(lambda: self._texts() == left, entry.text, _LOST):
            del self._lines[entry.at]

    def add_line(self, recipe: int, text: str, place: Place) -> None:
        """Add an ingredient line after the last one that was said before it."""
        text = _one_line(text, "the line")
        card = self.recipes[recipe]
        before = len(card.lines)

        def right() -> bool:
            lines = self.recipes[recipe].lines
            return len(lines) == before + 1 and any(entry.text == text for entry in lines)

        with self._checked(right, text):
            self._lines.insert(self._place_for_line(card, place), f"- {text}{place.tag}")

    def move_line(self, recipe: int, line: int, to: int) -> None:
        """Move an ingredient line to another recipe."""
        entry = self._alone(recipe, line)
        with self._checked(lambda: True, entry.text):
            self.add_line(to, entry.text, entry.place)
            self.drop_line(recipe, line)

    def state(self, recipe: int, text: str, place: Place, at: int | None = None) -> None:
        """Write the numbers a recipe states.

        Args:
            text: such as "Per serving: 430 kcal, protein 31 g".
            at: which of its stated lines to replace; None replaces those on the same basis.
        """
        text = _one_line(text, "the numbers")
        read = read_stated_line(text)
        if not read.found:
            raise CannotChange(_NO_NUMBERS.format(cut(text, 80)))
        if read.basis is None:
            text = f"Per serving: {text}"
        card = self.recipes[recipe]
        basis = read.basis or "per_serving"
        old = [card.stated[at]] if at is not None else [s for s in card.stated if s.basis == basis]
        line = f"{text}{place.tag}"
        with self._checked(
            lambda: any(s.text == text for s in self.recipes[recipe].stated), text, _NO_NUMBERS
        ):
            if old:
                self._lines[old[0].at] = line
                for entry in sorted(old[1:], key=lambda e: -e.at):
                    del self._lines[entry.at]
            else:
                self._insert_stated(card, [line])

    def drop_stated(self, recipe: int, at: int) -> None:
        """Take a stated line out."""
        del self._lines[self.recipes[recipe].stated[at].at]
        self._read()

    def rename(self, recipe: int, title: str, place: Place | None = None) -> None:
        """Give a recipe another title; None keeps the place of the old one."""
        title = _one_line(title, "the title")
        card = self.recipes[recipe]
        tag = (place or card.place).tag

        def write(line: str) -> None:
            self._lines[card.at] = f"{line}{tag}"

        self._title(write, lambda: self.recipes[recipe].title == title, title)

    def serve(self, recipe: int, servings: float) -> None:
        """Say how many servings a recipe makes."""
        card = self.recipes[recipe]
        old = next((n for n in range(card.at + 1, card.end) if SERVES.match(self._lines[n])), None)

        def right() -> bool:
            now = self.recipes[recipe]
            return now.position is None or now.servings == servings

        with self._checked(right, f"{servings:g}"):
            at = card.at + 1 if old is None else old
            self._lines[at : at if old is None else at + 1] = [f"Serves {servings:g}"]

    def begin(self, recipe: int, title: str, place: Place) -> None:
        """Let a new recipe begin within another: what was said from there on goes to it."""
        title = _one_line(title, "the title")
        card = self.recipes[recipe]
        start = place.span[0] if place.span else 0
        moved = [e for e in card.lines if e.alone and e.place.span and e.place.span[0] >= start]
        stated = [e for e in card.stated if e.place.span and e.place.span[0] >= start]
        count, every = len(self.recipes), self._texts()

        def write(line: str) -> None:
            fresh = [f"{line}{place.tag}", "Serves 1", "", "Ingredients"]
            fresh += [self._lines[e.at] for e in moved]
            for entry in stated:
                fresh += ["", self._lines[entry.at]]
            end = card.end
            for entry in sorted([*moved, *stated], key=lambda e: -e.at):
                del self._lines[entry.at]
                end -= 1
            while end > card.at + 1 and not self._lines[end - 1].strip():
                end -= 1
            self._lines[end:end] = ["", "---", "", *fresh]

        def right() -> bool:
            fresh = self.recipes[recipe + 1]
            return (
                len(self.recipes) == count + 1
                and fresh.title == title
                and [e.text for e in fresh.lines] == [e.text for e in moved]
                and self._texts() == every
            )

        self._title(write, right, title)

    def join(self, recipe: int) -> None:
        """Put a recipe into the one before it: its lines after that one's, and its numbers."""
        if recipe == 0:
            raise CannotChange("There is no recipe before this one.")
        card, before = self.recipes[recipe], self.recipes[recipe - 1]
        lines = [self._lines[e.at] for e in card.lines if e.alone]
        stated = [self._lines[e.at] for e in card.stated]
        every = self._texts()
        start = card.at
        while start > before.end and not self._lines[start - 1].strip("-=*_~#–— \t"):
            start -= 1
        with self._checked(lambda: self._texts() == every, card.title, _LOST):
            del self._lines[start : card.end]
            if stated:
                self._insert_stated(before, stated)
            at = max((e.at + 1 for e in before.lines), default=-1)
            if lines and at < 0:
                at = self._place_for_line(before, Place())
            self._lines[at:at] = lines

    # -- how -------------------------------------------------------------------------------

    def _texts(self) -> list[str]:
        """Ingredient lines of all recipes, sorted."""
        return sorted(entry.text for recipe in self.recipes for entry in recipe.lines)

    def _alone(self, recipe: int, line: int) -> Entry:
        entry = self.recipes[recipe].lines[line]
        if not entry.alone:
            raise CannotChange(
                "This line of the card holds several ingredients; change it in the file."
            )
        return entry

    @contextmanager
    def _checked(
        self, right: Callable[[], bool], text: str,
        why: str = "“{}” would not be read as it is meant.",
    ) -> Iterator[None]:  # fmt: skip
        """Read the file again after a change of its lines; put all back when it is not ``right``."""
        keep = list(self._lines)
        try:
            yield
            self._read()
            good = right()
        except (CannotChange, IndexError):
            good = False
        if not good:
            self._lines = keep
            self._read()
            raise CannotChange(why.format(cut(text, 80)))

    def _title(self, write: Callable[[str], None], right: Callable[[], bool], title: str) -> None:
        """Write the line of a title; where it is not read as one, with "Title:" before it."""
        try:
            with self._checked(right, title, _NO_TITLE):
                write(title)
        except CannotChange:
            with self._checked(right, title, _NO_TITLE):
                write(f"Title: {title}")

    def _place_for_line(self, card: WrittenRecipe, place: Place) -> int:
        """Where a new ingredient line belongs; a list is begun where there is none."""
        start = place.span[0] if place.span else None
        earlier = [
            e.at for e in card.lines
            if start is None or (e.place.span is not None and e.place.span[0] <= start)
        ]  # fmt: skip
        if earlier:
            return max(earlier) + 1
        if card.lines:
            return card.lines[0].at
        for no in range(card.at + 1, card.end):
            if INGREDIENTS_WORD.match(self._lines[no]):
                return no + 1
        at = self._end_of_head(card)
        self._lines[at:at] = ["", "Ingredients"]
        return at + 2

    def _end_of_head(self, card: WrittenRecipe) -> int:
        at = card.at + 1
        while at < card.end and SERVES.match(self._lines[at]):
            at += 1
        return at

    def _insert_stated(self, card: WrittenRecipe, lines: list[str]) -> None:
        """Put stated lines after those there are, or after the list, before notes."""
        if card.stated:
            at = max(e.at for e in card.stated) + 1
            self._lines[at:at] = lines
            return
        if card.lines:
            at = max(e.at for e in card.lines) + 1
        else:
            words = [
                n for n in range(card.at + 1, card.end)
                if INGREDIENTS_WORD.match(self._lines[n]) or NOTES_WORD.match(self._lines[n])
            ]  # fmt: skip
            first = words[0] if words else self._end_of_head(card)
            at = first + bool(words and INGREDIENTS_WORD.match(self._lines[first]))
        self._lines[at:at] = ["", *lines]


_NO_NUMBERS = (
    "No stated numbers were found in “{}”. Write them like “Per serving: 430 kcal, protein 31 g”."
)
_LOST = "Lines of the recipes would be lost with “{}”; change it in the file."
_NO_TITLE = "“{}” would not be read as a title; choose other words."


def _one_line(text: str, what: str) -> str:
    text = clean(SAID_AT.sub("", BULLET.sub("", " ".join(text.split()))))
    if not text:
        raise CannotChange(f"Nothing was written for {what}.")
    if len(text) > min(MAX_LINE_CHARS, 300):
        raise CannotChange(f"Keep {what} under 300 characters.")
    return text


def without_change(now: str, before: str, after: str) -> str | None:
    """Take one change back out of a text that may have been changed since.

    Args:
        now: the text as it stands.
        before, after: what the change was.

    Returns:
        ``now`` without the change, None when the lines it touched are no longer as it left them.
    """
    if now == after:
        return before

    lines, old, new = now.split("\n"), before.split("\n"), after.split("\n")
    for op, i1, i2, j1, j2 in reversed(
        SequenceMatcher(None, new, old, autojunk=False).get_opcodes()
    ):
        if op == "equal":
            continue
        above, below = new[max(i1 - 1, 0) : i1], new[i2 : i2 + 1]
        wanted = [*above, *new[i1:i2], *below]
        found = [
            at for at in range(len(lines) - len(wanted) + 1)
            if lines[at : at + len(wanted)] == wanted
        ]  # fmt: skip
        if not found:
            return None
        at = min(found, key=lambda place: abs(place + len(above) - i1)) + len(above)
        lines[at : at + i2 - i1] = old[j1:j2]
    return "\n".join(lines)


# --- written out -----------------------------------------------------------------------------------


def write_out(collection: Collection, source: str) -> str:
    """The cards of a script, as it is understood, as one text; no file is written.

    Args:
        collection: in which the script was read by itself.
    """
    import pandas as pd

    from pipeline.publish.write import card_texts, on_one_line

    bare = on_one_line(collection, source)
    marks = collection.script_marks
    mine = marks[marks["source"] == source]
    lines, totals, titles = _spans(mine.itertuples(index=False))
    said_at = dict(collection.said_at)
    places: dict[str, Place] = {}
    of_line = collection.line
    source_line = dict(
        zip(zip(of_line["recipe_id"], of_line["line_no"], strict=True), of_line["source_line"],
            strict=True)
    )  # fmt: skip
    for key, (span, seconds) in lines.items():
        no = source_line.get(key)
        when = said_at.get(key) or clock(seconds) or ("" if bare or pd.isna(no) else f"line {no}")
        said_at[key] = Place(when, span).tag.strip(" []")
    for recipe_id, (span, seconds) in totals.items():
        for row in range(1, 40):
            when = said_at.get((recipe_id, -row)) or clock(seconds)
            said_at[recipe_id, -row] = Place(when, span).tag.strip(" []")
    for recipe_id, (span, seconds) in titles.items():
        places[recipe_id] = Place(clock(seconds), span)
    texts = [
        _titled(text, places.get(recipe_id, Place()))
        for recipe_id, text in card_texts(replace(collection, said_at=said_at), source)
    ]
    script = collection.scripts
    words = next(iter(script.loc[script["source"] == source, "text"]), "")
    whole = "\n---\n\n".join(texts)
    return whole.replace(
        f"Written out from {source};", f"Written out from {source} of words {words_key(words)};"
    )


def _titled(card: str, place: Place) -> str:
    """A card with the place of its title, its title in a form that is read as one."""
    title, _, rest = card.partition("\n")
    text = f"{title}{place.tag}\n{rest}"
    read = read_cards(card_lines(text), "").recipes
    return text if not read or [one.title for one in read] == [title] else f"Title: {text}"


_Spans = dict[Any, tuple[Span, float]]


def _spans(marks: Iterable[Any]) -> tuple[_Spans, _Spans, _Spans]:
    """Span and seconds of each line, by recipe and number, and of each recipe's total and title."""
    import pandas as pd

    lines: _Spans = {}
    totals: _Spans = {}
    titles: _Spans = {}
    for mark in sorted(marks, key=lambda m: m.kind != "ingredient"):  # its own words first
        span, seconds = (int(mark.start), int(mark.end)), float(mark.start_s)
        if mark.recipe_id and not pd.isna(mark.line_no):
            lines.setdefault((mark.recipe_id, int(mark.line_no)), (span, seconds))
        elif mark.recipe_id and mark.kind == "total":
            first, seconds = totals.get(mark.recipe_id, (span, seconds))
            totals[mark.recipe_id] = (min(first[0], span[0]), max(first[1], span[1])), seconds
        elif mark.recipe_id and mark.kind == "title":
            titles.setdefault(mark.recipe_id, (span, seconds))
    return lines, totals, titles
