"""Words and turns of phrase with a part to play in a spoken script."""

from __future__ import annotations

import re


def word_set(words: str) -> frozenset[str]:
    """Words of a text as a set."""
    return frozenset(words.split())


# --- words with a part to play ------------------------------------------------------------------

VERBS = word_set("""
    add adding added chuck chucking throw throwing toss tossing pour pouring stir stirring mix mixing fold
    folding sprinkle sprinkling drizzle drizzling top topping topped finish finishing season seasoning
    serve serving squeeze squeezing grate grating crack cracking spread dollop drop dropping use using
    grab take taking need needs want get got put putting goes go going with plus start starts starting
    begin whisk whisking blend blitz layer press whack bung pop slice cube fry brown boil cook bake
    roast scatter rub marinate combine includes including having have has
""")
STOP = word_set("""
    and or then plus into in on onto to for which that so because i you we he she they it its it's is are
    was be gives give makes make making i'm im i've you're youre you'll we're were we've that's thats
    this these those there if until while when where but as at from over under with without just um uh er
    erm like okay ok alright right now again maybe about around roughly you'd i'd i'll let's lets not no
    don't dont obviously basically honestly literally really very per each every all both also too well
    know see think mean want need done say says said go goes going does do did can could will would should
    before after off out up down by through straight nice gonna whole thing
""")
FLUFF = word_set("""
    of the your my our some any those these that this um uh er erm like really nice good lovely basically
    literally just whatever about around roughly maybe beautiful gorgeous amazing favourite favorite
    generous lots more extra of her his their same another actual proper standard normal regular
""")
HEDGES = word_set("""
    so that's thats that is or which about around roughly approximately it's its i.e like um uh again yeah
    say just comes to works out at equals and maybe be gives you of the same um er so's around that
    let's weighs i mean sorry wait no actually means i'd
""")
LINKS = word_set("i'm im doing use using we're were here there go for me and in on")
POINTED = word_set("the those that that's again your these")
PARTS = word_set("juice zest rind")
PASSED = word_set("in on it off over and then also finally bit of a little with")
CORRECTS = word_set("sorry wait actually oops")
NEGATIVE = word_set("no without not don't dont never skip isn't avoid minus zero")
TIMES = word_set("""
    minute minutes min mins second seconds hour hours degree degrees celsius fahrenheit day days week weeks
    month months time times people person portions portion servings serving ways way step steps o'clock
    am pm centimetres centimeters cm inch inches ingredients recipes meals percent star stars bucks
    dollars quid cents pence euros videos video subscribers layers batches c f
""")
SOME = word_set("some few couple bit load loads plenty little lots several")
PREP_AFTER = word_set("dry uncooked weight drained whole dried finely roughly thinly freshly")
GOOD = word_set("good nice heaped little generous")
VESSELS = word_set(
    "tin case cases bowl mixture mix cooker tray pan pot packet instructions side dish dishes "
    "recipe recipes meals ideas"
)
PACKED_IN = word_set("water brine oil juice syrup")

DISH_VERBS = word_set("with fry bake roast slice")

