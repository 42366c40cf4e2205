"""The best way to lay amounts and foods side by side: one best path over the words.

"oats 50 grams yogurt 150 grams" and "50 grams oats 150 grams yogurt" hold the same words; which
amount belongs to which food is decided for the whole run at once (Viterbi over ``tiles``), not from the
left word by word.
"""

from __future__ import annotations

from pipeline.intake.spoken.mentions import Chunk
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.tiles import tiles_at, weigh_counted
from pipeline.intake.spoken.topics import with_topics

_TURN = 0.4  # the order of amount and food changes


def tiling(talk: Talk, blocked: list[bool]) -> list[Chunk]:
    """The best tiles over all words that ``blocked`` leaves free.

    Who names the food before its amount goes on to do so: a change of order costs a little, so a
    path is known by its place and by the order of the last pair in it.
    """
    weigh_counted(talk)
    best: list[dict[str, float]] = [{} for _ in range(talk.n + 1)]
    back: list[dict[str, tuple[int, str, Chunk | None]]] = [{} for _ in range(talk.n + 1)]
    best[0][""] = 0.0

    def reach(at: int, order: str, score: float, came: tuple[int, str, Chunk | None]) -> None:
        if score > best[at].get(order, -1.0):
            best[at][order], back[at][order] = score, came

    for at in range(talk.n):
        for order, score in best[at].items():
            reach(at + 1, order, score, (at, order, None))
        if blocked[at]:
            continue
        for gain, chunk in tiles_at(talk, at):
            if any(blocked[at : chunk.end]):
                continue
            own = chunk.order
            for order, score in best[at].items():
                turned = own and order and own != order
                reach(
                    chunk.end, own or order, score + gain - (_TURN if turned else 0.0),
                    (at, order, chunk),
                )  # fmt: skip
    out: list[Chunk] = []
    at, order = talk.n, max(best[talk.n], key=lambda o: best[talk.n][o])
    while at > 0:
        at, order, ending = back[at][order]
        if ending is not None:
            out.append(ending)
    return with_topics(talk, out[::-1], blocked)
