"""Spoken scripts: what was understood of them, and corrections, which go into cards beside them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from pipeline.problems import failure
from pipeline.report.frames import records
from pipeline.web.file_changes import read_decoded
from pipeline.web.model import (
    Answer,
    ChangedElsewhere,
    FileChange,
    RecipeChange,
    Script,
    line_key,
    recipe_key,
)

if TYPE_CHECKING:
    from pipeline.intake.spoken.cards import WrittenRecipe
    from pipeline.web.history import History
    from pipeline.web.state import ReviewState

Standing = tuple[str, str, float | None]  # recipe_id, verdict, kcal a serving


class ScriptEdits:
    """The scripts of a collection; a script itself is never touched."""

    def __init__(self, state: ReviewState, history: History) -> None:
        self._state = state
        self._history = history
        history.moved_in_script = self._refresh

    def sources(self) -> list[tuple[str, str]]:
        """Key and file of each spoken script, in the order of the files."""
        scripts = self._state.collection.scripts["source"]
        return [(line_key(str(source)), str(source)) for source in scripts]

    def find(self, key: str) -> Script | None:
        """A spoken script by its key, None when there is none (any more)."""
        with self._state.lock:
            source = dict(self.sources()).get(key)
            return None if source is None else self._script(key, source)

    def correct(
        self,
        key: str,
        change: Callable[[Script], str],
        *,
        seen: str | None = None,
        recipes: Iterable[str] = (),
    ) -> Answer:
        """Correct what was understood of a script, in its cards; written before it returns.

        The first correction writes out its cards beside it, which from then on are read instead.

        Args:
            change: gets the script, changes ``script.cards``, and says what it did in a sentence.
            seen: ``Script.seen`` of the page the person looked at; None does not ask.
            recipes: recipe_ids whose numbers are shown even when they do not move.

        Raises:
            KeyError: there is no such script.
            CannotChange: a card could not hold the correction.
            ChangedElsewhere: the cards are no longer those the person saw; nothing is written.
            SteelyardError, TimeoutError, OSError: the file could not be written.
        """
        from pipeline.memory.files import locked
        from pipeline.safe_files import write_atomically

        with self._state.lock:
            self._state.refresh(now=True)
            script = self.find(key)
            if script is None:
                raise KeyError(key)
            if seen is not None and seen != script.seen:
                raise ChangedElsewhere
            if script.cards_path.exists() and not script.written:
                raise failure("cards-unreadable", source=script.cards_path.name)
            if not script.recipe_ids and not script.written:
                raise failure("cards-not-written-out", source=script.source)
            before = script.cards.text
            summary = change(script)
            after, path = script.cards.text, script.cards_path
            with locked(path):
                stands = read_decoded(path) if path.exists() else None
                if stands != (before if script.written else None):
                    raise ChangedElsewhere
                write_atomically(path, after)
            if not script.written:
                self._history.made[path] = before
            return self._record(script, summary, before, after, recipes)

    def start_over(self, key: str, *, seen: str | None = None) -> Answer:
        """Read a script itself again; its cards are kept beside it under another name.

        Raises:
            KeyError: there is no such script, or it has no cards.
            ChangedElsewhere, TimeoutError, OSError: see ``correct``.
        """
        from pipeline.memory.files import locked

        with self._state.lock:
            self._state.refresh(now=True)
            script = self.find(key)
            if script is None or not script.written:
                raise KeyError(key)
            path = script.cards_path
            with locked(path):
                before = read_decoded(path)
                if seen not in (None, script.seen) or before != script.cards.text:
                    raise ChangedElsewhere
                path.replace(path.with_name(path.name + ".bak"))
            return self._record(script, f"{script.source} is read by itself again", before, None)

    def _record(
        self, script: Script, summary: str, before: str, after: str | None,
        recipes: Iterable[str] = (),
    ) -> Answer:  # fmt: skip
        change = FileChange(script.source, "cards", before, after, path=script.cards_path)
        moved = self._refresh(script.key, recipes)
        answer = Answer(script.source, summary, (change,), moved, script=script.key)
        return self._history.record(answer)

    def _refresh(self, key: str, named: Iterable[str] = ()) -> tuple[RecipeChange, ...]:
        """Look at the files again and say which recipes moved.

        Recipes of a script count by their titles: their ids shift when one is parted or joined.
        """
        recipes = self._state.recipes
        titles = {recipes[r].title for r in named if r in recipes}
        before = self._standing(key)
        self._state.refresh(now=True)
        out = []
        for name, (recipe_id, verdict, kcal) in self._standing(key).items():
            was, title = before.get(name), name[1]
            if was is not None and (was[1:] != (verdict, kcal) or title in titles):
                out.append(RecipeChange(recipe_id, title, was[1], verdict, was[2], kcal))
        return tuple(sorted(out, key=lambda m: (m.was == m.now, m.title)))

    def _standing(self, key: str) -> dict[tuple[str, str, int], Standing]:
        spoken = self._recipes_of(key)
        out: dict[tuple[str, str, int], Standing] = {}
        again: defaultdict[str, int] = defaultdict(int)
        for recipe_id, now in self._state.recipes.items():
            mine = recipe_id in spoken
            again[now.title] += mine
            name = ("", now.title, again[now.title]) if mine else (recipe_id, now.title, 0)
            out[name] = (recipe_id, now.verdict, now.kcal)
        return out

    def _recipes_of(self, key: str) -> set[str]:
        from pipeline.intake.spoken.cards import ENDING

        source = dict(self.sources()).get(key, "")
        return {
            r for r, now in self._state.recipes.items()
            if str(now.about["source"]).removesuffix(ENDING) == source
        }  # fmt: skip

    def _script(self, key: str, source: str) -> Script:
        from pipeline.intake.spoken import cards as script_cards
        from pipeline.publish.script_cards import CardEditor, write_out

        collection = self._state.collection
        file = script_cards.cards_path(collection.files[source])
        name = source + script_cards.ENDING
        recipe = collection.recipe
        written = name in collection.files and bool((recipe["source"] == name).any())
        rows = recipe[recipe["source"] == (name if written else source)]
        text = read_decoded(file) if written else write_out(collection, source)
        cards = CardEditor(text)
        ids = [str(r) for r in rows["recipe_id"]]
        if written:
            by_position = dict(zip(rows["position"], ids, strict=True))
            places = [by_position.get(card.position, "") for card in cards.recipes]
        else:
            places = ids if len(ids) == len(cards.recipes) else []
        marks, scripts = collection.script_marks, collection.scripts
        words = str(scripts.loc[scripts["source"] == source, "text"].iloc[0])
        stands = f"{script_cards.words_key(words)}.{recipe_key(text) if written else '-'}"
        lines = [self._line_nos(r, card) for r, card in zip(places, cards.recipes, strict=False)]
        mine = records(marks[marks["source"] == source], None)
        return Script(key, source, words, mine, cards, file, written, stands, places, lines)

    def _line_nos(self, recipe_id: str, card: WrittenRecipe) -> list[int | None]:
        """The line_no of each line of a card: the lines of its recipe in order, headings between."""
        line = self._state.collection.line
        mine = line[line["recipe_id"] == recipe_id]
        ahead = list(zip(mine["line_no"], mine["text"], strict=True))
        out: list[int | None] = []
        for entry in card.lines:
            text = " ".join(entry.text.split())
            at = next((n for n, (_, t) in enumerate(ahead) if " ".join(str(t).split()) == text), 0)
            if not ahead or (entry.text.endswith(":") and str(ahead[at][1]) != entry.text):
                out.append(None)
                continue
            out.append(int(ahead[at][0]))
            del ahead[: at + 1]
        return out