NUMBER_WORD = r"(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\d{1,2})"
KIND = (
    r"(?:recipe|meal|breakfast|lunch|dinner|supper|snack|dessert|pudding|dish|bowl|flavou?r|idea|option|"
    r"version|variation|smoothie|wrap|salad|shake|combo|box|plate|prep)"
)
ORDER = (
    r"(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|next|last|final|other)"
)
MEAL = r"(?:breakfast|brunch|lunch|dinner|supper|tea|dessert|pudding|snacks?)"
NOT_NUMBERED = (  # what may stand before a number at the head of a sentence, and is no dish
    rf"(?:serves?|makes?|feeds?|gives?|per|about|around|step|part|page|episode|week|for|to|at|"
    rf"that's|it's|another|only|just|{'|'.join(sorted(VERBS))})"
)
STRONG_CUE = re.compile(
    rf"\b(?:{KIND} )?(?:number|no) {NUMBER_WORD}\b|\b{KIND} {NUMBER_WORD}\b(?! (?:g|grams?|ml|cups?)\b)"
    rf"|\bday {NUMBER_WORD}\b|(?<=\| )(?!{NOT_NUMBERED}\b)[a-z]+ {NUMBER_WORD}(?= (?:is|,|\|))"
    rf"|\b(?:(?:the|our|my|your) )?{ORDER} (?:{KIND}|one|up|thing)\b"
    r"|\bup next\b|\bnext (?:we've got|we have|weve got|is|it's|its|i've got|i have|comes)\b"
    r"|\blast but not least\b|\bmoving on(?: to)?\b|\bon to (?:the|my|our)\b|\bonto (?:the|my|our)\b"
    r"|\band finally\b|\bfinally (?:we|it's|its|the|my|a)\b|\blastly\b"
    r"|\b(?:let's|lets|we'll|i'll|we're going to|i'm going to) (?:start|kick off|begin)(?: off)? with\b"
    rf"|\b(?:for |my |our )*(?P<meal>{MEAL}) (?:we|i|it's|its|i'm|im|was|is|today)\b(?: (?:had|have|made|make))?"
    r"|\b(?:on |then |so )*(?P<weekday>monday|tuesday|wednesday|thursday|friday|saturday|sunday)"
    r"(?:'s| night| lunch| dinner)?(?: (?:we|i|it's|its|i'm|im|was|is)\b(?: (?:had|have|made|make|are having))?| [,|])"
)  # fmt: skip
NUMBERED_CUE = re.compile(rf"(?:{KIND} )?(?:number|no) {NUMBER_WORD}$|[a-z]+ {NUMBER_WORD}$")
WEAK_CUE = re.compile(
    r"\b(?:we're|were|we are|i'm|im|i am|i'll be|we'll be) (?:going to (?:be )?|gonna (?:be )?)?"
    r"(?:making|make|cooking|doing|showing you)\b|\blet'?s make\b|\bhow to make\b"
    r"|\brecipe for (?:the|my|our|a)\b|\bstarting (?:off )?with (?:a|an|my)\b"
    r"|\bthis is (?:my|the|our|a)\b|\bthis (?:one )?(?:is|here is) (?:my|the|our|a)\b|\bi (?:always |usually )?make\b"
    r"|(?<!when )(?<!once )(?<!until )(?<!if )(?<!while )(?<!because )"
    r"\bit'?s(?: always| just| usually)*(?: the same)?\b"
    r"|\b(?:if you want|for|now) (?:the|a) (?=(?:[a-z]+ ){1,4}(?:version|option|flavou?r|variation)\b)"
)  # fmt: skip
TITLE_SKIP = word_set("""
    is are was it's its it we've weve we have i've ive i got a an the my our some your these those this that
    thing things one going to be making make i'm im we're were doing do called um uh er erm like kind of
    sort for you with so okay ok and another up just really super favourite favorite absolute now
    probably alright right then oh well today recipe going gonna here let's lets us number first everyone's
    easiest simplest quickest make is's had ate having always i'd second third last next other
""")
TITLE_STOP = word_set("""
    so which that this these it it's its i i'm im i've you you'll you'd you're youre we we're were we'll okay ok
    alright right um uh now because start starting first begin grab take put just super at if when as but
    then again same all they they're let's lets from who where what coming is are was has have makes takes
    really today honestly guys everyone literally my your
""")
KIND_WORD = re.compile(rf"^{KIND}s?$")
SECTION = re.compile(
    r"^(?:for|start with|starting with|make|making|now) (?:the|your|my|our) "
    r"(base|sauce|dressing|topping|marinade|filling|salsa|glaze|frosting|dip|crumble|dough|batter|slaw)\b"
)
ANY_BASE = r"(?:the|our|my|that|your) (?:same )?(?:(?!same|of)[a-z]+ ){0,3}?base"
BASE_DEFINED = re.compile(
    rf"\b{ANY_BASE} (?:is|which is|that is|that's|for|of|mix is|recipe is|goes|starts|has|uses)\b"
    r"(?! (?:exactly )?the same(?! for (?:all|every|each|them|both)))"
    r"|\bfor (?:the|our|my) base\b|\b(?:start with|starting with|make|making|mix up) (?:the|our|my) base\b"
)
BASE_SAME = re.compile(
    r"\b(?:same|exact same|identical) (?:[a-z]+ ){0,2}?base\b(?! (?:which|that|is|for all))"
    r"|\bbase (?:stays|is|remains|stay|was|being)(?: exactly)?(?: the)? same\b(?! for)"
    r"|\bbase (?:stays|remains) as\b|\bbase again\b|\bbase (?:as|from|like) before\b|\bsame as before\b"
    r"|\bto (?:the|our|my|that|your) base (?:add|i add|we add|goes|you add|stir|mix)\b"
    r"|\b(?:take|grab|use|using|with|onto|into|to) (?:the|our|my|that|your) base\b"
    rf"|\b(?:(?:a|1|another) (?:portion|serving|scoop)|(?P<part>0\.\d+)) of {ANY_BASE}\b"
)
BASE_ENDS = re.compile(
    r"\bthat's (?:the|our|my|your) base\b|\bthats (?:the|our|my|your) base\b|\bbase (?:is )?done\b"
)
ALL_SAME = re.compile(
    r"\b(?:everything(?: else)?|the rest|all (?:of )?(?:that|it)|ingredients) (?:else )?"
    r"(?:stays|is|are|stay|remains)(?: exactly)?(?: the)? same\b"
    r"|\b(?:exactly )?(?:the )?same as (?:the )?(?:last|first|previous|that) (?:one|recipe|bowl|time)\b"
)
SWAP = re.compile(
    r"\b(?:swap|swapping|switch|switching|replace|replacing) (?:out )?(?:the )?(?P<old>[a-z' ]{3,30}?) "
    r"(?:for|with|to) "
)
INSTEAD = re.compile(
    r"\binstead of (?:the )?(?P<old>[a-z' ]{3,30}?)(?= (?:it's|its|use|we|i|this|there|we're)\b| [,|]|$)"
)

