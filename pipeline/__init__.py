"""Steelyard: stated calories and macros against what the ingredient lines add up to.

``pipeline.verify(...)`` is the Python interface; the stages are the sub-packages, in order of flow:
intake, lines, match, weigh, compute, reconcile, report.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.run import Result, verify

__version__ = "0.1.0"
__all__ = ["Result", "__version__", "verify"]


def __getattr__(name: str) -> Any:
    if name in {"verify", "Result"}:  # late, so that `import pipeline` costs nothing
        from pipeline import run

        return getattr(run, name)
    raise AttributeError(f"module 'pipeline' has no attribute {name!r}")
