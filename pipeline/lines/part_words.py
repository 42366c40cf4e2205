"""Words of a note that name a part of the food: "juiced", "zested", "whites only", "flesh only"."""

from __future__ import annotations

from pipeline.foods.words import singular
from pipeline.lines.draft import Draft
from pipeline.lines.further import comma_end
from pipeline.lines.measures import read_measure
from pipeline.lines.tokens import NUMBER
from pipeline.lines.vocabulary import LEXICON, NO_WORD, PART_OF, group

_CITRUS = group("citrus")


def note_part(d: Draft, i: int, limit: int, first: int) -> None:
    """ "juiced", "zested and juiced", "whites only" after the name; a citrus fruit that is squeezed."""
    word = d.t.word
    w = word[i]
    squeezed = w == "squeezed" and d.name and singular(d.name[-1]) in _CITRUS
    part = "juice" if squeezed and d.measures else PART_OF.get(w, w)
    if part in ("juice", "zest") and w not in ("peel", "rind"):
        _juice_or_zest(d, i, first, comma_end(d, i, limit), part)
    elif part in ("white", "yolk"):
        only = word[i + 1] == "only" or (i == first and i + 1 >= limit)
        if only and any(n.startswith("egg") for n in d.name):
            d.part = part
            d.name[:] = ["egg", d.part]
    elif w in ("seeds", "flesh") and word[i + 1] == "only":
        d.part = w


def _juice_or_zest(d: Draft, i: int, first: int, stop: int, part: str) -> None:
    """Juice or zest at token ``i`` of a note's part, tokens ``first`` to ``stop``."""
    word, w = d.t.word, d.t.word[i]
    segment = word[first:stop]
    zest = w.startswith("zest")
    begins = i == first or w.endswith("ed") or (
        word[i - 1] in ("and", "&", "finely", "grated", "the", "zest", "juice")
    )  # fmt: skip
    if d.part == "zest" and word[i : i + 3] == ["juice", "of", "half"]:
        d.others.append((first, i, stop))  # "zest of 1 lemon and juice of half"
        return
    if not d.measures and i == first and word[i + 1] == "of":  # "lime, juice of half"
        of = read_measure(d.t, i + 2)
        if of is not None and of.next >= stop:
            d.take(of)
            d.set_part([w])
            return
    if "half" in segment or not begins or d.name[-1:] in (["juice"], ["zest"]):
        return
    if NUMBER in d.t.kind[first:stop]:
        if d.part == "zest" and w == "juice":  # "zest of 1 lemon, juice of 2"
            d.others.append((first, i, stop))
        return  # "1 juiced and 1 cut into wedges"
    if zest and "grated" not in segment and any(map(_cut_up, segment)):
        return  # "zested and segmented": all of it is used
    if d.part != "juice":
        d.set_part([part, *([d.part] if d.part else [])])
    elif zest:
        d.flags.add("zest_too")


def _cut_up(word: str) -> bool:
    entry = LEXICON.get(word, NO_WORD)
    return entry.prep == "cut" and entry.role != "part"