LEAVE_OUT = re.compile(
    r"\b(?:leave out|leaving out|skip|minus|take out|lose) (?:the )?(?P<old>[a-z' ]{3,30}?)"
    r"(?= (?:and|but|then|so|add|plus|with)\b| [,|]|$)"
)

# --- totals -------------------------------------------------------------------------------------

NUTRIENT_WORDS: dict[str, str] = {
    "calories": "ENERC_KCAL", "calorie": "ENERC_KCAL", "cals": "ENERC_KCAL", "cal": "ENERC_KCAL",
    "kcal": "ENERC_KCAL", "kcals": "ENERC_KCAL", "kilocalories": "ENERC_KCAL",
    "protein": "PROCNT", "proteins": "PROCNT",
    "carbs": "CHOCDF", "carb": "CHOCDF", "carbohydrate": "CHOCDF", "carbohydrates": "CHOCDF",
    "fat": "FAT", "fats": "FAT", "fibre": "FIBTG", "fiber": "FIBTG",
    "sugar": "SUGAR", "sugars": "SUGAR", "saturates": "FASAT",
}  # fmt: skip
LETTERS = {"p": "PROCNT", "c": "CHOCDF", "f": "FAT"}
OPENS_TOTAL = word_set("at to is about around roughly just")
CAPPED = word_set(
    "under below over exceeding least goal target aim limit budget need hitting max maximum"
)
SAID_BETWEEN = word_set("""
    is are at of comes coming come in to sits about around roughly works out be should would just its it's
    as was the a total a's only approximately approx
""")
AFTER_TOTAL_NO = re.compile(
    r"^(?:a|per|every) (?:day|week)\b|^(?:daily|already|so far|from|deficit|left)\b"
)
NOT_ITS_FOOD = word_set(
    "powder shake bar bars shakes yogurt yoghurt pancake wrap wraps bread free reduced pudding"
)
PER_UNIT = re.compile(
    r"\b(?:per|a|in a|in one|each) (?:tablespoon|teaspoon|tbsp|tsp|scoop|gram|cup|slice of bread|egg)\b"
)
WHOLE = re.compile(
    r"\b(?:whole|entire|full) (?:thing|batch|tray|lot|recipe|pot|tin|pan|dish|loaf|cake)\b"
    r"|\bfor (?:the lot|all of it)\b|\ball of it\b|\bin total for (?:the|all)\b|\bthe lot\b"
)
PER_SERVING = re.compile(
    r"\b(?:per|a|each|every|one) (?:serving|portion|bowl|jar|person|wrap|plate|ball|bar|muffin|slice|piece|pancake|"
    r"head|tub|box|bagel|glass|cookie)\b|\bper (?!100|hundred)[a-z]+\b|\beach\b"
)
PER_100 = re.compile(r"\bper (?:100|hundred) (?:g|grams?|ml)\b")
THINGS = (
    r"(?P<w>servings?|portions?|people|persons?|bowls?|meals?|bars?|jars?|balls?|muffins?|pancakes?|"
    r"slices?|pieces?|wraps?|cookies|squares?|boxes|tubs?|lunches|dinners|plates?|pots?|bagels?|"
    r"burgers?|patties)"
)
_N = rf"(?P<n>\d+|{NUMBER_WORD})"
SERVINGS = tuple(
    re.compile(pattern)
    for pattern in (
        rf"\b(?:makes?|making|gives? you|gets?|yields?)(?: about| around| roughly| you)? {_N} (?:[a-z]+ )?{THINGS}\b",
        rf"\b(?:serves?|feeds?|serving) (?:about )?{_N}\b",
        rf"\b(?:splits?|divides?|divided|portion(?:ed)?)(?: up| out| it| this| that)* "
        rf"(?:in)?(?:to|between|into) {_N}\b(?: {THINGS})?",
        rf"\b(?:cut|cuts|slice|roll|shape)(?: it| this| that| them| the [a-z]+)? "
        rf"(?:in)?to {_N} (?:[a-z]+ )?{THINGS}\b",
        rf"\b(?:do|for|feed|enough for|good for) {_N} (?P<w>people|of us)\b",
        rf"\b(?:that|this) one's for {_N}\b",
        rf"\bfor the {_N} of us\b",
        rf"\b{_N} (?P<w>servings|portions)\b",
        r"\b(?P<one>each (?:person|serving|bowl) (?:gets|has|is)|for (?:each|one|1) (?:person|serving|portion|"
        r"shake|bowl|glass)|per person (?:you|it|i)\b)",
        rf"\b(?:makes|does|that's) {_N}(?= of us\b| \||$)",
    )
)
REACH = 14  # words between the numbers of one statement

NUMBERS: dict[str, float] = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12,
}  # fmt: skip
