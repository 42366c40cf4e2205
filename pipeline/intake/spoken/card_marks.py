"""Marks of a spoken script that lead on: to the lines of a shared base, and into corrected cards."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from pipeline.foods.words import singular
from pipeline.intake.model import NAN, RawMark, Read
from pipeline.intake.spoken.captions import seconds_of
from pipeline.intake.spoken.cards import CardFile, Entry, Span, WrittenRecipe

# --- marks of shared lines ----------------------------------------------------------------------------

#: A line is of a base mark when at least this share of its words was said there.
_LEAST_ALIKE = 0.5
_WORD = re.compile(r"[^\W\d_]{3,}")


def mark_shared_lines(read: Read) -> None:
    """Let the marks of a base lead to the lines they became in each recipe.

    A base is said once and its lines stand in several recipes, where nothing was said again; such
    a line has no mark of its own. It belongs to the base mark whose words it shares.

    Args:
        read: a spoken script; gets further marks, one a line, over the words of the base.
    """
    bases = [m for m in read.marks if m.kind == "base" and m.line is None]
    if not bases or read.script is None:
        return
    said = [_words(read.script[m.start : m.end]) for m in bases]
    marked = {(m.recipe, m.line) for m in read.marks if m.line is not None}
    for at, raw in enumerate(read.recipes):
        for no, line in enumerate(raw.lines):
            words = _words(line.text)
            if (at, no) in marked or not words or line.text.endswith(":"):
                continue
            alike = [len(words & heard) / len(words) for heard in said]
            best = max(range(len(bases)), key=lambda n: alike[n])
            if alike[best] >= _LEAST_ALIKE:
                read.marks.append(replace(bases[best], recipe=at, line=no))
    read.marks.sort(key=lambda m: (m.start, -m.end))


def _words(text: str) -> set[str]:
    return {singular(word) for word in _WORD.findall(text.lower())}


# --- marks that follow the cards ---------------------------------------------------------------------


def marks_by_cards(script: Read, written: CardFile) -> list[RawMark]:
    """Marks of a script as its cards have it.

    What the reader made a line of and the cards no longer hold becomes ``left_out``; what the cards
    hold beyond it becomes a mark of its own; everything else moves to the line or recipe it has in
    the cards.

    Args:
        script: the script as the reader understands it.
        written: the cards that stand for it.

    Returns:
        Marks whose recipes and lines count in the file of cards, in order.
    """
    cards = [card for card in written.recipes if card.position is not None]
    length = len(script.script or "")
    by_span: defaultdict[Span, list[tuple[int, int]]] = defaultdict(list)
    for card in cards:
        for no, entry in enumerate(card.lines):
            if entry.place.span and entry.place.span[1] <= length:
                by_span[entry.place.span].append((card.position or 0, no))
    of_line: dict[tuple[int, int], Span] = {}
    for mark in sorted(script.marks, key=lambda m: m.kind != "ingredient"):
        if mark.recipe is not None and mark.line is not None:
            of_line.setdefault((mark.recipe, mark.line), (mark.start, mark.end))
    to_card = _same_recipes(script, cards, of_line, by_span)
    totals = [
        (entry.place.span, card.position or 0)
        for card in cards for entry in card.stated if entry.place.span
    ]  # fmt: skip
    titles = {card.place.span: card.position or 0 for card in cards if card.place.span}
    out: list[RawMark] = []
    used: set[Span] = set()
    shared: defaultdict[Span, set[int | None]] = defaultdict(set)
    for (recipe, _), span in of_line.items():
        shared[span].add(to_card.get(recipe))
    for mark in script.marks:
        gone = (mark.start, mark.end) in shared and not by_span.get((mark.start, mark.end))
        if mark.kind == "base" and mark.line is None and gone:
            out.append(replace(mark, kind="left_out", recipe=None, note=TAKEN_OUT))
            continue
        out += _moved(mark, of_line, by_span, to_card, totals, titles, used, shared)
    added = list(_added(script, cards, by_span, totals, used, length))
    out = [  # words that a person made something of are no longer left out
        m for m in out
        if m.kind != "left_out" or not any(a.start < m.end and m.start < a.end for a in added)
    ]  # fmt: skip
    out += added
    return sorted(out, key=lambda m: (m.start, -m.end))


TAKEN_OUT = "taken out in the card"
ADDED = "added in the card"


def _same_recipes(
    script: Read,
    cards: Sequence[WrittenRecipe],
    of_line: dict[tuple[int, int], Span],
    by_span: dict[Span, list[tuple[int, int]]],
) -> dict[int, int]:
    """Recipe of the reader → recipe of the cards, by the lines and titles they share."""
    votes: defaultdict[int, Counter[int]] = defaultdict(Counter)
    for (recipe, _), span in of_line.items():
        places = by_span.get(span, ())
        for card, _ in places:
            votes[recipe][card] += 1
    spans = {card.place.span: card.position or 0 for card in cards if card.place.span}
    for mark in script.marks:
        if mark.kind == "title" and mark.recipe is not None and (mark.start, mark.end) in spans:
            votes[mark.recipe][spans[mark.start, mark.end]] += 3
    names = {card.title: card.position or 0 for card in cards}
    for at, raw in enumerate(script.recipes):
        if raw.title in names:
            votes[at][names[raw.title]] += 1
    return {recipe: count.most_common(1)[0][0] for recipe, count in votes.items()}


def _moved(
    mark: RawMark,
    of_line: dict[tuple[int, int], Span],
    by_span: dict[Span, list[tuple[int, int]]],
    to_card: dict[int, int],
    totals: list[tuple[Span, int]],
    titles: dict[Span, int],
    used: set[Span],
    shared: dict[Span, set[int | None]],
) -> list[RawMark]:
    """A reader's mark where the cards have it; nothing when it went with its line."""
    home = None if mark.recipe is None else to_card.get(mark.recipe)
    span = (mark.start, mark.end)
    out = replace(mark, kind="left_out", recipe=None, line=None, note=TAKEN_OUT)
    if mark.recipe is not None and mark.line is not None:
        places = by_span.get(of_line[mark.recipe, mark.line], [])
        owners = shared[of_line[mark.recipe, mark.line]]
        here = [p for p in places if p[0] == home] or [p for p in places if p[0] not in owners]
        if not here:
            return [out] if mark.kind == "ingredient" else []
        used.add(of_line[mark.recipe, mark.line])
        return [replace(mark, recipe=here[0][0], line=here[0][1])]
    if mark.kind == "total":
        for (start, end), card in totals:
            if start <= mark.start and mark.end <= end:
                used.add((start, end))
                return [replace(mark, recipe=card)]
        return [out]
    if mark.kind == "title":
        if span in titles:
            used.add(span)
            return [replace(mark, recipe=titles[span])]
        return [out]
    return [replace(mark, recipe=home)]


def _added(
    script: Read,
    cards: Sequence[WrittenRecipe],
    by_span: dict[Span, list[tuple[int, int]]],
    totals: list[tuple[Span, int]],
    used: set[Span],
    length: int,
) -> Iterator[RawMark]:
    """Marks of what the cards hold and the reader did not see."""
    when = {
        entry.place.span: entry.place.when
        for card in cards
        for entry in [*card.lines, *card.stated, Entry(card.at, card.title, card.place)]
        if entry.place.span
    }
    reader = {(m.start, m.end): m for m in script.marks}

    def made(span: Span, kind: str, recipe: int, line: int | None) -> RawMark:
        known = reader.get(span)
        seconds = known.start_s if known else seconds_of(when.get(span, ""))
        end = known.end_s if known else NAN
        return RawMark(*span, kind, recipe, line, seconds, end, ADDED)

    for span, places in by_span.items():
        if span not in used and span[0] < span[1]:
            yield made(span, "ingredient", *places[0])
    for span, card in totals:
        if span not in used and span[0] < span[1] <= length:
            yield made(span, "total", card, None)
    for one in cards:
        span_of = one.place.span
        if span_of and span_of not in used and span_of[0] < span_of[1] <= length:
            yield made(span_of, "title", one.position or 0, None)
