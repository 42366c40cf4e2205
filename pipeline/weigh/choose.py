"""Several measures on one line: which counts, and what the others say against it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

from pipeline.lines.model import Measure
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate, as_written, figure
from pipeline.weigh.packages import drained_beside
from pipeline.weigh.stated import weigh_measure
from pipeline.weigh.volume import METRIC_VOLUMES
from pipeline.weigh.ways import one_unit

#: Two measures of one line may differ by this much before it is worth a remark.
DISAGREES = 1.35
#: A weight and a volume so far apart are no loose or pressed cup: one of them is a slip, so the
#: line is asked (a loose and a pressed cup of one food differ by up to three, SR28).
FAR_APART = 3.0
#: A weight beside a count says what such a piece weighs: only a slip is further apart.
PIECE_DISAGREES = 2.5
#: How much nearer, in logs, the weight of each must be than that of all, to be asked.
_NEARER = 0.35
#: What is cut into pieces is cut into lighter ones (common practice).
_PIECE_G = 500.0
#: A measure whose own weight spans more than this factor says little against another.
_VAGUE = 3.0
#: Weights go first, then stated contents, metric volumes, other volumes, and these kinds.
_RANK = {"package": 4, "count": 5, "trade": 6, "length": 7, "share": 8}


class Chosen(NamedTuple):
    """The measure that counts, weighed (None: it cannot be), and codes of what is doubtful."""

    measure: Measure
    found: Estimate | None
    problems: tuple[str, ...]


def choose(case: Case) -> Chosen:
    """The measure of a line that counts."""
    measures = case.parsed.measures
    if len(measures) == 1:
        return _alone(measures[0], weigh_measure(case, measures[0]))
    ordered = sorted(measures, key=_precedence)
    first = ordered[0]
    counted = next((m for m in measures if m.kind in ("package", "count")), None)
    merged = _merged(case, first, counted)
    chosen = _alone(merged, weigh_measure(case, merged)) if merged is not None else None
    if chosen is None or chosen.found is None:
        weighed = ((m, weigh_measure(case, m, counted)) for m in ordered)
        one = next(((m, found) for m, found in weighed if found is not None), None)
        if one is None:
            return Chosen(first, None, ())
        chosen = _alone(*one)
        if merged is None and counted and first.kind == "mass" and chosen.measure is first:
            chosen = _maybe_each(case, counted, chosen)
    used = (first, chosen.measure, counted if merged is not None else None)
    others = [m for m in measures if not any(m is known for known in used)]
    return _against(case, chosen, first, others)


def _alone(measure: Measure, found: Estimate | None) -> Chosen:
    return Chosen(measure, found, (found.problem,) if found is not None and found.problem else ())


def _precedence(measure: Measure) -> int:
    if measure.kind == "mass":
        return 0
    if measure.each is not None:
        return 1
    if measure.kind == "volume":
        return 2 if measure.unit in METRIC_VOLUMES else 3
    return _RANK[measure.kind]


def _merged(case: Case, first: Measure, counted: Measure | None) -> Measure | None:
    """A weight or volume beside a count, as what each or all of the counted hold."""
    if counted is None:
        return None
    if first.kind == "mass":
        return _content_of(case, counted, first)
    if first.kind == "volume" and counted.kind == "package":
        return replace(counted, each=first)
    return None


def _content_of(case: Case, counted: Measure, weight: Measure) -> Measure | None:
    """A count beside a weight: the weight of each, or of all of it?

    Of tins it is each ("2 (400 g) tins"); of pieces all of it, unless that would make a
    piece less than half of what its kind weighs. None: the weight stands alone.
    """
    net = "net_weight" in case.parsed.flags  # "1 x 400 g tin chickpeas (240 g drained)"
    total = case.kitchen.units.grams.get(weight.unit, 0.0) * weight.amount
    if counted.each is not None:
        left = drained_beside(case, counted, weight, total)
        if left is not None and (counted.amount != 1 or not net):
            return left
        if not net:
            return counted
    if counted.kind == "package":
        if weight.of_text[0] < counted.of_text[0]:  # "530 g beans (about 2 cans)": of them all
            n = counted.amount if counted.amount > 0 else 1.0
            low, high = weight.low / n, weight.high / n
            each = replace(weight, amount=weight.amount / n, low=low, high=high)
            return replace(counted, each=each, amount=n, low=n, high=n)
        return replace(counted, each=weight)
    behind = counted.of_text[0] > weight.of_text[0]
    if counted.amount >= 2 and not behind and not _too_heavy(case, total):
        one = one_unit(case, counted.unit, counted.size)
        if one is not None and total and total / counted.amount < 0.5 * one.low:
            return replace(counted, each=weight, of_text=weight.of_text)
    return None


def _too_heavy(case: Case, grams: float) -> bool:
    """ "8 pieces chicken (900 g)": a weight that none of some pieces has, for none is a whole one."""
    parsed = case.parsed
    cut_up = "piece_written" in parsed.flags or parsed.name.endswith(" piece")
    return cut_up and grams > _PIECE_G


def _maybe_each(case: Case, counted: Measure, chosen: Chosen) -> Chosen:
    """ "4 portions noodles (120 g)", taken as the weight of all: asked when each is likelier."""
    weight, found = chosen.measure, chosen.found
    one = one_unit(case, counted.unit, counted.size) if counted.kind == "count" else None
    total = case.kitchen.units.grams.get(weight.unit, 0.0) * weight.amount
    if found is None or one is None or not one.grams or counted.amount < 2 or not total:
        return chosen
    if counted.of_text[0] > weight.of_text[0] or case.parsed.remarks.each_or_all(weight):
        return chosen
    if _too_heavy(case, total):
        return chosen
    as_each = abs(math.log(total / one.grams))
    if as_each + _NEARER > abs(math.log(total / counted.amount / one.grams)):
        return chosen
    found = found._replace(
        high=found.high * counted.amount,
        why=f"{found.why}; it may be of each of the {counted.amount:g}",
    )
    return Chosen(weight, found, (*chosen.problems, "weight-each-or-total"))


def _against(case: Case, chosen: Chosen, first: Measure, others: list[Measure]) -> Chosen:
    """What the measures that do not count say against the one that does."""
    found, problems = chosen.found, chosen.problems
    for other in others:
        second = weigh_measure(case, other)
        if found is None or second is None or not second.grams or not found.grams:
            continue
        apart = max(second.grams / found.grams, found.grams / second.grams)
        vague = second.high > _VAGUE * second.low  # "a splash, about 60 ml" may be 60 ml
        least, most = (0.5, 2.0) if vague else (0.9, 1.1)
        outside = found.grams < second.low * least or found.grams > second.high * most
        limit = PIECE_DISAGREES if other.kind in ("count", "trade") else DISAGREES
        if apart > limit and outside and not second.problem:
            problems = (*problems, "dual-measure-disagrees")
            if {first.kind, other.kind} == {"mass", "volume"} and apart > FAR_APART:
                problems = (*problems, "amount-unusual")  # no food is so light or so heavy
            why = f"{found.why}; the line also says {as_written(other)}, {figure(second.grams)} g by the"
            found = found._replace(why=why + " tables, too far apart")
    return Chosen(chosen.measure, found, problems)


def holds_added(case: Case, measure: Measure, grams: float) -> bool:
    """Whether a weight behind "2 cups + 2 tbsp" is of both: which sum it lies nearer."""
    parsed = case.parsed
    if measure.kind != "mass" or not grams > 0:
        return False
    others = [m for m in parsed.measures if m.kind in ("volume", "count")]
    before = measure.of_text[0]
    if not others or any(extra.of_text[1] > before for extra in parsed.plus):
        return False
    first = weigh_measure(case, others[0])
    added = [weigh_measure(case, extra) for extra in parsed.plus]
    if first is None or not first.grams > 0 or not all(added):
        return True
    both = first.grams + sum(more.grams for more in added if more is not None)
    said = math.log(grams)
    return abs(said - math.log(both)) < abs(said - math.log(first.grams))
