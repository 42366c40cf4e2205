"""Names that come near what a person typed, for messages that offer them."""

from __future__ import annotations

from collections.abc import Iterable

_CLOSE = 0.4


def near_names(
    typed: str, names: Iterable[str], most: int = 4, cutoff: float = _CLOSE
) -> list[str]:
    """Of some names, those that are spelled much like the one typed or hold a word of it.

    Args:
        typed: the name as typed; case and spacing do not matter.
        names: that there are, as they are shown.
        most: how many to give.
        cutoff: how alike the spelling has to be, 0 to 1.

    Returns:
        The nearest first.
    """
    import difflib  # here: most commands offer nothing

    plain = " ".join(typed.casefold().split())
    lower = {name.casefold(): name for name in names if name.strip()}
    near = difflib.get_close_matches(plain, list(lower), 3, cutoff)
    said = [word for word in plain.split() if len(word) > 2]
    near += [n for n in lower if n not in near and any(w in n.split() for w in said)]
    return [lower[n] for n in near[:most]]


def offered(names: Iterable[str]) -> str:
    """'did you mean "a" or "b"?', "" for none."""
    quoted = " or ".join(f'"{name}"' for name in names)
    return f"did you mean {quoted}?" if quoted else ""
