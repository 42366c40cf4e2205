"""A spoken script with what was understood marked in place, as the tokens a template lays out.

Marks may lie within one another, touch or overlap, and several may say the same of the same words
(a line of a shared base, once for each recipe). Here they become nested nodes over paragraphs: what
overlaps is cut, what says the same is put together, and a link never lies within a link.
"""

from __future__ import annotations

import heapq
import re
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from pipeline.report.words import SCRIPT_KIND, listing, plural

if TYPE_CHECKING:
    import pandas as pd

#: Of marks over the same words the first lies outside.
_RANK = {kind: at for at, kind in enumerate(SCRIPT_KIND)}
#: A paragraph ends at the first sentence end after so many characters, at any line end after twice.
_LONG = 420
#: A paragraph is not cut within a mark shorter than this.
_WHOLE = 300
#: Problems of one kind in one script that are listed one by one; more share one row.
MOST_ALIKE = 2
_CUT = re.compile(r"(?P<blank>\n\s*\n\s*)|(?P<line>\n)|(?<=[.?!])(?P<stop>[ \t]+)")

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Target:
    """A recipe or one of its lines that words became."""

    recipe_id: str
    line_no: int | None


@dataclass(slots=True)
class Mark:
    """What was understood of some words.

    Attributes:
        number: place among the marks of the script, from 1.
        start, end: characters of the script's text, end exclusive.
        kind: of ``tables.SCRIPT_MARK_KINDS``.
        targets: recipes and lines, in the order of the recipes; several when a line is shared.
        seconds: in the recording, NaN when the file has no times.
        note: why, in plain words, "" for nothing to say.
    """

    number: int
    start: int
    end: int
    kind: str
    targets: list[Target]
    seconds: float
    note: str

    @property
    def key(self) -> str:
        """Its name in addresses: it holds as long as the words do."""
        return f"{self.start}-{self.end}-{self.kind}"

    @property
    def label(self) -> str:
        return SCRIPT_KIND[self.kind][0]


@dataclass(slots=True)
class Node:
    """A mark, or what a cut left of it, with the nodes inside it."""

    mark: Mark
    start: int
    end: int
    first: bool
    inside: list[Node] = field(default_factory=list)
    href: str = ""
    handle: bool = False
    title: str = ""

    def all_inside(self) -> Iterator[Node]:
        """The nodes inside it, at any depth."""
        ahead = list(self.inside)
        while ahead:
            node = ahead.pop()
            yield node
            ahead += node.inside


@dataclass(frozen=True, slots=True)
class Token:
    """Text, or the beginning (``node``) or the end (``ends``) of a node."""

    text: str = ""
    node: Node | None = None
    ends: Node | None = None


@dataclass(frozen=True, slots=True)
class ScriptView:
    """A script as it is shown.

    Attributes:
        source: its file.
        text: the spoken words.
        words: how many were said; ``marked_share`` of them lie in a mark, 0 to 1.
        counts: kind, its name, what it means, how many marks; kinds that do not occur are left out.
        marks: in the order of the text.
        paragraphs: the text. Of each: start, its first character; time, when it is said, "" when the
            file has no times; recipe, title and address of the recipe that begins here, None when none
            does; tokens, its text and the beginning (``node``) or end (``ends``) of each mark.
    """

    source: str
    text: str
    words: int
    marked_share: float
    counts: list[tuple[str, str, str, int]]
    marks: list[Mark]
    paragraphs: list[SimpleNamespace]

    def words_of(self, mark: Mark) -> str:
        """The words a mark lies over."""
        return " ".join(self.text[mark.start : mark.end].split())

    def with_reasons(self, kind: str) -> list[Mark]:
        """Marks of a kind, for a list of what was left out and why."""
        return [mark for mark in self.marks if mark.kind == kind]


def script_view(
    source: str,
    text: str,
    marks: Iterable[Row],
    titles: dict[str, str],
    texts: dict[tuple[str, int], str],
    link: Callable[[Mark], str],
    page: Callable[[str], str],
    *,
    handles: bool = False,
) -> ScriptView:
    """Lay marks over a script.

    Args:
        text: the spoken words, as in ``tables.SCRIPT``.
        marks: rows of ``tables.SCRIPT_MARK`` of this script, in any order. What lies outside the
            text, is empty or of an unknown kind is passed over.
        titles: recipe_id → title; ``texts``: (recipe_id, line_no) → line.
        link: address a mark leads to, "" for none.
        page: recipe_id → its address, "" for none.
        handles: give a mark that holds other links a small link of its own before its words.
    """
    merged = _merged(text, marks)
    paragraphs = []
    begins = _begins(merged)
    for start, end, roots in _laid(text, merged, [m.start for m in begins.values()]):
        _linked(roots, link, lambda mark: mark_title(mark, titles, texts), handles)
        here = next((r for r, m in begins.items() if start <= m.start < end), None)
        paragraphs.append(
            SimpleNamespace(
                start=start, time=_time(merged, start, end),
                recipe=(titles.get(here, here), page(here)) if here else None,
                tokens=_tokens(text, start, end, roots),
            )
        )  # fmt: skip
    counts = Counter(mark.kind for mark in merged)
    words = [m.span() for m in re.finditer(r"\S+", text)]
    kinds = [(k, *SCRIPT_KIND[k], counts[k]) for k in SCRIPT_KIND if counts[k]]
    share = _share(words, merged)
    return ScriptView(source, text, len(words), share, kinds, merged, paragraphs)


