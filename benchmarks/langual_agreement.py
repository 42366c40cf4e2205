"""Profiles against USDA's own LanguaL codes: what agreement means, facet by facet.

USDA coded 2,662 foods of SR28 by hand (LANGUAL and LANGDESC of the full release). Codes are brought
to the classes that a profile tells apart:

- C, part: kinds of part (seed, fruit with or without peel, root, leaf, liver ...); of meat whether it
  has skin, fat and lean, lean only. Stone and core of a fruit, the coat of a seed are not told apart.
- F, heat treatment: none, partial, full.
- G, cooking: the method's family: roasted or baked, grilled, toasted, microwaved, boiled, simmered or
  stewed, braised, steamed, cooked in fat.
- J, preservation: sterilized, dried, frozen, chilled, pasteurized, chemicals or acids, fermented.
- K, packing medium: water, sweetened liquid, juice, oil, brine, vinegar, broth; a vacuum is none.

"Not known" and "none used" both agree with an empty answer. A food agrees when every class that we
give is one of USDA's, or its broader or narrower term ("meat" and "meat without skin"); and when both
give none. Answering where USDA says "not known" is a disagreement, and so is the other way round.
"""

from __future__ import annotations

import csv
import zlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

FACETS = "CFGJK"
#: Codes that say nothing: not known, not applicable, none used.
_NOTHING = frozenset(
    [
        "C0001",
        "C0005",
        "F0001",
        "G0001",
        "G0003",
        "J0001",
        "J0003",
        "K0001",
        "K0003",
        "K0027",
        "K0031",
    ]
)
_CLASSES = {
    "roasted or baked": "G0004 G0005 G0044",
    "boiled": "G0012 G0013 G0014 G0015 G0018",
    "steamed": "G0021 G0023",
    "cooked in fat": "G0024 G0025 G0026 G0027 G0028 G0030",
    "sweetened liquid": "K0012 K0013 K0023 K0024 K0030",
    "juice": "K0016 K0039",
    "vinegar": "K0010 K0029",
    "sterilized": "J0120 J0123",
    "dried": "J0116 J0117 J0130 J0140 J0141 J0144 J0170",
    "chemicals or acids": "J0108 J0155",
    "fruit with peel": "C0137 C0139 C0140",
    "fruit without peel": "C0138 C0229 C0230",
    "fruit": "C0167 C0213",
    "seed": "C0155 C0133 C0132 C0134 C0136 C0227",
    "endosperm": "C0208 C0114",
    "root without peel": "C0240",
    "root with peel": "C0239",
    "root": "C0238 C0100 C0290 C0291 C0306",
    "lean meat": "C0270 C0286",
    "lean and fat meat": "C0269 C0285",
    "meat without skin": "C0268",
    "meat with skin": "C0267 C0265 C0105",
    "meat": "C0125 C0103 C0175 C0243",
    "pod": "C0169 C0158 C0117 C0112",
    "flower": "C0237 C0289",
    "sprout": "C0183 C0102",
    "fruiting body": "C0296 C0247",
    "whole plant": "C0150",
    "plant above the ground": "C0144",
    "leaf": "C0200",
    "stem": "C0101",
    "head": "C0151",
    "part of a plant": "C0174",
    "heated": "F0022",
    "partially heated": "F0018",
    "fully heated": "F0014",
    "edible medium": "K0011",
}
_CLASS_OF = {code: name for name, codes in _CLASSES.items() for code in codes.split()}
_PLANTS = (
    "fruit|fruit with peel|fruit without peel|seed|endosperm|root|root with peel|root without peel|"
    "leaf|pod|flower|head|stem|plant above the ground"
)
#: Broader term → narrower ones.
_NARROWER = {
    "part of a plant": _PLANTS,
    "fruit": "fruit with peel|fruit without peel",
    "root": "root with peel|root without peel",
    "seed": "endosperm",
    "meat": "lean meat|lean and fat meat|meat without skin|meat with skin",
    "meat without skin": "lean meat|lean and fat meat",
    "fruiting body": "whole plant",
    "heated": "partially heated|fully heated",
    "edible medium": "oil|sweetened liquid",
}
_PAIRS = frozenset(
    pair
    for broad, narrow in _NARROWER.items()
    for other in narrow.split("|")
    for pair in ((broad, other), (other, broad))
)


@dataclass(slots=True)
class Agreement:
    """Counts of one facet.

    Attributes:
        coded: foods that USDA coded in it; ``agreed`` of them agree, ``same`` without help of
            broader terms, ``exact`` in the very codes.
        disagreements: (USDA's codes, ours) → descriptions.
    """

    coded: int = 0
    agreed: int = 0
    same: int = 0
    exact: int = 0
    disagreements: dict[tuple[str, str], list[str]] = field(
        default_factory=lambda: defaultdict(list)
    )

    @property
    def share(self) -> float:
        """Agreed of the coded, per cent."""
        return 100.0 * self.agreed / self.coded if self.coded else float("nan")


def read_codes(folder: Path) -> dict[str, dict[str, frozenset[str]]]:
    """LANGUAL.csv: SR number → facet letter → codes."""
    found: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    with (folder / "LANGUAL.csv").open(encoding="utf-8", newline="") as handle:
        for row in csv.DictReader(handle):
            found[row["NDB_No"]][row["Factor_Code"][0]].add(row["Factor_Code"])
    return {
        number: {letter: frozenset(codes) for letter, codes in by_letter.items()}
        for number, by_letter in found.items()
    }


def kept_apart(description: str) -> bool:
    """Whether a food belongs to the half that was never looked at while the rules were written.

    Foods whose first two parts are the same stay together, so that a sibling in the other half
    teaches nothing.
    """
    stem = ",".join(description.lower().split(",")[:2])
    return zlib.crc32(stem.encode()) % 2 == 1


def classes(codes: Iterable[str]) -> frozenset[str]:
    """Classes of a set of codes; a code of no class stands for itself."""
    return frozenset(_CLASS_OF.get(c, c) for c in codes if c not in _NOTHING)


def agrees(usda: frozenset[str], ours: frozenset[str]) -> tuple[bool, bool]:
    """(agree, agree without help of broader terms) of two sets of codes of one facet."""
    theirs, mine = classes(usda), classes(ours)
    if not theirs or not mine:
        return (theirs == mine,) * 2
    loose = all(m in theirs or any((m, t) in _PAIRS for t in theirs) for m in mine)
    return loose, mine <= theirs


def compare(
    descriptions: Sequence[str],
    usda: Sequence[Mapping[str, frozenset[str]]],
    ours: Sequence[Mapping[str, frozenset[str]]],
    facets: str = FACETS,
) -> dict[str, Agreement]:
    """Agreement by facet over foods given as three sequences of equal length."""
    found = {letter: Agreement() for letter in facets}
    for description, theirs, mine in zip(descriptions, usda, ours, strict=True):
        for letter in facets:
            coded = theirs.get(letter)
            if not coded:
                continue
            counts = found[letter]
            given = mine.get(letter, frozenset())
            loose, strict = agrees(coded, given)
            counts.coded += 1
            counts.agreed += loose
            counts.same += strict
            counts.exact += coded == given
            if not loose:
                pair = (" ".join(sorted(coded)), " ".join(sorted(given)) or "none")
                counts.disagreements[pair].append(description)
    return found


def kinds(counts: Agreement) -> list[tuple[tuple[str, str], int]]:
    """Disagreements by kind, the most frequent first."""
    return Counter({pair: len(d) for pair, d in counts.disagreements.items()}).most_common()
