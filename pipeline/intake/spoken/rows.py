"""Numbers told bare, always in one order: "510, 39, 45, 19" under every recipe.

The order is that of the words where the speaker says it once ("they go calories, protein, carbs,
fat") or labels some of his numbers; else it is the one in which 4 P + 4 C + 9 F gives the energy in
most rows of the script (21 CFR 101.9(c)(1)(i)(B)). Of protein and carbohydrate, which that cannot
tell apart, protein comes first, as in most speech.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise, permutations

from pipeline.intake.spoken.labels import LABELS, number_at
from pipeline.intake.spoken.stated import CARBS, ENERGY, FAT, PROTEIN, Item, Stated, Total, off
from pipeline.intake.spoken.totals import Totals

_TAGS = (ENERGY, PROTEIN, CARBS, FAT)
_NEAR = 0.15  # share of the energy by which a row may miss it
_SURE = 0.06  # and a row that stands alone
_LEAST_KCAL = 40
_APART = 4  # words between two nutrients told in a row

Order = tuple[str, ...]


def add_rows(totals: Totals) -> None:
    """Take the bare rows of a script into its statements."""
    runs = _runs(totals)
    told = _told(totals)
    orders = [told] if told else list(permutations(_TAGS))

    def right(order: Order) -> list[bool]:
        return [_fits(run, order) < (_NEAR if len(runs) > 1 or told else _SURE) for run in runs]

    best = max(orders, key=lambda order: sum(right(order)))
    fits = right(best)
    if 2 * sum(fits) <= len(runs):
        return
    added = []
    for run in (run for run, fit in zip(runs, fits, strict=True) if fit):
        parts = [
            Stated(x.start, x.end, tag, x.value or 0.0) for x, tag in zip(run, best, strict=False)
        ]
        added.append(Total(run[0].start, run[3].end, parts))
    inside = [(t.start, t.end) for t in added]
    kept = [t for t in totals.found if not any(a <= t.start < b for a, b in inside)]
    totals.found = sorted([*kept, *added], key=lambda t: t.start)


def _runs(totals: Totals) -> list[list[Item]]:
    """Four numbers or more right behind one another, the word for energy between at most."""
    talk = totals.talk
    labelled = {
        at for t in totals.found for p in t.parts if p.tag != ENERGY for at in range(p.start, p.end)
    }
    runs: list[list[Item]] = [[]]
    for at in range(talk.n):
        item = number_at(talk, at) if at not in labelled else None
        if item is None:
            continue
        if runs[-1] and not _goes_on(totals, runs[-1][-1].end, at):
            runs.append([])
        runs[-1].append(item)
    return [run for run in runs if len(run) >= len(_TAGS)]


def _goes_on(totals: Totals, start: int, end: int) -> bool:
    between = totals.talk.text[start:end]
    return len(between) < 3 and all(
        w in ("and", "with") or LABELS.get(w) == ENERGY for w in between
    )


def _told(totals: Totals) -> Order:
    """The order the speaker tells, or that of most statements he labels; () for none."""
    talk, votes = totals.talk, []
    for total in totals.found:
        votes.append(tuple(p.tag for p in sorted(total.parts, key=lambda p: p.start)))
    named = [(at, tag) for at in range(talk.n) if (tag := LABELS.get(talk.text[at], "")) in _TAGS]
    row: list[str] = []
    for (before, _), (at, tag) in pairwise([(-100, ""), *named]):
        near = at - before <= _APART and not any(map(talk.counts, range(before, at)))
        row = [*row, tag] if near else [tag]
        votes.append(tuple(row))
    votes = sorted(v for v in votes if sorted(v) == sorted(_TAGS))
    counted = [(len(list(group)), order) for order, group in groupby(votes)]
    return max(counted)[1] if counted else ()


def _fits(run: Sequence[Item], order: Order) -> float:
    """Share by which a row misses its energy in an order."""
    values = {tag: item.value or 0.0 for tag, item in zip(order, run, strict=False)}
    energy = values.pop(ENERGY)
    return off(energy, values) if energy >= _LEAST_KCAL else 1.0
