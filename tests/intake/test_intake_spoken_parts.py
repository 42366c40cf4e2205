"""The parts of the script reader, each on its own: totals, tiling, segments, references, sounds."""

import time
from pathlib import Path

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.spoken.captions import Piece, pieces, speech
from pipeline.intake.spoken.script import read_script
from pipeline.intake.spoken.segments import best_path
from pipeline.intake.spoken.sounds import sound, syllables
from pipeline.intake.spoken.statements import said_last
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.totals import Totals
from pipeline.intake.spoken.words import words_of

SCRIPTS = Path(__file__).parents[2] / "benchmarks" / "data" / "spoken"
SHORT = {"ENERC_KCAL": "kcal", "PROCNT": "p", "CHOCDF": "c", "FAT": "f"}


def talk(text):
    return Talk(words_of([Piece(text, 1)]))


def stated(text):
    parts = said_last(Totals(talk(text)).found)
    return {SHORT[p.tag]: p.value for p in parts if p.tag in SHORT}


def recipes(text):
    read = read_script(text, kind="script")
    return [(r.title, [line.text for line in r.lines]) for r in read.recipes]


# --- totals ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "said",
    [
        "that's 430 calories 38 grams of protein 40 carbs and 13 fat",
        "so protein 38 carbs 40 fat 13 and that's 430 calories all in",
        "430 calories of which 40 grams are carbs 13 grams are fat and you get 38 grams of protein",
        "38 protein 40 carbs 13 fat for 430",
        "it's 430 a plate 38 protein 40 carb 13 fat",
        "38P 40C 13F, 430 calories",
        "four thirty calories. Thirty eight grams protein. Forty carbs and thirteen grams of fat",
        "it's 380 calories, no sorry, it's 430 calories, 38 protein, 40 carbs, 13 fat",
        "it says 330 calories and that's a typo so 430 calories 38 grams protein 40 carbs and 13 fat",
        "38, 40, 13, that's protein, carbs, fat, and 430 calories",
        "430 calories, 38 protein, 40 carbs, fat 12 and a bit, so call it 13",
        "430 calories 38 protein 40 carbs 13 fat I ate three of them that's 1290 calories",
    ],
)
def test_numbers_find_their_nutrients_in_any_order(said):
    assert stated(said) == {"kcal": 430, "p": 38, "c": 40, "f": 13}


@given(st.integers(5, 80), st.integers(5, 90), st.integers(1, 40), st.permutations([0, 1, 2, 3]))
def test_any_order_of_labelled_numbers(protein, carbs, fat, order):
    energy = 4 * protein + 4 * carbs + 9 * fat
    said = [f"{energy} calories", f"{protein} protein", f"{carbs} carbs", f"{fat} fat"]
    assert stated(" ".join(said[i] for i in order)) == {
        "kcal": energy, "p": protein, "c": carbs, "f": fat,
    }  # fmt: skip


@given(st.integers(5, 80), st.integers(5, 90), st.integers(1, 40),
       st.sampled_from([0.05, 0.1, 0.25, 0.5, 2, 4, 4.184, 10]), st.permutations([0, 1, 2, 3]))  # fmt: skip
def test_numbers_said_beside_their_words_are_kept_however_wrong(protein, carbs, fat, wrong, order):
    energy = round((4 * protein + 4 * carbs + 9 * fat) * wrong)
    said = [f"{energy} calories", f"{protein} grams of protein", f"{carbs} carbs", f"{fat} of fat"]
    assert stated(" ".join(said[i] for i in order)) == {
        "kcal": energy, "p": protein, "c": carbs, "f": fat,
    }  # fmt: skip


@pytest.mark.parametrize(
    "said",
    [
        "those are the 60 calorie wraps",
        "30 ml of the syrup which is like 5 calories so who cares",
        "so for the day that puts us right around 2500 calories about 230 protein",
        "zero calories",
        "one cup of cereal that's 120 calories right there",
        "60 grams of passata and 80 grams of mozzarella so up to now that's 310 calories",
        "it's about 150 calories per tablespoon",
    ],
)
def test_figures_of_products_and_days_are_no_totals(said):
    assert stated(said) == {}


def test_sugar_behind_another_amount_is_an_ingredient():
    said = "Total 460 calories, 21 protein, 31 carbs, 28 fat. Next is the rhubarb. 400 grams of rhubarb. 40 grams of sugar. 300 grams of yogurt"
    assert "40 g sugar" in [line for _, found in recipes(said) for line in found]
    said = "Next is the rhubarb. 400 grams of rhubarb and 40 grams of sugar. 170 calories a bowl, 2 protein, 41 carbs, 1 fat"
    assert recipes(said)[0][1] == ["400 g rhubarb", "40 g sugar"]
    assert stated(said) == {"kcal": 170, "p": 2, "c": 41, "f": 1}


