"""What becomes of the lines in the dish: eaten, left in the pan, made of others, only if added.

Between ``weigh`` and ``compute``. A line is read for itself; this stage reads it beside the other
lines of its recipe, its section, the title and the method, and says how much of it is eaten
(``LINE_USE``), what an open line comes to, and which state is meant where only the use tells.
"""

from pipeline.dish.apply import in_the_dish
from pipeline.dish.uses import eaten_rules

__all__ = ["eaten_rules", "in_the_dish"]
