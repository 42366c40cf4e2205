"""The script view of the page: what a person sees of a mark, and the corrections they may give it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from pipeline.intake.spoken.captions import clock
from pipeline.intake.spoken.cards import Place
from pipeline.memory.files import number
from pipeline.publish.script_cards import CannotChange
from pipeline.report.script import Mark, ScriptView, line_texts, script_view, short_time
from pipeline.report.words import SCRIPT_KIND
from pipeline.web.model import Script, line_key, recipe_key

if TYPE_CHECKING:
    from pipeline.intake.spoken.cards import WrittenRecipe
    from pipeline.publish.script_cards import CardEditor
    from pipeline.web.pages import Note
    from pipeline.web.state import ReviewState


#: Lines of one mark that are shown for correction; a base may stand in many recipes.
LINES_SHOWN = 12
#: More words than these are no ingredient and no total.
MOST_WORDS = 120
_PLACE = re.compile(r"(\d{1,9})-(\d{1,9})(?:-([a-z_]{1,20}))?")


class ScriptPanel:
    """A script under review, with the words that are asked about.

    Args:
        state: whose recipes the marks lead to.
        script: the script.
        asked: ``at`` names a mark or words ("310-327" or "310-327-ingredient"); ``from`` and ``to``
            are the characters of a selection; ``words`` are looked for in the script.
    """

    def __init__(self, state: ReviewState, script: Script, asked: Mapping[str, str]) -> None:
        titles = {r: now.title for r, now in state.recipes.items()}
        self.script, self.key, self.title = script, script.key, script.source
        self.shown = script_view(
            script.source, script.text, script.marks, titles, line_texts(state.collection.line),
            lambda mark: f"/script/{script.key}?at={mark.key}",
            lambda recipe_id: f"/recipe/{recipe_key(recipe_id)}", handles=True,
        )  # fmt: skip
        self.fix = fix(state, script, self.shown, asked)
        self.recipes = [
            (at, card.title, script.recipe_ids[at] if at < len(script.recipe_ids) else "")
            for at, card in enumerate(script.cards.recipes)
        ]
        self.address = f"/script/{self.key}" + (f"?at={self.fix.at}" if self.fix.at else "")
        self.note: Note | None = None
        self.typed: dict[str, str] = {}


def fix(
    state: ReviewState, script: Script, shown: ScriptView, asked: Mapping[str, str]
) -> SimpleNamespace:
    """The words under correction, and what they are now; empty when none are asked about.

    Returns:
        start, end: characters of the script, end exclusive; words: as said, and time when ("03:12", ""
        when the file has no times); kinds: names of the marks on them, with their reasons; lines (and
        more_lines beyond those shown), stated, titles: what they became, by places in the cards;
        recipe: the one they most likely belong to, None when there is none before; line_text,
        total_text, title_text: what they may become; anchor: of the mark on the page, "" for words
        without one; at: how the words are named in addresses; others: places where the same words
        were said too, and missing: words not found, when they were looked for.
    """
    start, end, others, missing = _asked(script.text, shown, asked)
    made = SimpleNamespace(
        start=0, end=0, words="", time="", kinds=[], lines=[], more_lines=0, stated=[], titles=[],
        recipe=None, line_text="", total_text="", title_text="", anchor="", at="", others=others,
        missing=missing,
    )  # fmt: skip
    if start >= end:
        recipe = _index(asked.get("recipe", ""), len(script.cards.recipes))
        if recipe is not None and not missing:
            made.titles.append(_title_fix(script, recipe))
        return made
    words = " ".join(script.text[start:end].split())
    made.start, made.end, made.words, made.at = start, end, words, f"{start}-{end}"
    made.recipe = _recipe_before(script, shown, start)
    here = [m for m in shown.marks if start <= m.start and m.end <= end]
    exact = [m for m in here if (m.start, m.end) == (start, end)]
    kind = asked.get("at", "").rpartition("-")[2]
    outer = next((m for m in exact if m.kind == kind), exact[0] if exact else None)
    made.time = short_time(_seconds(shown, start))
    if outer is not None:
        made.anchor = f"m-{outer.number}"
        made.at = outer.key
    inner = [m for m in here if m.note and m not in exact] if exact else []
    made.kinds = [(m.kind, SCRIPT_KIND[m.kind][0], m.note) for m in [*(exact or here), *inner]]
    if outer is not None:
        homes = [h for t in outer.targets if (h := script.place_of(t.recipe_id)) is not None]
        made.recipe = next(iter(homes), made.recipe)
        places = _lines_of(script, outer)
        made.more_lines = max(len(places) - LINES_SHOWN, 0)
        made.lines = [_line_fix(state, script, *place) for place in places[:LINES_SHOWN]]
        if outer.kind == "total":
            made.stated = [s for h in dict.fromkeys(homes) for s in _stated_fixes(script, h, outer)]
        elif outer.kind == "title":
            made.titles = [_title_fix(script, home) for home in homes]
    made.line_text, made.total_text = _as_read(words)
    made.title_text = words[:1].upper() + words[1:80]
    return made


def _asked(
    text: str, shown: ScriptView, asked: Mapping[str, str]
) -> tuple[int, int, list[str], str]:
    """Characters asked about, whole words; other places of the same words; words not found."""
    named = _PLACE.fullmatch(asked.get("at", ""))
    if named:
        start, end = int(named[1]), int(named[2])
        return (start, end, [], "") if end <= len(text) else (0, 0, [], "")
    begin, stop = asked.get("from", ""), asked.get("to", "")
    if begin.isdecimal() and stop.isdecimal() and len(begin) < 10 and len(stop) < 10:
        return (*_whole_words(text, int(begin), int(stop)), [], "")
    words = asked.get("words", "").split()[:MOST_WORDS]
    if not words:
        return 0, 0, [], ""
    pattern = r"(?<!\w)" + r"\W+".join(re.escape(w) for w in words) + r"(?!\w)"
    found = [m.span() for m in re.finditer(pattern, text, re.IGNORECASE)]
    if not found:
        return 0, 0, [], " ".join(words)[:200]
    marked = [(m.start, m.end) for m in shown.marks]
    fresh = [s for s in found if not any(a < s[1] and s[0] < b for a, b in marked)] or found
    others = [f"{a}-{b}" for a, b in found if (a, b) != fresh[0]][:8]
    return *fresh[0], others, ""


def _whole_words(text: str, start: int, end: int) -> tuple[int, int]:
    """A selection widened to whole words, without spaces and commas at its ends."""
    start, end = max(min(start, end), 0), min(max(start, end), len(text))
    while start < end and not text[start].isalnum():
        start += 1
    while end > start and not (text[end - 1].isalnum() or text[end - 1] in "%)"):
        end -= 1
    if start >= end:
        return 0, 0
    while start > 0 and (text[start - 1].isalnum() or text[start - 1] in "'’-"):
        start -= 1
    while end < len(text) and (text[end].isalnum() or text[end] in "'’-"):
        end += 1
    return start, end


def _seconds(shown: ScriptView, start: int) -> float:
    """When something was said: by the nearest mark before it that has a time, else the first."""
    timed = [m for m in shown.marks if m.seconds == m.seconds]
    before = [m for m in timed if m.start <= start]
    near = before[-1] if before else timed[0] if timed else None
    return near.seconds if near else float("nan")


def _recipe_before(script: Script, shown: ScriptView, start: int) -> int | None:
    """The recipe that was talked about there: that of the last mark of one recipe alone."""
    place: int | None = None
    for mark in shown.marks:
        if mark.start > start and place is not None:
            break
        recipes = {t.recipe_id for t in mark.targets if t.recipe_id}
        if len(recipes) == 1:
            place = script.place_of(recipes.pop())
    return place


def _lines_of(script: Script, mark: Mark) -> list[tuple[int, int]]:
    """Places in the cards of the lines that a mark became, those of a shared base in every recipe."""
    targets = ((script.place_of(t.recipe_id), t.line_no) for t in mark.targets)
    own = (
        (place, script.card_line(place, no))
        for place, no in targets if place is not None and no is not None
    )  # fmt: skip
    shared = (
        _lines_at(script, (mark.start, mark.end)) if mark.kind in ("ingredient", "base") else []
    )
    return list(dict.fromkeys([*((at, no) for at, no in own if no is not None), *shared]))


def _line_fix(state: ReviewState, script: Script, place: int, no: int) -> SimpleNamespace:
    """A line that a mark became, as it is counted now."""
    card = script.cards.recipes[place]
    recipe_id = script.recipe_ids[place] if place < len(script.recipe_ids) else ""
    text = card.lines[no].text
    line_no = script.line_nos[place][no] if place < len(script.line_nos) else None
    known = line_no is not None and recipe_id in state.recipes
    now = (state.line(recipe_id, line_no) or {}) if known and line_no is not None else {}
    return SimpleNamespace(
        recipe=place, title=card.title, line=no, text=text, key=line_key(text),
        food=str(now.get("description") or ""), grams=now.get("grams"),
    )  # fmt: skip


def _stated_fixes(script: Script, place: int, mark: Mark) -> list[SimpleNamespace]:
    """The stated lines of a card that hold a total; all of them where none is said to."""
    card = script.cards.recipes[place]
    held = [
        at for at, entry in enumerate(card.stated)
        if (span := entry.place.span) and span[0] <= mark.start and mark.end <= span[1]
    ]  # fmt: skip
    return [
        SimpleNamespace(recipe=place, title=card.title, at=at, text=card.stated[at].text)
        for at in held or range(len(card.stated))
    ]


def _title_fix(script: Script, place: int) -> SimpleNamespace:
    card = script.cards.recipes[place]
    known = card.servings == card.servings
    servings = f"{card.servings:g}" if known else ""
    return SimpleNamespace(recipe=place, title=card.title, servings=servings)


def _as_read(words: str) -> tuple[str, str]:
    """The words as a line and as a total: as the reader of scripts takes them by themselves."""
    from pipeline.intake.spoken.script import read_script
    from pipeline.publish.restate import stated_sentence

    if len(words.split()) > MOST_WORDS:
        return "", ""
    read = read_script(words, kind="script")
    lines = [one.text for raw in read.recipes for one in raw.lines]
    stated = [one for raw in read.recipes for one in raw.stated]
    basis = stated[0].basis if stated else "per_serving"
    values = {one.nutrient: one.amount for one in stated if one.basis == basis}
    line = lines[0] if len(lines) == 1 else " ".join(words.split()[:20])
    return line, stated_sentence(values, basis) if values else ""


# --- corrections -----------------------------------------------------------------------------------


def correction(
    script: Script, shown: ScriptView, typed: Mapping[str, str]
) -> tuple[Callable[[Script], str], list[str]]:
    """What a form asks for, and the recipe_ids it is about.

    Args:
        shown: the same with its marks laid out.
        typed: ``act`` and what belongs to it: ``recipe``, ``line``, ``stated`` are places in the
            cards, ``to`` another recipe, ``start`` and ``end`` the words, ``text`` what was typed,
            ``all`` to do the same in every recipe that the words stand in.

    Raises:
        CannotChange: the form lacks something; the text says what.
    """
    recipe = _index(typed.get("recipe", ""), len(script.cards.recipes))
    start, end = _index(typed.get("start", "")), _index(typed.get("end", ""))
    span = (start, end) if start is not None and end is not None and start < end else None
    if span and span[1] > len(script.text):
        raise CannotChange("These words are no longer in the script.")
    place = Place(clock(_seconds(shown, span[0])) if span else "", span)
    doing = _ACTS.get(typed.get("act", ""))
    if doing is None:
        raise CannotChange("Choose what is to be corrected.")
    if recipe is None:
        raise CannotChange("Choose the recipe it belongs to.")
    about = [script.recipe_ids[recipe]] if recipe < len(script.recipe_ids) else []
    return (lambda now: doing(_Job(now, recipe, typed.get("text", ""), place, typed))), about


@dataclass(frozen=True, slots=True)
class _Job:
    """A correction of the cards of a script; ``place``: where the words were said."""

    script: Script
    recipe: int
    text: str
    place: Place
    typed: Mapping[str, str]

    @property
    def cards(self) -> CardEditor:
        return self.script.cards

    @property
    def card(self) -> WrittenRecipe:
        return self.cards.recipes[self.recipe]

    @property
    def plain(self) -> str:
        """What was typed, with single spaces."""
        return " ".join(self.text.split())

    def index(self, name: str, below: int) -> int:
        found = _index(self.typed.get(name, ""), below)
        if found is None:
            raise CannotChange("This line is no longer in the card.")
        return found

    def title(self, at: int | None = None) -> str:
        """Title of a recipe, of its own unless another is named, in quotes."""
        return f"“{self.cards.recipes[self.recipe if at is None else at].title}”"

    def same(self) -> tuple[list[tuple[int, int]], str, str]:
        """The line meant and, with ``all``, its copies in other recipes, the last of a recipe first.

        Returns:
            Places; the line's text; "“Stew” and 2 more" for the sentence.
        """
        no = self.index("line", len(self.card.lines))
        entry, found = self.card.lines[no], [(self.recipe, no)]
        if self.typed.get("all") and entry.place.span:
            at = _lines_at(self.script, entry.place.span)
            found += [place for place in at if place not in found]
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        return sorted(found, reverse=True), entry.text, f"{self.title()}{more}"

    def drop_marked(self) -> None:
        """Words that become something else are no longer what they were."""
        at = _index(self.typed.get("was_recipe", ""), len(self.cards.recipes))
        if at is not None:
            line = _index(self.typed.get("was_line", ""), len(self.cards.recipes[at].lines))
            if line is not None:
                self.cards.drop_line(at, line)


def _index(text: str, below: int | None = None) -> int | None:
    if not text.isdecimal() or len(text) > 9:
        return None
    value = int(text)
    return value if below is None or value < below else None


def _lines_at(script: Script, span: tuple[int, int]) -> list[tuple[int, int]]:
    """Lines of the cards that were said at a place: one of a base stands in several recipes."""
    return [
        (at, no)
        for at, card in enumerate(script.cards.recipes)
        for no, entry in enumerate(card.lines)
        if entry.place.span == span
    ]


def _change(job: _Job) -> str:
    places, old, where = job.same()
    for at, no in places:
        job.cards.change_line(at, no, job.text)
    return f"“{old}” in {where} now reads “{job.plain}”"


def _drop(job: _Job) -> str:
    places, text, where = job.same()
    for at, no in places:
        job.cards.drop_line(at, no)
    return f"“{text}” is no ingredient of {where}"


def _move(job: _Job) -> str:
    no = job.index("line", len(job.card.lines))
    to = job.index("to", len(job.cards.recipes))
    text = job.card.lines[no].text
    if to == job.recipe:
        raise CannotChange("It is in this recipe already; choose another.")
    job.cards.move_line(job.recipe, no, to)
    return f"“{text}” moved from {job.title()} to {job.title(to)}"


def _add(job: _Job) -> str:
    job.drop_marked()
    job.cards.add_line(job.recipe, job.text, job.place)
    return f"“{job.plain}” is an ingredient of {job.title()}"


def _state(job: _Job) -> str:
    job.drop_marked()
    at = _index(job.typed.get("stated", ""), len(job.card.stated))
    place = job.place if at is None else job.card.stated[at].place
    job.cards.state(job.recipe, job.text, place, at)
    return f"{job.title()} states {job.plain}"


def _drop_stated(job: _Job) -> str:
    at = job.index("stated", len(job.card.stated))
    text = job.card.stated[at].text
    job.cards.drop_stated(job.recipe, at)
    return f"“{text}” is no total of {job.title()}"


def _begin(job: _Job) -> str:
    if job.place.span is None:
        raise CannotChange("Choose the words it begins with.")
    was = job.title()
    job.cards.begin(job.recipe, job.text, job.place)
    return f"“{job.plain}” is a recipe of its own, behind {was}"


def _rename(job: _Job) -> str:
    old = job.card.title
    job.cards.rename(job.recipe, job.text, None if job.typed.get("keep_place") else job.place)
    if job.plain == old:
        return f"These words are the title of “{old}”"
    return f"“{old}” is called “{job.plain}”"


def _join(job: _Job) -> str:
    title = job.title()
    job.cards.join(job.recipe)
    return f"{title} is no recipe of its own; its lines went to {job.title(job.recipe - 1)}"


def _serve(job: _Job) -> str:
    count = number(job.text)
    if count is None or not 0 < count <= 10_000:
        raise CannotChange("Write the servings as a plain number, such as 4.")
    job.cards.serve(job.recipe, count)
    return f"{job.title()} serves {count:g}"


_ACTS: dict[str, Callable[[_Job], str]] = {
    "change": _change, "drop": _drop, "move": _move, "add": _add, "state": _state,
    "drop_stated": _drop_stated, "begin": _begin, "rename": _rename, "join": _join,
    "serve": _serve,
}  # fmt: skip


def asked_again(typed: Mapping[str, str]) -> dict[str, str]:
    """What the page asks about after a correction: the same words, or the same recipe."""
    if typed.get("at"):
        return {"at": typed["at"]}
    recipe = typed.get("recipe", "")
    return {"recipe": recipe} if typed.get("act") in ("rename", "serve") and recipe else {}


def said_at(state: ReviewState, recipe_id: str) -> dict[int, tuple[str, str]]:
    """line_no → when a line of a recipe was said, and the address of its mark."""
    marks = state.collection.script_marks
    mine: Any = marks[(marks["recipe_id"] == recipe_id) & marks["line_no"].notna()]
    out: dict[int, tuple[str, str]] = {}
    for mark in sorted(mine.itertuples(index=False), key=lambda m: m.kind != "ingredient"):
        at = f"/script/{line_key(mark.source)}?at={mark.start}-{mark.end}-{mark.kind}"
        out.setdefault(int(mark.line_no), (short_time(float(mark.start_s)), at))
    return out