def test_a_batch_and_its_share_are_told_apart():
    parts = said_last(
        Totals(talk("the whole pan is 3640 calories and each brownie is 228 calories")).found
    )
    assert {(p.basis, p.value) for p in parts} == {("per_recipe", 3640), ("per_serving", 228)}


# --- mentions -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "lines"),
    [
        ("add oats 50 grams yogurt 150 grams honey 10 grams", ["50 g oats", "150 g yogurt", "10 g honey"]),
        ("add 50 grams oats 150 grams yogurt 10 grams honey", ["50 g oats", "150 g yogurt", "10 g honey"]),
        ("add a scoop of vanilla way protein and 200 grams of oats",
         ["1 scoop vanilla whey protein", "200 g oats"]),
        ("a teaspoon of come in and a teaspoon of time then a cup of plain flower",
         ["1 tsp cumin", "1 tsp thyme", "1 cup plain flour"]),
        ("add 100 grams of cream cheese and a scoop of casein the caramel one",
         ["100 g cream cheese", "1 scoop casein, caramel"]),
        ("add half a cup of flour no that's not right a third of a cup of flour and 2 eggs",
         ["1/3 cup flour", "2 eggs"]),
        ("two hundred mls of milk handful of spinach half an avo", ["200 ml milk", "1 handful spinach", "1/2 avo"]),
        ("four salmon fillets about 6 ounces each one pound green beans",
         ["4 salmon fillets (6 oz each)", "1 lb green beans"]),
        ("add 200 grams of rice then pour that milk in and add two wraps those are the 60 calorie wraps",
         ["200 g rice", "2 wraps, 60 calorie"]),
        ("add 300 grams of pasta and you can throw in a handful of raisins", ["300 g pasta", "1 handful raisins, optional"]),
        ("200 grams of barley. Hmm, no, hang on, last time I did it with 250 and it was better, so 250 grams. One onion.",
         ["250 g barley", "1 onion"]),
        ("100 grams of rice. A handful of watercress. No sorry, not watercress, I used a handful of rocket.",
         ["100 g rice", "1 handful rocket"]),
        # the amount taken back is named once more
        ("half a cup of, no sorry, a third of a cup of treacle. Half a cup is too bitter. 200 grams of rice",
         ["1/3 cup treacle", "200 g rice"]),
        ("200 grams of rice. Some people add chorizo. Me, I don't. Two eggs.", ["200 g rice", "2 eggs"]),
        ("200 grams of rice. Grate an onion into it, one red onion. 60 ml of lime juice, so two limes.",
         ["200 g rice", "1 red onion", "60 ml lime juice"]),
        ("200 grams of rice, one and three quarter cups of barley and an inch of ginger",
         ["200 g rice", "1 3/4 cups barley", "1 inch ginger"]),
        ("200 grams of rice, teaspoon each of sumac and cumin, and two of them small 150 gram tins of corn",
         ["200 g rice", "1 tsp sumac", "1 tsp cumin", "2 x 150 g tins corn"]),
        ("slice one fennel so fine you can see the board, then 3 tablespoons of oil and 200 grams of rice",
         ["1 fennel", "3 tbsp oil", "200 g rice"]),
        ("the tahini now my aunt used to tip in half a jar I take two tablespoons and 200 grams of rice",
         ["2 tbsp tahini", "200 g rice"]),
        ("I used to put 90 grams in, and that was 800 calories of butter by itself, so now it's 30 grams. 200 grams of rice",
         ["30 g butter", "200 g rice"]),
        # a second voice takes an amount back, or says a line again in other words
        ("200 grams of rice. Three tablespoons of oil. Two and a half! Two and a half tablespoons.",
         ["200 g rice", "2 1/2 tbsp oil"]),
        ("And 200 grams of couscous. 200 grams of wholewheat couscous. Two eggs. Two eggs.",
         ["200 g couscous", "2 eggs"]),
        ("Of white beans we need half a kilo, then of smoked sausage 150 grams. Carrots we take also, 3. Garlic one clove, pressed",
         ["1/2 kg white beans", "150 g smoked sausage", "3 carrots", "1 clove garlic"]),
        ("add 200 grams of flour and one small spoon of paprika and two big spoons of tomato paste",
         ["200 g flour", "1 tsp paprika", "2 tbsp tomato paste"]),
        ("add 150 grams of 93 7 ground turkey and 100 grams of rice", ["150 g 93 7 ground turkey", "100 g rice"]),
        ("add a pound of ground lamb the 90 lean and 200 grams of rice", ["1 lb ground lamb, 90% lean", "200 g rice"]),
        ("Use 500 grams of beef mince, the five percent. Then 80 grams of dark chocolate, the seventy percent one.",
         ["500 g beef mince, 5% fat", "80 g dark chocolate, 70%"]),
        ("Use 500 grams of turkey mince, the lean five percent one.", ["500 g turkey mince, lean 5% fat"]),
        ("Blend it, it's one shake for one lad.\n30 g peanut butter\n20 g whey\nice\nThat is all there is in it, so drink it.",
         ["30 g peanut butter", "20 g whey"]),
        ("Blend it, it's one shake for one person, with 30 g of peanut\nbutter and 20 g of whey. Drink it while it is cold, it will\nnot keep.",
         ["30 g peanut butter", "20 g whey"]),
        ("Three tins of sardines, they're 120 gram tins, drained. 200 grams of rice.",
         ["3 x 120 g tins sardines", "200 g rice"]),
        ("This feeds four. 80 grams of penne per person, one egg per person and 200 grams of ham.",
         ["320 g penne", "4 egg", "200 g ham"]),
    ],
)  # fmt: skip
def test_ways_to_say_it(said, lines):
    assert [line for _, found in recipes(said) for line in found] == lines


