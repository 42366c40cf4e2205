"""What a food description says: one reading for any table, used by every later stage.

>>> from pipeline.foods import profile
>>> profile("Beef, chuck, arm roast, separable lean only, braised").lean_only
True
"""

from pipeline.foods.profile import Profile, profile, profiles, read_description
from pipeline.foods.words import fold, singular, words

__all__ = ["Profile", "fold", "profile", "profiles", "read_description", "singular", "words"]