def line_texts(line: pd.DataFrame) -> dict[tuple[str, int], str]:
    """(recipe_id, line_no) → text, of rows of ``tables.LINE``."""
    return dict(
        zip(zip(line["recipe_id"], line["line_no"], strict=True), line["text"], strict=True)
    )


def short_time(seconds: float) -> str:
    """ "03:12", "1:03:12", "" for NaN."""
    if seconds != seconds:
        return ""
    hours, rest = divmod(int(seconds), 3600)
    return (f"{hours}:" if hours else "") + f"{rest // 60:02}:{rest % 60:02}"


def mark_title(mark: Mark, titles: dict[str, str], texts: dict[tuple[str, int], str]) -> str:
    """A mark in words: what it is, what became of it, when it was said, and why.

    Args:
        titles: recipe_id → title.
        texts: (recipe_id, line_no) → line.
    """
    parts = [mark.label]
    names = list(dict.fromkeys(titles.get(t.recipe_id, "") for t in mark.targets if t.recipe_id))
    names = [n for n in names if n]
    first = next((t for t in mark.targets if t.line_no is not None), None)
    if first is not None and first.line_no is not None:
        line = texts.get((first.recipe_id, first.line_no), "")
        parts.append(f"“{line}”, line {first.line_no} of {listing(names, 2)}" if names else line)
    elif names:
        parts.append(f"of {listing(names, 2)}")
    if mark.note:
        parts.append(mark.note)
    time = short_time(mark.seconds)
    if time:
        parts.append(f"said at {time}")
    return f"{parts[0]}: {'; '.join(parts[1:])}" if len(parts) > 1 else parts[0]


def summary(shown: ScriptView) -> str:
    """The counts in a sentence."""
    counts = [plural(n, *_FORMS.get(k, (name,))) for k, name, _, n in shown.counts]
    said = f"{plural(shown.words, 'word')}: {', '.join(counts)}"
    return said if counts else "nothing was understood"


def fold_alike(problems: pd.DataFrame, sources: Collection[str]) -> pd.DataFrame:
    """Tell many problems of one kind in one script in one row: the script itself shows each.

    Args:
        problems: columns ``problems.PROBLEM_COLUMNS``.
        sources: scripts that are shown.

    Returns:
        The rows to show, in their order, with a column ``folded`` for those that stand for more.
        Errors are never folded.
    """
    folded = problems.assign(folded=False)
    if problems.empty or not sources:
        return folded
    spoken = problems["source"].isin(list(sources)) & (problems["severity"] != "error")
    many = problems.groupby(["source", "code"], dropna=False)["what"].transform("size")
    alike = spoken & (many > MOST_ALIKE)
    first = alike & ~problems[alike].duplicated(["source", "code"]).reindex(
        problems.index, fill_value=True
    )
    rest = (many[first] - 1).map(lambda n: plural(int(n), "other", "others"))
    folded.loc[first, "what"] = problems.loc[first, "what"] + ", and " + rest + " like it"
    folded.loc[first, "folded"] = True
    return folded[~alike | first]


_FORMS = {
    "amount": ("amount",), "left_out": ("stretch left out", "stretches left out"),
    "base": ("shared base",), "property": ("product property", "product properties"),
}  # fmt: skip


def _merged(text: str, rows: Iterable[Row]) -> list[Mark]:
    """Marks in order; those of one kind over the same words are one with several targets."""
    together: dict[tuple[int, int, str], Mark] = {}
    for row in rows:
        start, end, kind = max(int(row["start"]), 0), min(int(row["end"]), len(text)), row["kind"]
        while start < end and text[start].isspace():
            start += 1
        while start < end and text[end - 1].isspace():
            end -= 1
        if start >= end or kind not in SCRIPT_KIND:
            continue
        mark = together.get((start, end, kind))
        if mark is None:
            seconds = row["start_s"]
            mark = together[start, end, kind] = Mark(
                0, start, end, kind, [], seconds if isinstance(seconds, float) else float("nan"),
                str(row["note"] or ""),
            )  # fmt: skip
        line_no = row["line_no"]
        known = line_no is not None and line_no == line_no
        target = Target(str(row["recipe_id"] or ""), int(line_no) if known else None)
        if (target.recipe_id or target.line_no is not None) and target not in mark.targets:
            mark.targets.append(target)
    ordered = sorted(together.values(), key=lambda m: (m.start, -m.end, _RANK[m.kind]))
    for number, mark in enumerate(ordered, start=1):
        mark.number = number
    return ordered