@pytest.mark.parametrize(
    "said",
    [
        "add 200 grams of rice and don't add 50 grams of butter",
        "add 200 grams of rice and put it in a muffin tin",
        "add 200 grams of rice, I've eaten four pounds of potatoes this week",
        "add 200 grams of rice, if you don't have it you can use 300 grams of pasta",
        "add 200 grams of rice. Add the rice. Half of that goes in the bowl.",
    ],
)
def test_what_is_no_ingredient(said):
    assert [line for _, found in recipes(said) for line in found] == ["200 g rice"]


# --- segments and references ----------------------------------------------------------------------


def paths(ways, at, count, taken):
    """Every way through the places from one on: its score, the totals it takes, its stretches."""
    if at == count:
        yield 0.0, taken, []
    for begins, goes_on, total, score, name in ways:
        if begins == at and total in (None, taken):
            for more, last, rest in paths(ways, goes_on, count, taken + (total is not None)):
                yield score + more, last, [name, *rest]


@settings(max_examples=examples(60), deadline=None)
@given(st.data())
def test_the_best_path_over_stretches_is_the_best_of_all(data):
    count, most = data.draw(st.integers(1, 5)), data.draw(st.integers(0, 2))
    score = st.integers(-40, 40).map(float)  # whole numbers, so that sums are the same in any order
    ways = [
        (i, j, total, data.draw(score), (i, j, total))
        for j in range(1, count + 1)
        for i in range(j - 1, -1, -1)
        for total in [None, *range(most)]
    ]
    unspent = -3.0
    best, left, path = best_path(count, most, unspent, ways)
    every = [
        (s + unspent * (most - last), most - last, p) for s, last, p in paths(ways, 0, count, 0)
    ]
    assert best == max(s for s, *_ in every)
    assert (best, left, path) in every


def test_unannounced_dishes_are_told_apart_and_totals_name_no_dish():
    said = (
        "number one pea soup 300 grams of peas one onion and 500 ml of stock that makes a total of 300 calories "
        "20 protein 40 carbs 7 fat and then we've got the bean salad 200 grams of beans 50 grams of feta and a "
        "tablespoon of oil 380 calories 21 protein 30 carbs 19 fat"
    )
    assert [title for title, _ in recipes(said)] == ["Pea soup", "Bean salad"]


BASE = (
    "The base is the same for all of them: 40 grams of semolina, 100 ml of milk and one egg. That's the base. "
    "Number one, honey. {one} 300 calories, 15 protein, 40 carbs, 9 fat. "
    "Number two, berry. {two} 310 calories, 15 protein, 42 carbs, 9 fat."
)


@pytest.mark.parametrize(
    ("said", "lines"),
    [
        ("Same base, plus 50 grams of berries.", ["40 g semolina", "100 ml milk", "1 egg", "50 g berries"]),
        ("Same base but no egg, plus 50 grams of berries.", ["40 g semolina", "100 ml milk", "50 g berries"]),
        ("Same base but swap the milk for yogurt, plus 50 grams of berries.",
         ["40 g semolina", "1 egg", "100 ml yogurt", "50 g berries"]),
        ("With the base, instead of the milk it's 80 ml of cream, and 50 grams of berries.",
         ["40 g semolina", "1 egg", "80 ml cream", "50 g berries"]),
        ("Half the base and 50 grams of berries.", ["20 g semolina", "50 ml milk", "1/2 egg", "50 g berries"]),
        ("Same as number one but no honey, plus 50 grams of berries.",
         ["40 g semolina", "100 ml milk", "1 egg", "50 g berries"]),
        ("Same as before but yogurt instead of milk, no egg, and 50 grams of berries.",
         ["40 g semolina", "10 g honey", "100 ml yogurt", "50 g berries"]),
        ("Same semolina, same milk, and 50 grams of berries.", ["40 g semolina", "100 ml milk", "50 g berries"]),
    ],
)  # fmt: skip
def test_a_base_said_once(said, lines):
    found = recipes(BASE.format(one="With the base add 10 grams of honey.", two=said))
    assert [title for title, _ in found] == ["Honey", "Berry"]
    assert found[0][1] == ["40 g semolina", "100 ml milk", "1 egg", "10 g honey"]
    assert sorted(found[1][1]) == sorted(lines)


