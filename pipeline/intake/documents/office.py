"""What Word and OpenDocument texts share: an archive whose body is walked into blocks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from pipeline.intake.documents.archive import MAX_DEPTH, Archive
from pipeline.intake.documents.blocks import Block, card_lines
from pipeline.intake.documents.places import text_boxes
from pipeline.intake.model import Read, RefusedError
from pipeline.intake.text.card import read_cards
from pipeline.problems import input_problem


class Body(Protocol):
    """The main text of a document; ``boxes`` counts the text boxes left out on the way."""

    boxes: int

    def read(self) -> list[Block]:
        """Its blocks in reading order.

        Raises:
            RecursionError: its elements nest too deep.
        """


def read_office(
    path: Path, source: str, kind: str, format: str, body_of: Callable[[Archive], Body]
) -> Read:
    """Recipes of a document; never raises.

    Args:
        body_of: opens the parts it needs; may raise ``RefusedError``.
    """
    found = Read()
    try:
        with Archive(path, kind, source) as archive:
            body = body_of(archive)
        blocks = body.read()
    except RefusedError as refused:
        found.problems.append(refused.problem)
    except RecursionError:
        found.problems.append(
            input_problem("document-too-deep", source=source, kind=kind, levels=MAX_DEPTH)
        )
    else:
        found = read_cards(card_lines(blocks), source, format=format)
        found.problems[:0] = text_boxes(body.boxes, source)
    found.found = f"{'an' if kind[0] in 'AEIO' else 'a'} {kind}"
    return found
