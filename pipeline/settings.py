"""``steelyard.toml`` beside the recipes, and what the command line overrides of it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any, ClassVar, Literal

from pipeline.problems import Problem, failure, input_problem

FILE_NAME = "steelyard.toml"
#: No settings are longer.
MAX_BYTES = 256 * 1024


#: How a single creator counts: carbohydrate with fibre or without, and whose energy.
OwnCarbohydrate = Literal["total", "available"]
OwnEnergy = Literal["table", "atwater", "without fibre"]


def _setting(default: Any, description: str) -> Any:
    return field(default=default, metadata={"description": description})


@dataclass(frozen=True)
class Conventions:
    """How one creator counts; what is left out is as for the collection."""

    carbohydrate: OwnCarbohydrate | None = None
    energy: OwnEnergy | None = None

    __pydantic_config__: ClassVar[Any] = {"extra": "forbid"}


@dataclass(frozen=True)
class Settings:
    """Choices that belong to a collection; the report states each, also where it is the default.

    Values from outside come in through :func:`checked`; ``description`` in the fields' metadata
    documents each setting.
    """

    profile: str = _setting(
        "eu",
        "how far a number may be off: eu, eu_label, us or percent "
        "(shared/tolerances.csv holds them with their sources)",
    )
    percent: float = _setting(10.0, "what the profile percent allows to either side, in percent")
    spoons: Literal["us", "metric", "uk", "au"] = _setting(
        "us", "cups and spoons where a line does not say whose: us, metric, uk or au"
    )
    publish: Literal["eu", "us", "whole"] = _setting(
        "whole",
        "rounding of numbers to publish: whole numbers (whole), 21 CFR 101.9 (us) or the "
        "guidance to EU 1169/2011, with salt (eu); the energy is the computed one",
    )
    energy: Literal["detect", "table", "eu", "atwater"] = _setting(
        "detect",
        "energy of the sums: the food table's own, by the factors of Regulation (EU)"
        " 1169/2011, or 4-4-9; detect: as the collection states it",
    )
    carbohydrate: Literal["detect", "total", "available"] = _setting(
        "detect",
        "carbohydrate with fibre (total, by difference) or without (available);"
        " detect: as the collection states it",
    )
    pantry: str = _setting("", "pantry file beside this one; empty: pantry.csv")
    decisions: str = _setting("", "decisions file beside this one; empty: decisions.csv")
    creator: str = _setting("", "creator of the recipes that name none")
    follow_links: bool = _setting(False, "follow symbolic links that lead out of the collection")
    creators: dict[str, Conventions] = field(
        default_factory=dict,
        metadata={
            "description": "carbohydrate and energy of single creators; a table each, at the end of"
            ' the file: [creators."Name"]'
        },
    )

    __pydantic_config__: ClassVar[Any] = {"extra": "forbid"}

    def carbohydrate_of(self, creator: str) -> OwnCarbohydrate:
        """What this creator alone means by carbohydrate; "total" where the collection's rules."""
        own = self.creators.get(creator)
        return (own.carbohydrate if own else None) or "total"

    def energy_of(self, creator: str) -> OwnEnergy:
        """How this creator alone counts energy; "table" where the collection's rules."""
        own = self.creators.get(creator)
        return (own.energy if own else None) or "table"

    @property
    def has_conventions(self) -> bool:
        """Whether a creator counts otherwise than the collection."""
        return any(
            self.carbohydrate_of(c) != "total" or self.energy_of(c) != "table"
            for c in self.creators
        )


#: What each setting is for.
DESCRIPTIONS: dict[str, str] = {
    item.name: item.metadata["description"] for item in fields(Settings)
}


class InvalidSettings(ValueError):
    """Values that are no settings: ``faults`` has name and reason of each."""

    def __init__(self, faults: list[tuple[str, str]]) -> None:
        super().__init__("; ".join(f"{name}: {why}" for name, why in faults))
        self.faults = faults


def checked(values: Mapping[str, Any]) -> Settings:
    """Settings of plain values.

    Raises:
        InvalidSettings: a key is unknown, or a value of another type or out of range.
    """
    if values == asdict(Settings()):
        return Settings()
    from pydantic import TypeAdapter, ValidationError  # here: it takes 0.1 s to import

    try:
        found = TypeAdapter(Settings).validate_python(values)
    except ValidationError as fault:
        raise InvalidSettings(
            [(".".join(map(str, e["loc"])), e["msg"]) for e in fault.errors()]
        ) from None
    if not 0 < found.percent <= 100:
        raise InvalidSettings([("percent", "it has to be above 0 and at most 100")])
    return found


def unused_percent(settings: Settings) -> list[Problem]:
    """A problem where a percentage was set that the chosen profile does not look at."""
    if settings.profile == "percent" or settings.percent == Settings().percent:
        return []
    percent, profile = settings.percent, settings.profile
    return [input_problem("setting-unused", percent=percent, profile=profile)]


def load_settings(folder: Path) -> Settings:
    """Read ``steelyard.toml`` in ``folder``; defaults when there is none.

    Raises:
        SteelyardError: the file cannot be read, is no TOML, or names an unknown key or a value out of range.
    """
    path, text = folder / FILE_NAME, ""
    if not path.exists():
        return Settings()
    from pipeline.settings_faults import Fault, toml_fault, value_fault

    kinds = {item.name: str(item.type) for item in fields(Settings)}
    try:
        if path.stat().st_size > MAX_BYTES:
            raise OSError(f"it holds {path.stat().st_size:,} bytes; settings are some lines")
        text = path.read_text(encoding="utf-8-sig")
        return checked(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        what, fault = f"{FILE_NAME} is not valid TOML", toml_fault(text, str(error), kinds)
    except OSError as error:
        what, fault = f"{FILE_NAME} cannot be read", Fault(None, error.strerror or str(error))
    except RecursionError:
        what, why = f"{FILE_NAME} is nested deeper than can be read", "no setting is nested"
        fault = Fault(None, why)
    except UnicodeDecodeError as error:
        what, fault = f"{FILE_NAME} is not UTF-8 text", Fault(None, str(error))
    except InvalidSettings as error:
        what = f"{FILE_NAME} holds a setting that is not known or out of range"
        fault = value_fault(text, error.faults, kinds)
    known = f"known settings: {', '.join(kinds)}"
    raise failure(
        "settings-invalid", source=str(path), source_line=fault.line, what=what, why=fault.why,
        fix=f"{fault.fix}; {known}" if fault.fix else known,
    )  # fmt: skip