def test_a_base_of_which_each_recipe_takes_one():
    said = BASE.format(
        one="You take one base and add 10 grams of honey.", two="One base, 50 grams of berries."
    )
    said = said.replace(
        "The base is the same for all of them", "So, the base. For one pot you take"
    )
    found = recipes(said.replace("That's the base", "That is one base"))
    base = ["40 g semolina", "100 ml milk", "1 egg"]
    assert [lines for _, lines in found] == [[*base, "10 g honey"], [*base, "50 g berries"]]


def test_marks_say_what_was_made_of_the_words():
    said = BASE.format(
        one="With the base add a teaspoon of time, two wraps, those are the 60 calorie wraps.",
        two="Same base, 50 grams of berries, and don't add 20 grams of sugar.",
    )
    read = read_script(said, kind="script")
    text = read.script
    marked = {}
    for mark in read.marks:
        marked.setdefault(mark.kind, []).append(text[mark.start : mark.end])
    assert marked["base"] == ["40 grams of semolina", "100 ml of milk", "one egg"]
    assert marked["repair"] == ["time"]
    assert marked["property"] == ["60 calorie"]
    assert marked["left_out"] == ["20 grams of sugar"]
    assert "Same base" in marked["reference"]
    assert marked["total"][0] == "300 calories"
    assert len(marked["title"]) == 2


# --- sounds, speech, growth -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heard", "meant"),
    [("flower", "flour"), ("mints", "mince"), ("way", "whey"), ("time", "thyme"), ("orso", "orzo"),
     ("penny", "penne"), ("chai", "chia"), ("dejohn", "dijon"), ("akai", "acai")],
)  # fmt: skip
def test_words_that_sound_alike_have_one_key(heard, meant):
    assert sound(heard) == sound(meant)


@given(st.text(alphabet="abcdefghijklmnopqrstuvwxyz'-", max_size=20))
def test_sounds_are_total(word):
    assert isinstance(sound(word), str)
    assert syllables(word) >= 0


@given(st.lists(st.text(alphabet="abc 12.,", min_size=1, max_size=12), max_size=8))
def test_places_of_words_lie_in_the_speech(texts):
    spoken = pieces("\n".join(texts), "script")
    text, begins = speech(spoken)
    assert all(text[at : at + len(p.text)] == p.text for at, p in zip(begins, spoken, strict=True))
    for word in words_of(spoken):
        assert 0 <= word.start < word.end <= len(text)


@pytest.mark.soak
def test_time_grows_with_the_words_alone():
    """Four times the words take no more than ten times as long; quadratic would be sixteen."""
    scripts = sorted(SCRIPTS.glob("*.txt"))[::2]
    text = "\n\n".join(path.read_text(encoding="utf-8") for path in scripts)

    def seconds(times):
        start = time.process_time()
        read = read_script("\n\n".join([text] * times), kind="script")
        assert len(read.recipes) >= 5 * times
        return time.process_time() - start

    small = min(seconds(1) for _ in range(2))
    assert seconds(4) < 4 * small * 2.5


@settings(max_examples=examples(40), deadline=None)
@given(st.lists(st.sampled_from(["the", "base", "is", "same", "for", "all", "add", "40", "grams", "of", "semolina", "and", "one", "egg", "300", "calories", "20", "protein", "carbs", "fat", "number", "two", "next", "up", "swap", "milk", "instead", "of", "2", "cups", "that's", "each", "serves", "four", "remaining", "quarter", ",", ".", "onion", "way", "time", "no", "sorry", "you", "can", "half", "a", "tin"]), max_size=80))  # fmt: skip
def test_marks_stay_in_order_and_apart(words):
    read = read_script(" ".join(words), kind="script")
    ends = {}
    for mark in read.marks:
        assert 0 <= mark.start < mark.end <= len(read.script)
        assert mark.start >= ends.get(mark.kind, 0)
        ends[mark.kind] = mark.end
        assert mark.recipe is None or 0 <= mark.recipe < len(read.recipes)
        if mark.line is not None:
            assert 0 <= mark.line < len(read.recipes[mark.recipe].lines)
