"""``steelyard.toml`` beside the recipes, and what the command line overrides of it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipeline.problems import Problem, SteelyardError

FILE_NAME = "steelyard.toml"
#: No settings are longer.
MAX_BYTES = 256 * 1024


#: How a single creator counts: carbohydrate with fibre or without, and whose energy.
OwnCarbohydrate = Literal["total", "available"]
OwnEnergy = Literal["table", "atwater", "without fibre"]


class Conventions(BaseModel):
    """How one creator counts; what is not said is as for the collection."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    carbohydrate: OwnCarbohydrate | None = Field(None, description="as in the settings")
    energy: OwnEnergy | None = Field(None, description="as in the settings")


class Settings(BaseModel):
    """Choices that belong to a collection; every one has a default that is said in the report."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    profile: str = Field(
        "eu",
        description="how far a number may lie off: eu, eu_label, us or percent "
        "(shared/tolerances.csv holds them with their sources)",
    )
    percent: float = Field(
        10.0, gt=0, le=100, description="what the profile percent allows to either side, in percent"
    )
    spoons: Literal["us", "metric", "uk", "au"] = Field(
        "us", description="cups and spoons where a line does not say whose: us, metric, uk or au"
    )
    publish: Literal["eu", "us", "whole"] = Field(
        "whole",
        description="rounding of numbers to publish: whole numbers (whole), 21 CFR 101.9 (us) or the "
        "guidance to EU 1169/2011, with salt (eu); the energy is the computed one",
    )
    energy: Literal["detect", "table", "eu", "atwater"] = Field(
        "detect",
        description="energy of the sums: the food table's own, by the factors of Regulation (EU)"
        " 1169/2011, or 4-4-9; detect: as the collection states it",
    )
    carbohydrate: Literal["detect", "total", "available"] = Field(
        "detect",
        description="carbohydrate with fibre (total, by difference) or without (available);"
        " detect: as the collection states it",
    )
    pantry: str = Field("", description="pantry file beside this one; empty: pantry.csv")
    decisions: str = Field("", description="decisions file beside this one; empty: decisions.csv")
    creator: str = Field("", description="creator of the recipes that name none")
    follow_links: bool = Field(
        False, description="follow symbolic links that lead out of the collection"
    )
    creators: dict[str, Conventions] = Field(
        default_factory=dict,
        description="carbohydrate and energy of single creators; a table each, at the end of the "
        'file: [creators."Name"]',
    )

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


def load_settings(folder: Path) -> Settings:
    """Read ``steelyard.toml`` in ``folder``; defaults when there is none.

    Raises:
        SteelyardError: the file cannot be read, is no TOML, or names an unknown key or a value out of range.
    """
    path = folder / FILE_NAME
    if not path.exists():
        return Settings()
    try:
        if path.stat().st_size > MAX_BYTES:
            raise OSError(f"it holds {path.stat().st_size:,} bytes; settings are some lines")
        return Settings.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except tomllib.TOMLDecodeError as fault:
        what, why = f"{FILE_NAME} is not valid TOML", str(fault)
    except OSError as fault:
        what, why = f"{FILE_NAME} cannot be read", fault.strerror or str(fault)
    except RecursionError:
        what, why = f"{FILE_NAME} is nested deeper than can be read", "no setting is nested"
    except UnicodeDecodeError as fault:
        what, why = f"{FILE_NAME} is not UTF-8 text", str(fault)
    except ValidationError as fault:
        what = f"{FILE_NAME} holds a setting that is not known or out of range"
        why = "; ".join(f"{'.'.join(map(str, e['loc']))}: {e['msg']}" for e in fault.errors())
    known = ", ".join(Settings.model_fields)
    raise SteelyardError(
        Problem("settings-invalid", what, why, f"known settings: {known}", source=str(path))
    )