def _share(words: Sequence[tuple[int, int]], marks: Sequence[Mark]) -> float:
    """Which share of the words lies in a mark that is not one of being left out."""
    covered, at, count = 0, 0, 0
    spans = [(m.start, m.end) for m in marks if m.kind != "left_out"]
    for start, end in words:
        while at < len(spans) and spans[at][0] <= start:
            covered = max(covered, spans[at][1])
            at += 1
        count += end <= covered or start < covered
    return count / len(words) if words else 0.0


def _begins(marks: Sequence[Mark]) -> dict[str, Mark]:
    """Each recipe's first mark that is its own: its title, else what belongs to it alone."""
    out: dict[str, Mark] = {}
    for mark in marks:
        recipes = {t.recipe_id for t in mark.targets if t.recipe_id}
        if len(recipes) == 1 and mark.kind in ("title", "ingredient", "total", "reference"):
            out.setdefault(recipes.pop(), mark)
    return out


def _cuts(text: str, marks: Sequence[Mark], begins: Sequence[int]) -> list[int]:
    """Where paragraphs begin, the end of the text at the end; a recipe begins in one of its own."""
    whole = [(m.start, m.end) for m in marks if m.end - m.start < _WHOLE]
    places = [found.end() for found in _CUT.finditer(text)]
    fresh = {places[at - 1] for b in begins if (at := bisect_right(places, b)) > 0}
    cuts, begin, at, reach = [0], 0, 0, 0
    for found in _CUT.finditer(text):
        place = found.end()
        while at < len(whole) and whole[at][0] < place:
            reach = max(reach, whole[at][1])
            at += 1
        if place < reach or place >= len(text):
            continue
        long = place - begin
        ended = text[found.start() - 1 : found.start()] in ".?!"
        if (
            found["blank"]
            or (long > _LONG and ended)
            or (long > 2 * _LONG and found["line"])
            or (place in fresh and long > 1)
        ):
            cuts.append(place)
            begin = place
    return [*cuts, len(text)]


def _laid(
    text: str, marks: Sequence[Mark], begins: Sequence[int]
) -> Iterator[tuple[int, int, list[Node]]]:
    """Each paragraph with its nodes."""
    cuts = _cuts(text, marks, begins)
    at = 0
    open_marks: list[Mark] = []
    for start, end in pairwise(cuts):
        open_marks = [m for m in open_marks if m.end > start]
        while at < len(marks) and marks[at].start < end:
            open_marks.append(marks[at])
            at += 1
        yield start, end, _nested(open_marks, start, end)


def _nested(marks: Sequence[Mark], start: int, end: int) -> list[Node]:
    """Nodes of one paragraph: whatever reaches over the end of an outer one is cut there."""
    ahead = [(max(m.start, start), -min(m.end, end), _RANK[m.kind], m.number, m) for m in marks]
    heapq.heapify(ahead)
    roots: list[Node] = []
    stack: list[Node] = []
    while ahead:
        begins, stops, rank, number, mark = heapq.heappop(ahead)
        stops = -stops
        while stack and stack[-1].end <= begins:
            stack.pop()
        limit = stack[-1].end if stack else end
        if stops > limit:
            heapq.heappush(ahead, (limit, -stops, rank, number, mark))
            stops = limit
        node = Node(mark, begins, stops, first=begins == mark.start)
        (stack[-1].inside if stack else roots).append(node)
        stack.append(node)
    return roots


def _linked(
    roots: Iterable[Node], link: Callable[[Mark], str], title: Callable[[Mark], str], handles: bool
) -> None:
    """Give links: to an outermost node, unless what lies inside leads elsewhere."""
    ahead = list(roots)
    while ahead:
        node = ahead.pop()
        node.title = title(node.mark)
        node.href = link(node.mark)
        goals = (t for inner in node.all_inside() for t in inner.mark.targets)
        elsewhere = any(t.line_no is not None and t not in node.mark.targets for t in goals)
        if elsewhere or not node.href:
            node.handle = handles and bool(node.href) and node.first
            if not node.handle:
                node.href = ""
            ahead += node.inside
        else:
            for inner in node.all_inside():
                inner.title = title(inner.mark)


def _tokens(text: str, start: int, end: int, roots: Sequence[Node]) -> list[Token]:
    out: list[Token] = []
    at = start

    def say(until: int) -> None:
        nonlocal at
        if until > at:
            out.append(Token(text=text[at:until]))
            at = until

    todo: list[tuple[Node, bool]] = [(node, True) for node in reversed(roots)]
    while todo:
        node, begins = todo.pop()
        if begins:
            say(node.start)
            out.append(Token(node=node))
            todo.append((node, False))
            todo += [(inner, True) for inner in reversed(node.inside)]
        else:
            say(node.end)
            out.append(Token(ends=node))
    say(end)
    return out


def _time(marks: Sequence[Mark], start: int, end: int) -> str:
    """When a paragraph is said: the time of its first mark that has one."""
    at = bisect_left(marks, start, key=lambda m: m.start)
    for mark in marks[at:]:
        if mark.start >= end:
            break
        if mark.seconds == mark.seconds:
            return short_time(mark.seconds)
    return ""
