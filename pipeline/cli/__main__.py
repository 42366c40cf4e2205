"""``python -m pipeline.cli`` is ``steelyard``."""

from pipeline.cli import console

console()
