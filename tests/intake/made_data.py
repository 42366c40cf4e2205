"""Data files of known recipes in shapes composed of independent choices.

``shape_of`` draws one value a choice, ``files_of`` stores recipes in that shape. The values of every
choice are parted once into two halves: rules are worked out on one, and the other says whether they
carry over to values nobody looked at. Nothing here knows the reader.
"""

from __future__ import annotations

import csv
import io
import json
import random
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Any

import yaml

NUTRIENTS = ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")
BASES = ("per_serving", "per_recipe", "per_100g")


# --- what is stored ------------------------------------------------------------------------
@dataclass(frozen=True)
class Line:
    """One ingredient: an amount of a unit ("" for pieces), the food, and what that weighs in g."""

    amount: float
    unit: str
    food: str
    grams: float
    section: str = ""

    @property
    def text(self) -> str:
        return " ".join(x for x in (number(self.amount), self.unit, self.food) if x)


@dataclass(frozen=True)
class Dish:
    """A recipe with what it states, by basis and in the order of ``NUTRIENTS``."""

    key: str
    title: str
    servings: int
    lines: tuple[Line, ...]
    steps: tuple[str, ...]
    stated: dict[str, tuple[float, ...]] = field(hash=False)


# food | kcal, protein, carbohydrate, fat in 100 g | amounts as "amount unit grams"
FOODS = """
chicken breast|120 23 0 2.6|400 g 400;600 g 600;450 g 450
beef mince|230 18 0 17|500 g 500;250 g 250
salmon fillets|200 20 0 13|300 g 300;2  250
firm tofu|140 15 3 8|280 g 280;350 g 350
eggs|143 12.6 0.7 9.5|2  100;3  150;4  200
greek yogurt|97 9 4 5|150 g 150;200 g 200
cheddar cheese|403 23 3 33|80 g 80;100 g 100
parmesan|400 36 4 26|30 g 30;40 g 40
whole milk|61 3.2 4.8 3.3|250 ml 257;1 cup 244;100 ml 103
butter|717 0.9 0.1 81|25 g 25;1 tbsp 14;50 g 50
olive oil|884 0 0 100|1 tbsp 13.5;2 tbsp 27;15 ml 13.8
white rice|360 7 79 0.7|200 g 200;300 g 300;1 cup 185
spaghetti|371 13 75 1.5|320 g 320;400 g 400
red lentils|358 24 63 2|200 g 200;1 cup 192
chickpeas|164 9 27 2.6|240 g 240;400 g 400
black beans|132 8.9 24 0.5|240 g 240;260 g 260
plain flour|364 10 76 1|250 g 250;2 cups 250;30 g 30
sugar|387 0 100 0|50 g 50;1 tbsp 12.5;2 tsp 8.4
honey|304 0.3 82 0|1 tbsp 21;20 g 20
rolled oats|379 13 68 6.5|100 g 100;1 cup 81
almonds|579 21 22 50|30 g 30;40 g 40
peanut butter|588 25 20 50|2 tbsp 32;40 g 40
onion|40 1.1 9.3 0.1|1  110;2  220;150 g 150
carrots|41 0.9 9.6 0.2|2  122;200 g 200;150 g 150
potatoes|77 2 17 0.1|800 g 800;500 g 500
tomatoes|18 0.9 3.9 0.2|400 g 400;3  369
red bell pepper|26 1 6 0.3|1  119;200 g 200
broccoli|34 2.8 6.6 0.4|300 g 300;1 cup 91
spinach|23 2.9 3.6 0.4|100 g 100;200 g 200
mushrooms|22 3.1 3.3 0.3|250 g 250;150 g 150
banana|89 1.1 23 0.3|1  118;2  236
blueberries|57 0.7 14.5 0.3|100 g 100;1 cup 148
garlic cloves|149 6.4 33 0.5|2  6;3  9
lemon juice|22 0.4 6.9 0.2|1 tbsp 15;30 ml 30.5
soy sauce|53 8 5 0.6|2 tbsp 32;1 tbsp 16;45 ml 54
coconut milk|197 2 2.8 21|400 ml 400;200 ml 200
paprika|282 14 54 13|1 tsp 2.3;2 tsp 4.6
ground cumin|375 18 44 22|1 tsp 2.1;2 tsp 4.2
salt|0 0 0 0|1 tsp 6;0.5 tsp 3
sour cream|198 2.4 4.6 19|100 g 100;2 tbsp 24
""".strip().splitlines()
TITLES = (
    "Harbour chicken pot;Lighthouse lentil bowl;Quayside salmon rice;Smoky bean supper;"
    "Tuesday tray bake;Green hill curry;Pepper and egg skillet;Village soup;Miller's pancakes;"
    "Sunny breakfast bowl;Creamy mushroom pasta;Winter stew;Crisp tofu plate;Market garden salad;"
    "Golden potato bake;Night shift noodles;Grandma's rice pudding;Late summer stir fry;"
    "Stone bridge chilli;Orchard crumble"
)
STEPS = (
    "Chop everything and heat the pan.",
    "Cook over a medium heat for 10 minutes, stirring often.",
    "Add the rest, cover and leave for 15 minutes.",
    "Season, divide and serve.",
)


def number(value: float) -> str:
    return f"{value:g}"


def dishes(rng: random.Random, n: int) -> list[Dish]:
    """Distinct recipes whose stated numbers follow from their lines."""
    return [_dish(rng, key, title) for key, title in enumerate(rng.sample(TITLES.split(";"), n), 1)]


def _dish(rng: random.Random, key: int, title: str) -> Dish:
    lines, total = [], [0.0] * 4
    chosen = rng.sample(FOODS, rng.randint(4, 8))
    for place, row in enumerate(chosen):
        food, per100, amounts = row.split("|")
        amount, unit, grams = rng.choice(amounts.split(";")).split(" ")
        section = "Sauce" if place >= len(chosen) - 2 else "Main"
        lines.append(Line(float(amount), unit, food, float(grams), section))
        for n, each in enumerate(per100.split()):
            total[n] += float(each) * float(grams) / 100
    servings, weight = rng.choice((2, 3, 4, 5, 6, 8)), sum(line.grams for line in lines)
    parts = dict(zip(BASES, (servings, 1, weight / 100), strict=True))
    stated = {
        basis: tuple(float(round(t / part, 0 if n == 0 else 1)) for n, t in enumerate(total))
        for basis, part in parts.items()
    }
    steps = STEPS[: rng.randint(2, 4)]
    return Dish(str(100 + 7 * key), title, servings, tuple(lines), steps, stated)


# --- the choices ---------------------------------------------------------------------------
def _rows(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";"))


#: Values of a choice that stand for themselves, the keys' words among them.
CHOICES: dict[str, tuple[str, ...]] = {
    "format": _rows("json;yaml;xml;jsonl;xml_attributes;yaml_documents"),
    "grid_format": _rows("csv;xlsx;semicolon;tsv;csv_bom;pipe"),
    "markup": _rows("json_ld;microdata;json_ld_graph;microdata_meta;json_ld_list;microdata_nested"
                    ";json_ld_main_entity;json_ld_item_list"),
    "nest": _rows("list;by_title;wrapper;file_each;by_category;wrapped_each;edges;by_id;api_page;"
                  "attributes;fields;categories;meta_and_data;tables_joined;files_joined;"
                  "numbers_apart;columns_and_rows;deep_wrapper"),
    "inside": _rows("flat;head_body;content;info;card;details;numbers_deep"),
    "style": _rows("camel;snake;title;lower;pascal;kebab;upper;joined;sentence;cut3;cut4;initial;"
                   "prefix;no_vowels"),
    "title_form": _rows("text;text;rendered;language;text;name_and_slug;text;listed"),
    "title_key": _rows("title;name;dish;recipe;recipe name;dish name;label;heading;headline;"
                       "menu item;display name;what;called;meal;plate;recipe title;subject"),
    "servings_key": _rows("servings;serves;yield;portions;makes;feeds;people;covers;pax;"
                          "number of servings;recipe yield;serving count;eaters;heads;"
                          "batch yield;how many;guests;portion count"),
    "servings_form": _rows("number;text;with_word;value_unit;serves;count_type;listed;makes;"
                           "amount_of;quantity;number;number"),
    "lines_key": _rows("ingredients;items;components;lines;what you need;shopping list;parts;"
                       "recipe ingredient;contents;bill of materials;formula;composition;"
                       "ingredient list;build;mise en place;stuff;basket;products"),
    "food_key": _rows("food;name;ingredient;item;product;what;title;description;label;material;"
                      "component;article;food name;thing;commodity;ingredient name;text;stuff"),
    "amount_key": _rows("amount;quantity;qty;how much;value;count;number;amt;size;measure;num;"
                        "quant;required;needed;dose;portion;use"),
    "unit_key": _rows("unit;units;uom;measure;measurement;unit of measure;unit name;um;"
                      "measured in;unit type;scale;kind"),
    "weight_key": _rows("grams;g;weight;weight g;gram weight;mass;wt;net weight;grammage;"
                        "weight in grams;ep weight;gr"),
    "steps_key": _rows("steps;instructions;method;directions;how;procedure;preparation;process;"
                       "what to do;mop;how to;recipe instructions;making;cooking"),
    "numbers_key": _rows("nutrition;nutrients;macros;nutritional info;nutrition facts;facts;"
                         "numbers;values;diet;stats;nutritional values;analysis;nutritionals;"
                         "food facts;profile;breakdown"),
    "nutrient_words": _rows("calories,protein,carbs,fat;kcal,protein,carbohydrates,fat;"
                            "energy,protein,carbohydrate,fat;cal,p,c,f;kcal,prot,carb,fat;"
                            "kcals,proteins,carbs,fats;energy kcal,protein g,carbs g,fat g;"
                            "calories kcal,protein grams,carb grams,fat grams;"
                            "energy value,protein content,carbohydrate content,fat content;"
                            "cals,pro,cho,fat;calories,protein,total carbs,total fat;"
                            "kcal,p,c,f;energy,prot,carbo,lipids;kcal,pr,ch,ft"),
    "basis": _rows("per_serving;per_recipe;per_100g;per_serving"),
    "basis_words": _rows("per serving,total,per 100 g;serving,recipe,100g;portion,whole,100 g;"
                         "each,all,per100g;per person,whole dish,per 100 grams;"
                         "per portion,per batch,per 100g;single serving,entire recipe,100 grams;"
                         "per head,full batch,each 100 g;one serving,total recipe,hundred grams;"
                         "a portion,whole thing,in 100 g;per plate,batch,100gr;"
                         "1 serving,sum,100 gram"),
    "told": _rows("container;sibling;outside;inner;each_key;suffix;prefix;untold"),
    "amount_form": _rows("number;text;number;decimal_text;number;fraction"),
    "line_form": _rows("parts;text;amount_text;amount_object;triple;weight_key;unit_as_key;"
                       "nested_food;text_and_parts;pair;one_entry;text_in_object;unit_in_key;"
                       "food_to_text;food_to_object;block;joined;parallel;rows;parts_and_grams;"
                       "dual;food_to_grams"),
    "groups": _rows("none;by_name;listed;none;each_line;headings;own_keys;none;numbered;none"),
    "section_key": _rows("section;group;part;stage;for;component;phase;heading;block;subrecipe"),
    "numbers_form": _rows("object;flat;named;text;by_basis;texts;pairs;entries;value_unit;columns;"
                          "energy_apart;listed_bases;bare_list;list_of_objects"),
    "number_form": _rows("number;text;with_unit;tight_unit;number;decimal;about;number"),
    "steps_form": _rows("texts;numbered_objects;block;none;texts_of_objects;numbered_text;html;"
                        "by_number;timed"),
    "noise": _rows("none;ids;dates;cost;rating;times;media;tags;notes;author;flags;all"),
    "line_noise": _rows("none;ids;cost;aisle;energy;note;optional;none;supplier;order;none;stock"),
    "order": _rows("usual;numbers_first;shuffled;reversed;usual;noise_first"),
    "layout": _rows("long;long_blank;wide_cell;blocks;transposed;sheets_joined;sheet_each;"
                    "wide_numbered;matrix;wide_triples;key_values;side_by_side;wide_joined;"
                    "matrix_turned;field_value;titles_joined"),
    "columns": _rows("parts;text;amount_text;grams_head;weight_key;parts_and_grams;food_first;"
                     "unit_columns;text_and_grams;parts_and_cost;food_amount_text;amount_unit_last"),
    "numbers_place": _rows("columns;own_table;total_row;text_cell;first_row;row_below"),
    "numbers_head": _rows("bare;unit;basis_each;merged;unit_and_basis;basis_column;comma;underscore"),
    "servings_place": _rows("column;title;row;column;text"),
    "top_rows": _rows("none;banner;banner_gap;exported;none;legend;empty;contact"),
    "bottom_rows": _rows("none;note;count;none;signature;empty"),
    "column_noise": _rows("none;ids;dates;cost;rating;times;notes;supplier;allergens;status"),
    "page_yield": _rows("number;words;listed;serves;quantity;makes"),
    "page_numbers": _rows("words;bare;grams_word;unit;decimals;listed"),
    "page_lines": _rows("texts;one_text;objects;doubled;typed;entities"),
    "page_steps": _rows("texts;how_to;section;one_text;none;html"),
    "page_noise": _rows("none;crumbs;rating;video;author;comments;shop;related"),
}  # fmt: skip
#: Values that came later: parted by themselves, so that every earlier value stays in its half.
MORE: dict[str, tuple[str, ...]] = {
    "format": _rows("json_compact;ndjson;yaml_flow;xml_rows"),
    "grid_format": _rows("csv_quoted;decimal_comma;html;markdown;csv_crlf;utf16;formatted;odd_spaces"),
    "nest": _rows("by_slug;week;nodes;keyed_store;posts;lines_by_id;columns;with_drafts;among_others;"
                  "id_pairs"),
    "inside": _rows("typed_parts;one_version;acf;yield_and_numbers;value_objects;front_and_back"),
    "title_form": _rows("numbered;value_object;capitals;with_servings"),
    "title_key": _rows("titel;nombre;titre;entry;product name;post title;naam;card;item name;recette"),
    "servings_key": _rows("portionen;raciones;personnes;bowls;how many portions;yields;output;"
                          "batch size;for how many;no of servings"),
    "servings_form": _rows("least_most;decimal;for_people;persons;word;portion_object"),
    "lines_key": _rows("zutaten;ingredientes;bom;grocery list;raw materials;you need;recipe items;"
                       "what goes in;ingredient lines;field 3"),
    "food_key": _rows("zutat;ingrediente;aliment;raw material;ing;food item;foodstuff;goods;field 1;"
                      "raw text"),
    "amount_key": _rows("menge;cantidad;quantite;qty used;amnt;volume;how many;qnty;field 2;n"),
    "unit_key": _rows("einheit;unidad;unite;unit code;in;measure unit;field 4;u"),
    "weight_key": _rows("gramm;peso;poids;net g;edible grams;scale weight;total g;as grams"),
    "steps_key": _rows("zubereitung;preparacion;etapes;do this;workflow;assembly;cook it;notes"),
    "numbers_key": _rows("naehrwerte;nutricion;label;nutri;macro split;energy and macros;panel;"
                         "computed"),
    "nutrient_words": _rows("kalorien,eiweiss,kohlenhydrate,fett;calorias,proteinas,carbohidratos,"
                            "grasas;calories,proteines,glucides,lipides;kilocalories,protein,carbs,"
                            "fat;e,p,c,f;nut kcal,nut protein,nut carbs,nut fat;"
                            "nrg,prot,carbs,fat;energy in kcal,protein in g,carbs in g,fat in g"),
    "basis_words": _rows("pro portion,gesamt,pro 100 g;per bowl,per pan,per 100 g;for one,for all,"
                         "for 100 g;ea,tot,100 g;per slice,whole loaf,per 100g;one person,"
                         "full recipe,100 g cooked;each tub,per batch,each 100 g;serving size,"
                         "complete dish,hundred g"),
    "told": _rows("in_value;note;beside_servings"),
    "amount_form": _rows("float;unicode;padded;mixed"),
    "line_form": _rows("food_first_text;food_colon;food_brackets;bullets;html_list;by_number;"
                       "measures;two_amounts;quantity_object;display_text;comma_block;typed_amount"),
    "groups": _rows("heading_entries;twice_nested;prefixed;sections_beside"),
    "section_key": _rows("abschnitt;block name;used in;layer;bowl;course"),
    "numbers_form": _rows("daily_share;more_nutrients;both_energies;barred_text;macros_inside;"
                          "nutrient_objects;all_bases;schema_words"),
    "number_form": _rows("float;with_word;spaced_unit"),
    "steps_form": _rows("sections;one_line;lettered"),
    "noise": _rows("deep;long_text;stats;seo;equipment;versions;allergen list;plan"),
    "line_noise": _rows("density;image;share;checked;price_text;kj"),
    "order": _rows("alphabetical;servings_last"),
    "layout": _rows("title_rows;cards_no_heads;card_panel;costing_card;index_and_sheets;line_macros;"
                    "wide_pairs;numbers_first_blocks;matrix_units;long_repeated"),
    "columns": _rows("code_first;prep_note;food_note_amount;share;grams_and_household;numbered_rows"),
    "numbers_head": _rows("slash;in_unit;short_unit"),
    "servings_place": _rows("words;people"),
    "top_rows": _rows("title_date;long_note;page_of;two_banners"),
    "bottom_rows": _rows("sources;page_of;totals;long_note"),
    "column_noise": _rows("links;blank;row_no;unnamed;photo;price_text"),
}  # fmt: skip
FAMILIES = {
    "tree": _rows(
        "format;nest;inside;style;title_form;title_key;servings_key;servings_form;lines_key;"
        "food_key;amount_key;unit_key;weight_key;steps_key;numbers_key;nutrient_words;basis;"
        "basis_words;told;amount_form;line_form;groups;section_key;numbers_form;number_form;"
        "steps_form;noise;line_noise;order"
    ),
    "grid": _rows(
        "grid_format;layout;columns;style;title_key;servings_key;servings_place;lines_key;"
        "food_key;amount_key;unit_key;weight_key;steps_key;nutrient_words;basis;basis_words;"
        "amount_form;groups;section_key;numbers_place;numbers_head;number_form;top_rows;"
        "bottom_rows;column_noise"
    ),
    "page": _rows("markup;page_yield;page_numbers;page_lines;page_steps;page_noise"),
}
#: What every half needs, so that each reads all kinds of files.
_IN_BOTH = {
    "format": _rows("json"), "grid_format": _rows("csv"), "basis": BASES, "style": _rows("snake"),
    "groups": _rows("none"), "line_form": _rows("parts"), "nest": _rows("list"),
    "inside": _rows("flat"), "numbers_form": _rows("object"), "layout": _rows("long"),
    "told": _rows("container"), "columns": _rows("parts"),
}  # fmt: skip


def halves(choice: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The values of a choice, parted once: (development, held back)."""
    first: list[str] = []
    second: list[str] = []
    for told in (CHOICES[choice], MORE.get(choice, ())):
        values = list(told)
        random.Random(f"halves of {choice}").shuffle(values)
        cut = (len(values) + 1) // 2
        first, second = [*first, *values[:cut]], [*second, *values[cut:]]
    for value in _IN_BOTH.get(choice, ()):
        first += [value] * (value not in first)
        second += [value] * (value not in second)
    return tuple(first), tuple(second)


Shape = dict[str, str]


def shape_of(seed: int, held_back: bool = False) -> Shape:
    """One value a choice, of one half throughout."""
    rng = random.Random(f"shape {seed} {held_back}")
    family = rng.choices(("tree", "grid", "page"), (5, 4, 1))[0]
    shape = {"family": family}
    shape |= {name: rng.choice(halves(name)[held_back]) for name in FAMILIES[family]}
    if shape.get("told") == "untold" or (
        shape.get("numbers_form") == "bare_list" and shape["told"] in ("each_key", "sibling")
    ):
        shape["basis"] = "per_serving"
    if not _says_basis(shape):
        shape["basis"] = "per_serving"
    if shape.get("layout") in ("key_values", "field_value", "titles_joined", "costing_card"):
        shape["servings_place"] = shape["servings_place"].replace("title", "column")
    if shape.get("layout") == "line_macros":
        shape["basis"] = "per_recipe"
        shape["numbers_place"], shape["numbers_head"] = "columns", "unit"
    if family == "grid" and not _basis_told(shape):
        shape["basis"] = "per_serving"
    if family == "page":
        shape["basis"] = "per_serving"
    return shape


def _says_basis(shape: Shape) -> bool:
    """Whether numbers of a tree stand in a form that can say what they are for as they are to."""
    form, told = shape.get("numbers_form"), shape.get("told")
    if form == "schema_words" and told in ("each_key", "suffix"):
        return False
    if told == "beside_servings":
        return form != "flat"
    in_texts = ("object", "flat", "texts", "pairs", "entries", "columns", "barred_text",
                "list_of_objects", "energy_apart", "more_nutrients", "both_energies", "all_bases",
                "by_basis", "listed_bases", "macros_inside")  # fmt: skip
    return told != "in_value" or form in in_texts


def _basis_told(shape: Shape) -> bool:
    """Whether a grid of this shape says what its numbers are for."""
    layout, place, head = shape["layout"], shape["numbers_place"], shape["numbers_head"]
    if head in ("basis_each", "unit_and_basis"):
        return True
    if layout == "line_macros":
        return True
    if layout in ("matrix", "matrix_turned", "matrix_units", "field_value"):
        return False
    blocks = LAYOUTS[layout] is block_tables
    if head in ("merged", "basis_column"):
        return True
    if place == "text_cell":
        return blocks or layout.startswith(("long", "wide", "transposed"))
    return place in ("total_row", "row_below") and (blocks or layout.startswith("long"))


# --- keys ----------------------------------------------------------------------------------
_SAY: dict[str, Callable[[list[str]], str]] = {
    "camel": lambda w: w[0] + "".join(map(str.capitalize, w[1:])),
    "pascal": lambda w: "".join(map(str.capitalize, w)),
    "snake": "_".join,
    "kebab": "-".join,
    "title": lambda w: " ".join(map(str.capitalize, w)),
    "lower": " ".join,
    "upper": lambda w: "_".join(w).upper(),
    "joined": "".join,
    "sentence": lambda w: " ".join(w).capitalize(),
    "cut3": lambda w: "_".join(x[:3] for x in w),
    "cut4": lambda w: "".join(x[:4].capitalize() for x in w),
    "initial": lambda w: "".join(x[0] for x in w),
    "prefix": lambda w: "f_" + "_".join(w),
    "no_vowels": lambda w: "_".join(x[0] + re.sub("[aeiou]", "", x[1:]) for x in w),
}


class Keys:
    """How one shape writes its keys; two that fall together in one place are told apart."""

    def __init__(self, shape: Shape) -> None:
        self.shape = shape
        self._say = _SAY[shape["style"]]
        self._rows = 0

    def next_row(self) -> int:
        """The number of a line, over all recipes."""
        self._rows += 1
        return self._rows

    def of(self, words: str) -> str:
        """Some words in the style of the shape."""
        return self._say(words.split())

    def __call__(self, choice: str) -> str:
        """The key of a field."""
        return self.of(self.shape[f"{choice}_key"])

    @property
    def nutrients(self) -> list[str]:
        """The four nutrients' words, unstyled."""
        return self.shape["nutrient_words"].split(",")

    @property
    def basis(self) -> str:
        """The words for what the numbers are for."""
        return self.shape["basis_words"].split(",")[BASES.index(self.shape["basis"])]


class Name(str):
    """A key that is a name of something (a food, a recipe) and no word of the file's form."""


def put(into: dict[str, Any], key: str, value: object) -> None:
    """Add a key; one that is taken already gets a longer name, as whoever made the file would."""
    while key in into:
        key += "2" if key[-1].isdigit() or len(key) > 3 else key[-1]
    into[key] = value


def amount_of(line: Line, form: str) -> object:
    """The amount alone."""
    if form == "text":
        return number(line.amount)
    if form == "decimal_text":
        return f"{line.amount:.1f}"
    if form in ("fraction", "unicode"):
        half = "1/2" if form == "fraction" else "½"
        return half if line.amount == 0.5 else number(line.amount)
    if form == "float":
        return float(line.amount)
    if form == "padded":
        return f" {number(line.amount)} "
    if form == "mixed" and line.unit == "g":
        return number(line.amount)
    return int(line.amount) if line.amount.is_integer() else line.amount


def measured(line: Line) -> str:
    """Amount and unit."""
    tight = line.unit in ("g", "ml") and line.amount >= 100
    return f"{number(line.amount)}{'' if tight else ' '}{line.unit}".strip()


def figure(value: float, nutrient: int, form: str) -> object:
    """A stated number by itself."""
    unit = "kcal" if nutrient == 0 else "g"
    if form == "text":
        return number(value)
    if form == "with_unit":
        return f"{number(value)} {unit}"
    if form == "tight_unit":
        return f"{number(value)}{unit}"
    if form == "about":
        return f"~{number(value)}"
    if form == "decimal":
        return f"{value:.1f}"
    if form == "float":
        return value
    if form == "with_word":
        return f"{number(value)} {'calories' if nutrient == 0 else 'grams'}"
    if form == "spaced_unit":
        return f"{number(value)}  {unit.upper() if nutrient == 0 else unit} "
    return int(value) if value.is_integer() else value


# --- trees ---------------------------------------------------------------------------------
def tree_lines(lines: Sequence[Line], keys: Keys, rng: random.Random) -> Any:
    """Lines of one section, as a list of entries or in a form of their own."""
    form, shape = keys.shape["line_form"], keys.shape
    if form == "food_to_text":
        return {Name(line.food): measured(line) for line in lines}
    if form == "food_to_grams":
        return {Name(line.food): round(line.grams) or 1 for line in lines}
    if form == "food_to_object":
        return {
            Name(line.food): {
                keys("amount"): amount_of(line, shape["amount_form"]),
                keys.of("unit"): line.unit,
            }
            for line in lines
        }
    if form == "block":
        return "\n".join(line.text for line in lines)
    if form == "joined":
        return "; ".join(line.text for line in lines)
    if form == "bullets":
        return "\n".join(f"- {line.text}" for line in lines)
    if form == "comma_block":
        return "\n".join(f"{line.food}, {measured(line)}" for line in lines)
    if form == "html_list":
        return "<ul>" + "".join(f"<li>{line.text}</li>" for line in lines) + "</ul>"
    if form == "by_number":
        return {str(n): line.text for n, line in enumerate(lines, 1)}
    if form == "parallel":
        made: dict[str, Any] = {}
        put(made, keys("food"), [line.food for line in lines])
        put(made, keys("amount"), [amount_of(line, shape["amount_form"]) for line in lines])
        put(made, keys("unit"), [line.unit for line in lines])
        return made
    if form == "rows":
        head = [keys("amount"), keys("unit"), keys("food")]
        return [head] + [
            [amount_of(line, shape["amount_form"]), line.unit, line.food] for line in lines
        ]
    return [
        _with_noise(tree_line(line, keys), n, line, keys, rng) for n, line in enumerate(lines, 1)
    ]


def tree_line(line: Line, keys: Keys) -> Any:
    """One line as an entry of a list."""
    form, shape = keys.shape["line_form"], keys.shape
    amount, made = amount_of(line, shape["amount_form"]), dict[str, Any]()
    if form == "text":
        return line.text
    if form == "food_first_text":
        return f"{line.food} {measured(line)}"
    if form == "food_colon":
        return f"{line.food}: {measured(line)}"
    if form == "food_brackets":
        return f"{line.food} ({measured(line)})"
    if form == "measures":
        weight = {keys.of("amount"): round(line.grams) or 1, keys.of("unit"): "g"}
        told = {keys.of("amount"): amount, keys.of("unit"): line.unit or None}
        return unlike([(keys("food"), line.food), (keys.of("measures"), [told, weight])])
    if form == "quantity_object":
        told: dict[str, Any] = {keys("amount"): amount}
        put(told, keys("unit"), line.unit)
        return {keys.of("quantity"): told} | {
            keys.of("item"): {keys.of("name"): line.food, keys.of("kind"): "food"}
        }
    if form == "display_text":
        parts = {keys.of("display"): line.text, keys.of("food ref"): f"f{len(line.food):03d}"}
        parsed = unlike([(keys("food"), line.food), (keys("amount"), amount)])
        return parts | {keys.of("parsed"): parsed}
    if form == "triple":
        return [amount, line.unit, line.food]
    if form == "pair":
        return [line.food, measured(line)]
    if form == "one_entry":
        return {Name(line.food): measured(line)}
    if form == "text_in_object":
        return {keys("food"): line.text}
    if form == "text_and_parts":
        put(made, keys.of("original text"), line.text)
    if form == "nested_food":
        put(made, keys("food"), {keys.of("id"): len(line.food) * 31, keys.of("name"): line.food})
        put(made, keys("amount"), amount)
        put(made, keys("unit"), {keys.of("name"): line.unit} if line.unit else None)
        return made
    put(made, keys("food"), line.food)
    if form == "amount_text":
        put(made, keys("amount"), measured(line))
    elif form == "amount_object":
        put(made, keys("amount"), {keys.of("value"): amount, keys("unit"): line.unit or None})
    elif form == "weight_key":
        put(made, keys("weight"), round(line.grams) or 1)
    elif form == "unit_as_key":
        put(made, keys.of(line.unit or "pieces"), amount)
    elif form == "unit_in_key":
        put(made, keys.of(f"{shape['amount_key']} {line.unit or 'pieces'}"), amount)
    elif form == "two_amounts":
        put(made, keys("amount"), amount)
        put(made, keys("unit"), line.unit)
        put(made, keys.of(f"{shape['amount_key']} 2"), round(line.grams) or 1)
        put(made, keys.of(f"{shape['unit_key']} 2"), "g")
    elif form == "typed_amount":
        put(made, keys("amount"), {keys.of("type"): "exact", keys.of("value"): amount})
        put(made, keys("unit"), line.unit)
    elif form == "dual":
        put(made, keys.of("metric"), {keys("amount"): round(line.grams) or 1, keys.of("unit"): "g"})
        put(made, keys.of("us"), {keys("amount"): amount, keys.of("unit"): line.unit})
    else:
        put(made, keys("amount"), amount)
        put(made, keys("unit"), line.unit)
        if form == "parts_and_grams":
            put(made, keys("weight"), round(line.grams) or 1)
    return made


def _with_noise(entry: Any, n: int, line: Line, keys: Keys, rng: random.Random) -> Any:
    """The entry with what else an exporter keeps of a line."""
    kind = keys.shape["line_noise"]
    if not isinstance(entry, dict) or len(entry) == 1:
        return entry
    told: dict[str, Any] = {
        "ids": {"id": 4000 + n, "food id": rng.randint(100, 999)},
        "cost": {"cost": round(rng.uniform(0.1, 4), 2)},
        "aisle": {"aisle": rng.choice(("Produce", "Dairy", "Dry goods"))},
        "energy": {"kcal": rng.randint(5, 400)},
        "note": {"note": rng.choice(("chopped", "room temperature", ""))},
        "optional": {"optional": False},
        "supplier": {"supplier": "Quay Wholesale", "sku": f"QW-{rng.randint(1000, 9999)}"},
        "order": {"position": n},
        "stock": {"in stock": True, "pack size": "1 kg"},
        "density": {"density": 1.03},
        "image": {"image": f"img/{n}.png"},
        "share": {"share": f"{n * 3}%"},
        "checked": {"checked": n % 2 == 0},
        "price_text": {"price": f"£{n}.20", "store": "Quay shop"},
        "kj": {"kj": 40 * n},
    }.get(kind, {})
    for key, value in told.items():
        put(entry, keys.of(key), value)
    return entry


def grouped(dish: Dish, keys: Keys, rng: random.Random) -> Iterator[tuple[str, Any]]:
    """The keys under which the lines of a recipe stand, with what stands there."""
    how, key = keys.shape["groups"], keys("lines")
    parts = {s: [x for x in dish.lines if x.section == s] for s in ("Main", "Sauce")}
    if how == "own_keys":
        for name, lines in parts.items():
            yield keys.of(f"{name.lower()} {keys.shape['lines_key']}"), tree_lines(lines, keys, rng)
        return
    stored = {Name(name): tree_lines(lines, keys, rng) for name, lines in parts.items()}
    if how == "by_name":
        yield key, stored
    elif how == "listed":
        yield key, [{keys("section"): s, keys.of("items"): x} for s, x in stored.items()]
    elif how == "twice_nested":
        yield key, {keys.of("parts"): [{keys.of("title"): s, key: x} for s, x in stored.items()]}
    elif how == "prefixed":
        for n, value in enumerate(stored.values(), 1):
            yield f"{key}{n}", value
    elif how == "sections_beside":
        yield keys.of("sections"), [{keys("section"): s, key: x} for s, x in stored.items()]
    elif how == "numbered":
        yield (
            key,
            {
                f"{keys('section')}{n}": {keys.of("heading"): s, keys.of("list"): x}
                for n, (s, x) in enumerate(stored.items(), 1)
            },
        )
    else:
        whole = tree_lines(dish.lines, keys, rng)
        if how == "each_line" and isinstance(whole, list):
            for line, entry in zip(dish.lines, whole, strict=False):
                if isinstance(entry, dict) and len(entry) > 1:
                    put(entry, keys("section"), line.section)
        entries = isinstance(whole, list) and isinstance(whole[0], dict) and len(whole[0]) > 1
        if how == "heading_entries" and entries:
            heads = dict.fromkeys(whole[0]) | {keys("food"): "For the sauce:"}
            whole.insert(len(parts["Main"]), heads)
        if how == "headings" and isinstance(whole, list) and isinstance(whole[0], str):
            whole.insert(len(parts["Main"]), "For the sauce:")
        yield key, whole


#: What numbers are for stands elsewhere than in their keys, or nowhere.
_TOLD_APART = ("untold", "each_key", "suffix", "outside", "in_value", "note", "beside_servings")


def tree_numbers(dish: Dish, keys: Keys) -> Iterator[tuple[str, Any]]:
    """The keys under which stated numbers stand in a recipe, with what stands there."""
    shape = keys.shape
    told, form, words = shape["told"], shape["numbers_form"], keys.basis
    values = dish.stated[shape["basis"]]
    figures = [figure(v, n, shape["number_form"]) for n, v in enumerate(values)]
    key, named = shape["numbers_key"], keys.nutrients
    if told == "container":
        key = f"{key} {words}"
    elif told == "prefix":
        key = f"{words} {key}"
    elif told in ("each_key", "suffix"):
        named = [f"{n} {words}" for n in named]
    elif told == "in_value" and form not in ("text", "named", "value_unit"):
        units = ("kcal", "g", "g", "g")
        figures = [f"{number(v)} {u} {words}" for v, u in zip(values, units, strict=True)]
    pairs = unlike([(keys.of(n), f) for n, f in zip(named, figures, strict=True)])
    styled = list(pairs)
    stored: Any = pairs
    if form == "flat":
        if told not in _TOLD_APART:
            styled = list(unlike([(keys.of(f"{n} {words}"), 0) for n in keys.nutrients]))
        yield from zip(styled, figures, strict=True)
        stored = None
    elif form == "energy_apart":
        told_apart = told not in _TOLD_APART
        yield keys.of(f"{keys.nutrients[0]} {words}") if told_apart else styled[0], figures[0]
        stored = dict(list(pairs.items())[1:])
    else:
        stored = _numbers_stored(form, pairs, values, keys)
    if form == "all_bases":
        named = [keys.of(n) for n in keys.nutrients]
        stored = {
            keys.of(said): dict(zip(named, dish.stated[basis], strict=True))
            for said, basis in zip(shape["basis_words"].split(","), BASES, strict=True)
        }
        yield keys.of(shape["numbers_key"]), stored
        return
    if told == "outside":
        yield keys.of(f"{shape['numbers_key']} basis"), words
    elif told == "note":
        yield keys.of(f"{shape['numbers_key']} note"), f"Values: {words}"
    elif told == "beside_servings" and stored is not None:
        stored = {keys.of("basis"): words, keys.of("values"): stored}
    if stored is None:
        return
    if told == "sibling" and isinstance(stored, dict):
        stored = {keys.of("basis"): words} | stored
    elif told in ("inner", "sibling"):
        stored = {keys.of(words): stored}
    yield keys.of(key), stored


def _numbers_stored(form: str, pairs: dict[str, Any], values: Sequence[float], keys: Keys) -> Any:
    """The four numbers in one value."""
    units = ("kcal", "g", "g", "g")
    told = list(zip(pairs.items(), values, units[-len(pairs) :], strict=True))
    if form == "named":
        name, amount, unit = keys.of("name"), keys.of("amount"), keys.of("unit")
        return [{name: k, amount: v, unit: u} for (k, v), _, u in told]
    if form == "text":
        return ", ".join(
            f"{number(v)} {u} {k}" if n else f"{number(v)} kcal"
            for n, ((k, _), v, u) in enumerate(told)
        )
    if form == "value_unit":
        return {k: {keys.of("value"): v, keys.of("unit"): u} for (k, v), _, u in told}
    if form == "texts":
        return [f"{k}: {v}" for k, v in pairs.items()]
    if form == "pairs":
        return [[k, v] for k, v in pairs.items()]
    if form == "entries":
        return [{k: v} for k, v in pairs.items()]
    if form == "daily_share":
        return {k: {keys.of("amount"): v, keys.of("unit"): u, keys.of("daily share"): f"{n + 4}%"}
                for n, ((k, _), v, u) in enumerate(told)}  # fmt: skip
    if form == "more_nutrients":
        more = {keys.of(k): v for k, v in (("fibre", 4), ("sugars", 5.5), ("cholesterol", 30))}
        return pairs | more
    if form == "both_energies":
        return {keys.of("energy kj"): round(values[0] * 4.184)} | pairs
    if form == "barred_text":
        return " | ".join(f"{k}: {v}" for k, v in pairs.items())
    if form == "macros_inside":
        energy, *macros = pairs.items()
        return {energy[0]: energy[1], keys.of("macros"): dict(macros)}
    if form == "nutrient_objects":
        return [{keys.of("nutrient"): {keys.of("name"): k, keys.of("unit"): u}, keys.of("amount"): v}
                for (k, _), v, u in told]  # fmt: skip
    if form == "schema_words":
        words = ("calories", "proteinContent", "carbohydrateContent", "fatContent")
        return {w: f"{number(v)} {u}" for w, (_, v, u) in zip(words, told, strict=False)}
    if form == "columns":
        return {keys.of("nutrient"): list(pairs), keys.of("value"): list(pairs.values())}
    if form == "by_basis":
        return {keys.of(keys.basis): pairs}
    if form == "listed_bases":
        return [{keys.of("per"): keys.basis} | pairs]
    if form == "list_of_objects":
        return [{keys.of("type"): k, keys.of("value"): v} for k, v in pairs.items()]
    return pairs


def tree_servings(dish: Dish, keys: Keys) -> Any:
    """How many the recipe feeds."""
    n = dish.servings
    return {
        "text": str(n),
        "with_word": f"{n} servings",
        "value_unit": {keys.of("value"): n, keys.of("unit"): "servings"},
        "serves": f"Serves {n}",
        "count_type": {keys.of("count"): n, keys.of("type"): "people"},
        "listed": [n, "portions"],
        "makes": f"Makes {n} portions",
        "amount_of": {keys.of("amount"): n, keys.of("of"): "portions"},
        "quantity": {keys.of("quantity"): n},
        "least_most": {keys.of("min"): n, keys.of("max"): n},
        "decimal": float(n),
        "for_people": f"for {n} people",
        "persons": f"{n} pers.",
        "word": ("two", "three", "four", "five", "six", "seven", "eight")[n - 2],
        "portion_object": {keys.of("portions"): {keys.of("count"): n, keys.of("size"): "1 bowl"}},
    }.get(keys.shape["servings_form"], n)


def tree_title(dish: Dish, keys: Keys) -> Any:
    """What the recipe is called."""
    slug = dish.title.lower().replace(" ", "-").replace("'", "")
    return {
        "rendered": {keys.of("rendered"): dish.title},
        "language": {keys.of("en"): dish.title},
        "name_and_slug": {keys.of("name"): dish.title, keys.of("slug"): slug},
        "listed": [dish.title],
        "numbered": f"{int(dish.key) // 7}. {dish.title}",
        "value_object": {keys.of("type"): "plain", keys.of("value"): dish.title},
        "capitals": dish.title.upper(),
        "with_servings": f"{dish.title} (serves {dish.servings})",
    }.get(keys.shape["title_form"], dish.title)


def tree_steps(dish: Dish, keys: Keys) -> Any:
    """The method; None for none."""
    steps, text = dish.steps, keys.of("text")
    return {
        "numbered_objects": [
            {keys.of("step"): n, text: s} for n, s in enumerate(steps, 1)
        ],
        "block": "\n".join(steps),
        "none": None,
        "texts_of_objects": [{text: s} for s in steps],
        "numbered_text": "\n".join(f"{n}. {s}" for n, s in enumerate(steps, 1)),
        "html": "".join(f"<p>{s}</p>" for s in steps),
        "by_number": {str(n): s for n, s in enumerate(steps, 1)},
        "sections": [{keys.of("part"): "Cook", keys.of("do"): list(steps)}],
        "one_line": " ".join(steps),
        "lettered": [f"{'abcd'[n]}) {s}" for n, s in enumerate(steps)],
        "timed": [{keys.of("minutes"): 5 * n, keys.of("do"): s} for n, s in enumerate(steps, 1)],
    }.get(keys.shape["steps_form"], list(steps))  # fmt: skip


def noise_of(kind: str, dish: Dish, rng: random.Random) -> dict[str, Any]:
    """What else an exporter keeps of a recipe, keys unstyled."""
    told: dict[str, dict[str, Any]] = {
        "ids": {"id": int(dish.key), "uuid": f"9f2c-{dish.key}-41aa"},
        "dates": {"created at": "2024-03-02T10:15:00Z", "updated": "2024-05-11"},
        "cost": {"cost": round(rng.uniform(3, 20), 2), "currency": "GBP"},
        "rating": {"rating": 4.5, "votes": rng.randint(3, 90)},
        "times": {"prep time": 10, "cook time": "25 min", "total minutes": 35},
        "media": {"image": f"img/{dish.key}.jpg", "photos": ["a.jpg", "b.jpg"]},
        "tags": {"tags": ["dinner", "quick"], "category": "Dinner", "cuisine": "Coastal"},
        "notes": {"notes": "Keeps for 3 days in the fridge.", "tip": "Double it for a crowd."},
        "author": {"author": {"name": "Wren Castle", "id": 12}},
        "flags": {"published": True, "draft": False, "difficulty": 2},
        "deep": {"source": {"site": {"name": "Quay Kitchen", "founded": 2019}, "page": 12}},
        "long_text": {"story": "We first cooked this in 2019, on a boat with 2 pans. It stayed."},
        "stats": {"stats": {"views": 1204, "likes": 88}, "score": 3.9},
        "seo": {"seo title": f"{dish.title} | Quay Kitchen", "keywords": "easy, quick, dinner"},
        "equipment": {"equipment": ["23 cm pan", "2 bowls", "sieve"]},
        "versions": {"revision": 4, "history": [{"rev": 3, "by": "Wren"}, {"rev": 4, "by": "Pip"}]},
        "allergen list": {"contains": ["milk", "nuts"], "free of": ["gluten"]},
        "plan": {"day": "Tuesday", "slot": "dinner", "week": 14},
    }
    if kind == "all":
        return {key: value for each in told.values() for key, value in each.items()}
    return told.get(kind, {})


def record_of(
    dish: Dish, keys: Keys, rng: random.Random, numbers: bool = True, lines: bool = True
) -> dict[str, Any]:
    """One recipe as a mapping."""
    shape = keys.shape
    head = {keys("title"): tree_title(dish, keys)}
    put(head, keys("servings"), tree_servings(dish, keys))
    body: dict[str, Any] = {}
    for key, value in grouped(dish, keys, rng) if lines else ():
        put(body, key, value)
    if shape["steps_form"] != "none":
        put(body, keys("steps"), tree_steps(dish, keys))
    facts: dict[str, Any] = {}
    for key, value in tree_numbers(dish, keys) if numbers else ():
        put(facts, key, value)
    extra = {keys.of(k): v for k, v in noise_of(shape["noise"], dish, rng).items()}
    inside = shape["inside"]
    if inside == "head_body":
        return ordered(
            [{keys.of("meta"): head | extra}, {keys.of("body"): body | facts}], keys, rng
        )
    if inside in ("content", "card", "details"):
        return ordered([head, {keys.of(inside): joined(body, facts)}, extra], keys, rng)
    if inside == "info":
        title = {keys("title"): head.pop(keys("title"))}
        return ordered([title, {keys.of("info"): joined(head, facts, extra)}, body], keys, rng)
    if inside == "typed_parts":
        parts = [
            {keys.of("type"): k, keys.of("content"): v} for k, v in joined(body, facts).items()
        ]
        return ordered([head, {keys.of("blocks"): parts}, extra], keys, rng)
    if inside == "one_version":
        return ordered([head, {keys.of("versions"): [joined(body, facts)]}, extra], keys, rng)
    if inside == "acf":
        return ordered([{keys.of("acf"): joined(head, body, facts)}, extra], keys, rng)
    if inside == "yield_and_numbers":
        title = {keys("title"): head.pop(keys("title"))}
        return ordered(
            [title, body, {keys.of("portion info"): joined(head, facts)}, extra], keys, rng
        )
    if inside == "value_objects":
        made = {k: {keys.of("value"): v} for k, v in joined(head, body, facts).items()}
        return ordered([made, {}, {}, extra], keys, rng)
    if inside == "front_and_back":
        return ordered(
            [{keys.of("front"): joined(head, facts)}, {keys.of("back"): body}, extra], keys, rng
        )
    if inside == "numbers_deep":
        return ordered([head, body, {keys.of("health"): facts}, extra], keys, rng)
    return ordered([head, body, facts, extra], keys, rng)


def joined(*parts: dict[str, Any]) -> dict[str, Any]:
    """Several mappings in one; keys that fall together are told apart."""
    made: dict[str, Any] = {}
    for part in parts:
        for key, value in part.items():
            put(made, key, value)
    return made


def ordered(parts: list[dict[str, Any]], keys: Keys, rng: random.Random) -> dict[str, Any]:
    """The parts of a record in the order of the shape."""
    how = keys.shape["order"]
    if how == "numbers_first" and len(parts) > 2:
        parts = [parts[2], *parts[:2], *parts[3:]]
    elif how == "noise_first":
        parts = [parts[-1], *parts[:-1]]
    elif how == "servings_last":
        parts = [*parts[1:], parts[0]]
    made = list(joined(*parts).items())
    if how == "alphabetical":
        made.sort(key=lambda one: one[0])
    if how == "reversed":
        made.reverse()
    elif how == "shuffled":
        random.Random(keys.shape["style"]).shuffle(made)
    return dict(made)


# --- where the records of a tree stand -----------------------------------------------------
def tree_files(made: list[Dish], keys: Keys, rng: random.Random) -> dict[str, Any]:
    """Trees by file stem."""
    nest = keys.shape["nest"]
    if nest in ("tables_joined", "files_joined", "numbers_apart"):
        return _joined_trees(made, keys, rng)
    records = [record_of(dish, keys, rng) for dish in made]
    titles = [dish.title for dish in made]
    if nest == "file_each":
        return {t.lower().replace(" ", "_"): r for t, r in zip(titles, records, strict=True)}
    return {"kitchen": _nested(nest, made, records, keys)}


def _nested(nest: str, made: list[Dish], records: list[dict[str, Any]], keys: Keys) -> Any:
    """All records in one tree."""
    of = keys.of
    if nest == "by_title":
        for record in records:
            record.pop(keys("title"), None)
        return dict(zip((Name(d.title) for d in made), records, strict=True))
    if nest == "by_id":
        return {f"r{d.key}": r for d, r in zip(made, records, strict=True)}
    if nest == "by_category":
        return {Name("Dinner"): records[:1], Name("Lunch"): records[1:]}
    if nest == "columns_and_rows":
        head = list(records[0])
        return {of("columns"): head, of("rows"): [[r.get(k) for k in head] for r in records]}
    if nest == "columns":
        return {k: [r.get(k) for r in records] for k in records[0]}
    if nest == "lines_by_id":
        return _lines_by_id(made, keys)
    slugs = [d.title.lower().replace(" ", "-").replace("'", "") for d in made]
    days = ("monday", "tuesday", "wednesday", "thursday", "friday")
    forms: dict[str, Callable[[], Any]] = {
        "by_slug": lambda: {of("recipes"): dict(zip(slugs, records, strict=True))},
        "week": lambda: {of(day): {of("dinner"): r} for day, r in zip(days, records, strict=False)},
        "nodes": lambda: {of("data"): {of("all recipes"): {
            of("total count"): len(records), of("nodes"): records}}},
        "keyed_store": lambda: {of("recipes"): {f"-Nx{d.key}aQ": r for d, r in zip(made, records, strict=True)},
                                of("users"): {"-Na": {of("name"): "Wren"}}},
        "posts": lambda: [
            {of("id"): int(d.key), of("date"): "2024-03-02T10:15:00", of("status"): "publish",
             of("recipe card"): r} for d, r in zip(made, records, strict=True)],
        "with_drafts": lambda: [*records, {keys("title"): "Untitled draft"}],
        "among_others": lambda: [
            {of("type"): "article", of("body"): "News from the quay."},
            *({of("type"): "recipe", of("content"): r} for r in records)],
        "id_pairs": lambda: [[int(d.key), r] for d, r in zip(made, records, strict=True)],
        "wrapper": lambda: {of("recipes"): records},
        "deep_wrapper": lambda: {of("export"): {of("kitchen"): {of("dishes"): records}}},
        "wrapped_each": lambda: [{of("recipe"): r} for r in records],
        "edges": lambda: {of("data"): {of("recipes"): {of("edges"): [{of("node"): r} for r in records]}}},
        "api_page": lambda: {of("page"): 1, of("total"): len(records), of("results"): records},
        "attributes": lambda: {of("data"): [
            {of("type"): "dish", of("id"): d.key, of("attributes"): r}
            for d, r in zip(made, records, strict=True)]},
        "fields": lambda: [
            {of("model"): "kitchen.dish", of("pk"): int(d.key), of("fields"): r}
            for d, r in zip(made, records, strict=True)],
        "categories": lambda: {of("categories"): [
            {of("name"): "Dinner", of("dishes"): records[:1]},
            {of("name"): "Lunch", of("dishes"): records[1:]}]},
        "meta_and_data": lambda: {
            of("exported"): "2024-05-11", of("version"): 3, of("data"): {of("items"): records}},
    }  # fmt: skip
    return forms.get(nest, lambda: records)()


def _lines_by_id(made: list[Dish], keys: Keys) -> Any:
    """Recipes in a list, the lines of each elsewhere, under its id."""
    rng = random.Random(keys.shape["style"])
    heads = [
        {keys.of("id"): int(d.key)} | record_of(d, keys, rng, lines=False) for d in made
    ]  # fmt: skip
    lines = {d.key: [tree_line(line, keys) for line in d.lines] for d in made}
    return {keys.of("recipes"): heads, keys.of("ingredients"): lines}


def _joined_trees(made: list[Dish], keys: Keys, rng: random.Random) -> dict[str, Any]:
    """Recipes, lines and numbers as lists of their own, joined by the recipe's id."""
    nest, of = keys.shape["nest"], keys.of
    heads, lines, facts = [], [], []
    for dish in made:
        apart = nest == "numbers_apart"
        head = {of("id"): int(dish.key)} | record_of(dish, keys, rng, numbers=False, lines=apart)
        if not apart:
            for line in dish.lines:
                entry = tree_line(line, keys)
                entry = entry if isinstance(entry, dict) else {keys("food"): line.text}
                lines.append({of("recipe id"): int(dish.key)} | entry)
        heads.append(head)
        named = tree_title(dish, keys) if nest == "numbers_apart" else int(dish.key)
        name = keys("title") if nest == "numbers_apart" else of("recipe id")
        facts.append({name: named} | dict(tree_numbers(dish, keys)))
    parts = {of("recipes"): heads, of("ingredients"): lines, of("nutrition"): facts}
    parts = {key: value for key, value in parts.items() if value}
    if nest == "tables_joined":
        return {"kitchen": parts}
    return parts


def written_tree(stem: str, tree: Any, form: str) -> tuple[str, bytes]:
    """Name and bytes of a file."""
    if form == "jsonl":
        rows = tree if isinstance(tree, list) else [tree]
        return f"{stem}.jsonl", "\n".join(json.dumps(row) for row in rows).encode()
    if form == "ndjson":
        rows = tree if isinstance(tree, list) else [tree]
        return f"{stem}.ndjson", "\n".join(json.dumps(row) for row in rows).encode()
    if form == "yaml_flow":
        text = yaml.dump(
            tree, Dumper=_Blocks, sort_keys=False, allow_unicode=True, default_flow_style=True
        )
        return f"{stem}.yml", text.encode()
    if form == "json_compact":
        return f"{stem}.json", json.dumps(tree, separators=(",", ":"), ensure_ascii=False).encode()
    if form in ("yaml", "yaml_documents"):
        many = form == "yaml_documents" and isinstance(tree, list)
        text = yaml.dump_all(tree, Dumper=_Blocks, sort_keys=False, allow_unicode=True) if many else (
            yaml.dump(tree, Dumper=_Blocks, sort_keys=False, allow_unicode=True))  # fmt: skip
        return f"{stem}.yaml", text.encode()
    if form.startswith("xml"):
        root = ET.Element("kitchen")
        _xml(root, tree, form == "xml_attributes", "row" if form == "xml_rows" else "item")
        return f"{stem}.xml", ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return f"{stem}.json", json.dumps(tree, indent=1).encode()


class _Blocks(yaml.SafeDumper):
    """Texts of several lines as blocks."""


_Blocks.add_representer(
    str,
    lambda d, s: d.represent_scalar("tag:yaml.org,2002:str", s, style="|" if "\n" in s else None),
)
_Blocks.add_representer(Name, lambda d, s: d.represent_str(str(s)))


def _tag(key: str) -> str:
    tag = re.sub(r"[^\w.-]", "_", key)
    return tag if re.match("[A-Za-z_]", tag) else f"_{tag}"


def _xml(element: ET.Element, value: Any, attributes: bool, singular: str) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            if isinstance(key, Name):
                _xml(ET.SubElement(element, singular, name=key), inner, attributes, "item")
            elif attributes and not isinstance(inner, (dict, list)):
                element.set(_tag(key), "" if inner is None else str(inner))
            elif isinstance(inner, list) and inner and not isinstance(inner[0], list):
                holder = ET.SubElement(element, _tag(key))
                one = _tag(key)[:-1] if key.endswith("s") else "item"
                _xml(holder, inner, attributes, one)
            else:
                _xml(ET.SubElement(element, _tag(key)), inner, attributes, "item")
    elif isinstance(value, list):
        for inner in value:
            _xml(ET.SubElement(element, singular), inner, attributes, "item")
    elif value is not None:
        element.text = str(value)


# --- grids ---------------------------------------------------------------------------------
Grid = list[list[Any]]


def line_cells(line: Line | None, keys: Keys, rng: random.Random) -> list[tuple[str, Any]]:
    """(head, cell) of a line; cells mean nothing without a line."""
    line = line or Line(0, "", "", 0)
    how, words = keys.shape["columns"], keys.shape
    amount = ("amount", keys("amount"), amount_of(line, words["amount_form"]))
    unit = ("unit", keys("unit"), line.unit)
    food = ("food", keys("food"), line.food)
    grams = ("grams", keys("weight"), round(line.grams) or 1)
    text = ("text", keys("food"), line.text)
    cost = ("cost", keys.of("cost"), f"{rng.uniform(0.1, 4):.2f}")
    head_g = ("grams", f"{keys('amount')} (g)", round(line.grams) or 1)
    told = ("amount", keys("amount"), measured(line))
    metric = line.unit == "g"
    weighed = ("g", keys.of("grams"), amount[2] if metric else "")
    volume = ("other", keys("unit"), "" if metric else measured(line))
    cells = {
        "text": [text],
        "amount_text": [told, food],
        "grams_head": [food, head_g],
        "weight_key": [food, grams],
        "parts_and_grams": [amount, unit, food, grams],
        "food_first": [food, amount, unit],
        "unit_columns": [food, weighed, volume],
        "text_and_grams": [text, grams],
        "parts_and_cost": [amount, unit, food, cost],
        "food_amount_text": [food, told],
        "amount_unit_last": [food, cost, amount, unit],
        "code_first": [("code", keys.of("code"), f"FD{len(line.food):03d}"), food, amount, unit],
        "prep_note": [amount, unit, food, ("note", keys.of("prep"), rng.choice(("diced", "", "")))],
        "food_note_amount": [food, ("note", keys.of("notes"), rng.choice(("ripe", ""))), told],
        "share": [food, grams, ("share", keys.of("share"), f"{rng.randint(2, 40)}%")],
        "grams_and_household": [food, grams, ("told", keys.of("household"), measured(line))],
        "numbered_rows": [("row", "#", keys.next_row()), amount, unit, food],
    }.get(how, [amount, unit, food])
    return [(head, cell) for _, head, cell in cells]


def number_heads(keys: Keys) -> list[str]:
    """Heads of the four columns of numbers."""
    how, words = keys.shape["numbers_head"], keys.nutrients
    units = ("kcal", "g", "g", "g")
    if how == "unit":
        return [f"{keys.of(w)} ({u})" for w, u in zip(words, units, strict=True)]
    if how == "comma":
        return [f"{keys.of(w)}, {u}" for w, u in zip(words, units, strict=True)]
    if how == "underscore":
        return [keys.of(w) + ("" if w.endswith(u) else f"_{u}") for w, u in zip(words, units, strict=True)]  # fmt: skip
    if how == "slash":
        return [f"{keys.of(w)}/{u}" for w, u in zip(words, units, strict=True)]
    if how == "in_unit":
        return [f"{keys.of(w)} in {u}" for w, u in zip(words, units, strict=True)]
    if how == "short_unit":
        return [f"{keys.of(w)} {u}." for w, u in zip(words, units, strict=True)]
    if how == "basis_each":
        return [keys.of(f"{w} {keys.basis}") for w in words]
    if how == "unit_and_basis":
        return [f"{keys.of(w)} ({u} {keys.basis})" for w, u in zip(words, units, strict=True)]
    return [keys.of(w) for w in words]


def numbers_of(dish: Dish, keys: Keys) -> list[Any]:
    """The four numbers as cells."""
    return [
        figure(v, n, keys.shape["number_form"])
        for n, v in enumerate(dish.stated[keys.shape["basis"]])
    ]


def numbers_text(dish: Dish, keys: Keys) -> str:
    """The four numbers as one cell."""
    kcal, *rest = (number(v) for v in dish.stated[keys.shape["basis"]])
    told = ", ".join(f"{v} g {w}" for v, w in zip(rest, ("protein", "carbs", "fat"), strict=True))
    return f"{keys.basis.capitalize()}: {kcal} kcal, {told}"


def noise_cells(dish: Dish, keys: Keys, rng: random.Random) -> list[tuple[str, Any]]:
    kind = keys.shape["column_noise"]
    told: dict[str, Any] = {
        "ids": {"id": dish.key},
        "dates": {"updated": "2024-05-11"},
        "cost": {"cost per portion": f"{rng.uniform(1, 4):.2f}"},
        "rating": {"stars": 4},
        "times": {"minutes": 25},
        "notes": {"notes": "Keeps 3 days"},
        "supplier": {"supplier": "Quay Wholesale"},
        "allergens": {"allergens": "milk, nuts"},
        "status": {"status": "live"},
        "links": {"link": f"https://quay.example/r/{dish.key}"},
        "row_no": {"no": int(dish.key) // 7},
        "photo": {"photo": f"IMG_{dish.key}.jpg"},
        "price_text": {"sells at": f"£{rng.randint(4, 9)}.50"},
    }.get(kind, {})
    if kind in ("blank", "unnamed"):
        return [("", "x" if kind == "unnamed" else "")]
    return [(keys.of(k), v) for k, v in told.items()]


def head_cells(dish: Dish, keys: Keys, rng: random.Random) -> list[tuple[str, Any]]:
    """(head, cell) of what a recipe has once, its numbers apart."""
    place = keys.shape["servings_place"]
    title = f"{dish.title} (serves {dish.servings})" if place == "title" else dish.title
    cells: list[tuple[str, Any]] = [(keys("title"), title)]
    if place != "title":
        forms = {"text": "{} servings", "words": "serves {}", "people": "{} people"}
        told = forms[place].format(dish.servings) if place in forms else dish.servings
        cells.append((keys("servings"), told))
    return cells + noise_cells(dish, keys, rng)


def fact_cells(dish: Dish, keys: Keys) -> list[tuple[str, Any]]:
    """(head, cell) of the numbers of a recipe, where they stand in columns."""
    cells: list[tuple[str, Any]] = []
    if keys.shape["numbers_head"] == "basis_column":
        cells.append((keys.of("nutrition basis"), keys.basis))
    return cells + list(zip(number_heads(keys), numbers_of(dish, keys), strict=True))


def unlike(cells: list[tuple[str, Any]]) -> dict[str, Any]:
    """Cells by head; heads that fall together are told apart."""
    made: dict[str, Any] = {}
    for head, cell in cells:
        put(made, head, cell)
    return made


def table_of(rows: list[dict[str, Any]], keys: Keys, heading: int = 0) -> Grid:
    """Rows below their heads, with a row of the basis above where the shape has one; the first
    ``heading`` rows only order the heads."""
    heads = list(dict.fromkeys(head for row in rows for head in row))
    grid: Grid = [heads, *([row.get(head, "") for head in heads] for row in rows[heading:])]
    facts = number_heads(keys)
    if keys.shape["numbers_head"] == "merged" and facts[0] in heads:
        above: list[Any] = [""] * len(heads)
        above[heads.index(facts[0])] = keys.basis
        grid.insert(0, above)
    return grid


Sheets = dict[str, Grid]


def long_tables(made: list[Dish], keys: Keys, rng: random.Random) -> Sheets:
    """A row a line, what the recipe has once on each row or on the first."""
    shape, rows, facts = keys.shape, [], []
    for dish in made:
        head = head_cells(dish, keys, rng)
        numbers = {
            "own_table": [], "total_row": [], "row_below": [],
            "text_cell": [(keys.of("nutrition"), numbers_text(dish, keys))],
        }.get(shape["numbers_place"], fact_cells(dish, keys))  # fmt: skip
        for n, line in enumerate(dish.lines):
            told = head
            if n and shape["layout"] == "long_blank":
                told = [(h, "") for h, _ in head]
            if n and (shape["layout"] == "long_blank" or shape["numbers_place"] == "first_row"):
                numbers = [(h, "") for h, _ in numbers]
            section = [(keys("section"), line.section)] if shape["groups"] == "each_line" else []
            rows.append(unlike(told + section + line_cells(line, keys, rng) + numbers))
        if shape["numbers_place"] in ("total_row", "row_below"):
            food = keys("food")
            rows.append(unlike([head[0], (food, keys.basis.capitalize()), *fact_cells(dish, keys)]))
        facts.append(unlike([head[0], *fact_cells(dish, keys)]))
    sheets = {"recipes": table_of(rows, keys)}
    if shape["numbers_place"] == "own_table":
        sheets["nutrition"] = table_of(facts, keys)
    return sheets


def title_row_tables(made: list[Dish], keys: Keys, rng: random.Random) -> Sheets:
    """One table of lines, a row with the title (and the numbers) above those of each recipe."""
    rows: list[dict[str, Any]] = []
    for dish in made:
        cells = [line_cells(line, keys, rng) for line in dish.lines]
        title = f"{dish.title} (serves {dish.servings})"
        rows.append(unlike([(cells[0][0][0], title), *fact_cells(dish, keys)]))
        rows += [unlike(told) for told in cells]
    return {"recipes": table_of([unlike([*cells[0], *fact_cells(made[0], keys)]), *rows], keys, 1)}


def macro_tables(made: list[Dish], keys: Keys, rng: random.Random) -> Sheets:
    """A block a recipe with the numbers of every line and their sum."""
    grid: Grid = []
    for dish in made:
        heads = [*unlike(line_cells(dish.lines[0], keys, rng)), *number_heads(keys)]
        grid += [[dish.title, f"Serves {dish.servings}"], heads]
        left = list(dish.stated["per_recipe"])
        for n, line in enumerate(dish.lines):
            last = n == len(dish.lines) - 1
            mine = (
                left if last else [round(v / len(dish.lines), 1) for v in dish.stated["per_recipe"]]
            )
            left = [round(v - m, 1) for v, m in zip(left, mine, strict=True)]
            grid.append([*unlike(line_cells(line, keys, rng)).values(), *mine])
        total: list[Any] = ["Total", *[""] * (len(heads) - 5)]
        grid += [[*total, *dish.stated["per_recipe"]], []]
    return {"recipes": grid}


def wide_tables(made: list[Dish], keys: Keys, rng: random.Random) -> Sheets:
    """A row a recipe."""
    layout, rows, facts = keys.shape["layout"], [], []
    own = keys.shape["numbers_place"] == "own_table"
    for dish in made:
        cells = head_cells(dish, keys, rng)
        if layout == "wide_cell":
            cells.append((keys("lines"), "\n".join(line.text for line in dish.lines)))
        elif layout == "wide_joined":
            cells.append((keys("lines"), "; ".join(line.text for line in dish.lines)))
        else:
            for n, line in enumerate(dish.lines, 1):
                told = [(keys("food"), line.text)]
                if layout == "wide_triples":
                    told = line_cells(line, keys, rng)
                elif layout == "wide_pairs":
                    told = [(keys("food"), line.food), (keys("amount"), measured(line))]
                cells += [(f"{head} {n}", cell) for head, cell in told]
        if layout in ("wide_cell", "wide_joined"):
            cells.append((keys("steps"), "\n".join(dish.steps)))
        if keys.shape["numbers_place"] == "text_cell":
            cells.append((keys.of("nutrition"), numbers_text(dish, keys)))
        elif not own:
            cells += fact_cells(dish, keys)
        rows.append(unlike(cells))
        facts.append(unlike([(keys("title"), dish.title), *fact_cells(dish, keys)]))
    sheets = {"recipes": table_of(rows, keys)}
    if own:
        sheets["nutrition"] = table_of(facts, keys)
    if layout == "transposed":
        sheets = {name: turned(grid) for name, grid in sheets.items()}
    return sheets


def turned(grid: Grid) -> Grid:
    """Rows as columns."""
    return [list(row) for row in zip(*grid, strict=True)]


def matrix_tables(made: list[Dish], keys: Keys, _rng: random.Random) -> Sheets:
    """Foods down and recipes across, grams in the cells; servings and numbers below."""
    foods = list(dict.fromkeys(line.food for dish in made for line in dish.lines))
    units = keys.shape["layout"] == "matrix_units"
    grid: Grid = [
        [keys("food") if units else f"{keys('food')} (g)", *(dish.title for dish in made)]
    ]
    for food in foods if units else ():
        shown = [{line.food: measured(line) for line in dish.lines} for dish in made]
        grid.append([food, *(each.get(food, "") for each in shown)])
    for food in () if units else foods:
        held = [{line.food: round(line.grams) or 1 for line in dish.lines} for dish in made]
        grid.append([food, *(each.get(food, "") for each in held)])
    grid.append([keys("servings"), *(dish.servings for dish in made)])
    for n, head in enumerate(number_heads(keys)):
        grid.append([head, *(numbers_of(dish, keys)[n] for dish in made)])
    return {"recipes": turned(grid) if keys.shape["layout"] == "matrix_turned" else grid}


def block(dish: Dish, keys: Keys, rng: random.Random) -> Grid:
    """One recipe as rows: its title, its heads, its lines, its numbers."""
    shape, layout = keys.shape, keys.shape["layout"]
    cells = [line_cells(line, keys, rng) for line in dish.lines]
    heads = list(unlike(cells[0]))
    title = dish.title
    grid: Grid = [
        [f"{title} (serves {dish.servings})" if shape["servings_place"] == "title" else title]
    ]
    if shape["layout"] == "key_values":
        grid = [[keys("title"), title]]
    if layout == "costing_card":
        grid = [[keys("title"), title, "", keys("servings"), dish.servings]]
    elif shape["servings_place"] in ("text", "words", "people"):
        people = shape["servings_place"] == "people"
        grid.append([f"For {dish.servings} people" if people else f"Serves {dish.servings}"])
    elif shape["servings_place"] != "title":
        grid.append([keys("servings"), dish.servings])
    grid += [[head, cell] for head, cell in noise_cells(dish, keys, rng) if head]
    numbers = _block_numbers(dish, keys, len(heads))
    if layout == "numbers_first_blocks":
        grid, numbers = [*grid, *numbers], []
    if layout != "cards_no_heads":
        grid.append(heads)
    first = len(grid)
    for n, told in enumerate(cells):
        section = dish.lines[n].section
        if shape["groups"] in ("headings", "by_name") and (
            n == 0 or section != dish.lines[n - 1].section
        ):
            grid.append([f"For the {section.lower()}:"])
        grid.append(list(unlike(told).values()))
    if layout == "card_panel":
        width = max(map(len, grid)) + 1
        for row, told in zip(grid[first - 1 :], numbers, strict=False):
            row += ["" for _ in range(width - len(row))] + told
        numbers = numbers[len(grid) - first + 1 :]
    return grid + numbers


def _block_numbers(dish: Dish, keys: Keys, _width: int) -> Grid:
    """The numbers below the lines of a block."""
    place, basis = keys.shape["numbers_place"], keys.basis
    if place == "text_cell":
        return [[numbers_text(dish, keys)]]
    if place in ("total_row", "row_below"):
        heads = [keys.of(word) for word in keys.nutrients]
        return [["", *heads], [basis.capitalize(), *numbers_of(dish, keys)]]
    pairs = zip(number_heads(keys), numbers_of(dish, keys), strict=True)
    rows: Grid = [[head, value] for head, value in pairs]
    if keys.shape["numbers_head"] in ("merged", "basis_column"):
        rows.insert(0, [f"Nutrition {basis}"])
    return rows


def block_tables(made: list[Dish], keys: Keys, rng: random.Random) -> Sheets:
    """Blocks below one another, beside one another, or a sheet each."""
    blocks = [block(dish, keys, rng) for dish in made]
    layout = keys.shape["layout"]
    if layout == "index_and_sheets":
        index: Grid = [[keys("title"), keys.of("pages")]]
        index += [[dish.title, n] for n, dish in enumerate(made, 1)]
        sheets = {f"R{n:02d}": grid for n, grid in enumerate(blocks, 1)}
        return {"Index": index} | sheets
    if layout == "sheet_each":
        return {dish.title: grid for dish, grid in zip(made, blocks, strict=True)}
    if layout == "side_by_side":
        width = max(len(row) for grid in blocks for row in grid) + 1
        height = max(map(len, blocks))
        rows: Grid = []
        for n in range(height):
            row: list[Any] = []
            for grid in blocks:
                told = grid[n] if n < len(grid) else []
                row += [*told, *[""] * (width - len(told))]
            rows.append(row)
        return {"recipes": rows}
    return {"recipes": [row for grid in blocks for row in (*grid, [])]}


def joined_tables(made: list[Dish], keys: Keys, rng: random.Random) -> Sheets:
    """Tables of recipes, lines and numbers, joined by id or by title."""
    by_id = keys.shape["layout"] == "sheets_joined"
    recipes, lines, facts = [], [], []
    for dish in made:
        told = (keys.of("recipe id"), dish.key) if by_id else (keys("title"), dish.title)
        plain = (told[0], told[1])
        head = [cell for cell in head_cells(dish, keys, rng) if by_id or cell[0] != told[0]]
        recipes.append(unlike([plain, *head]))
        lines += [unlike([plain, *line_cells(line, keys, rng)]) for line in dish.lines]
        facts.append(unlike([plain, *fact_cells(dish, keys)]))
    return {
        "recipes": table_of(recipes, keys),
        "ingredients": table_of(lines, keys),
        "nutrition": table_of(facts, keys),
    }


def field_tables(made: list[Dish], keys: Keys, rng: random.Random) -> Sheets:
    """A row a fact: recipe, field, value."""
    rows: Grid = [[keys("title"), keys.of("field"), keys.of("value")]]
    for dish in made:
        facts: list[tuple[str, Any]] = head_cells(dish, keys, rng)[1:]
        facts += [(keys.of("ingredient"), line.text) for line in dish.lines]
        facts += fact_cells(dish, keys)
        rows += [[dish.title, head, cell] for head, cell in facts]
    return {"recipes": rows}


LAYOUTS: dict[str, Callable[[list[Dish], Keys, random.Random], Sheets]] = {
    "long": long_tables, "long_blank": long_tables,
    "wide_cell": wide_tables, "wide_joined": wide_tables, "wide_numbered": wide_tables,
    "wide_triples": wide_tables, "transposed": wide_tables,
    "matrix": matrix_tables, "matrix_turned": matrix_tables,
    "blocks": block_tables, "key_values": block_tables, "side_by_side": block_tables,
    "sheet_each": block_tables, "index_and_sheets": block_tables, "costing_card": block_tables,
    "cards_no_heads": block_tables, "card_panel": block_tables,
    "numbers_first_blocks": block_tables,
    "title_rows": title_row_tables, "line_macros": macro_tables,
    "wide_pairs": wide_tables, "long_repeated": long_tables, "matrix_units": matrix_tables,
    "sheets_joined": joined_tables, "titles_joined": joined_tables,
    "field_value": field_tables,
}  # fmt: skip


def dressed(grid: Grid, keys: Keys) -> Grid:
    """The grid with what people put above and below."""
    above: Grid = {
        "banner": [["Kitchen recipes 2024"]],
        "banner_gap": [["Recipe book"], []],
        "exported": [["Exported 11/05/2024 by Wren"]],
        "empty": [[]],
        "legend": [["Key", "V = vegan"], []],
        "contact": [["Castle Catering Ltd"], ["office@castle.example", "01632 960123"], []],
        "title_date": [["Quay Kitchen", "", "11 May 2024"], []],
        "long_note": [["Weights are of raw food. Please ask before you change a recipe."], []],
        "page_of": [["Page 1 of 2"]],
        "two_banners": [["QUAY KITCHEN"], ["Spring menu"]],
    }.get(keys.shape["top_rows"], [])
    below: Grid = {
        "note": [[], ["All weights raw unless stated."]],
        "count": [[], ["3 recipes"]],
        "signature": [[], ["Checked by", "W. Castle"]],
        "empty": [[], []],
        "sources": [[], ["Source: own kitchen"]],
        "page_of": [[], ["Page 1 of 2"]],
        "totals": [[], ["Recipes in all", 5]],
        "long_note": [[], ["Weights are of raw food. Please ask before you change a recipe."]],
    }.get(keys.shape["bottom_rows"], [])
    if keys.shape["layout"] == "long_repeated" and len(grid) > 6:
        grid = [*grid[:6], grid[0], *grid[6:]]  # as a sheet that was printed in pages
    return [*above, *grid, *below]


def written_grids(sheets: Sheets, form: str) -> Iterator[tuple[str, bytes]]:
    """Name and bytes of each file."""
    if form in ("xlsx", "formatted"):
        yield "kitchen.xlsx", _workbook(sheets, formatted=form == "formatted")
        return
    if form in ("html", "markdown"):
        write = _html_table if form == "html" else _markdown_table
        suffix = "html" if form == "html" else "md"
        for name, grid in sheets.items():
            yield f"{name}.{suffix}", write(name, grid).encode()
        return
    delimiter = {
        "semicolon": ";", "tsv": "\t", "pipe": "|", "decimal_comma": ";", "utf16": "\t",
    }.get(form, ",")  # fmt: skip
    for name, grid in sheets.items():
        width = max((len(row) for row in grid), default=0)
        text = io.StringIO()
        quoting = csv.QUOTE_ALL if form == "csv_quoted" else csv.QUOTE_MINIMAL
        end = "\r\n" if form == "csv_crlf" else "\n"
        writer = csv.writer(text, delimiter=delimiter, quoting=quoting, lineterminator=end)
        for row in grid:
            cells = [*row, *[""] * (width - len(row))]
            if form == "decimal_comma":
                cells = [str(c).replace(".", ",") if isinstance(c, float) else c for c in cells]
            elif form == "odd_spaces":
                cells = [f" {c}\u00a0" if c != "" else c for c in cells]
            writer.writerow(cells)
        mark = "\ufeff" if form in ("csv_bom", "utf16") else ""
        data = (mark + text.getvalue()).encode("utf-16-le" if form == "utf16" else "utf-8")
        yield f"{name}.{'tsv' if form == 'tsv' else 'csv'}", data


def _html_table(name: str, grid: Grid) -> str:
    def row(cells: list[Any]) -> str:
        return "<tr>" + "".join(f"<td>{_breaks(escape(str(c)))}</td>" for c in cells) + "</tr>"

    rows = "".join(row(cells) for cells in grid)
    return f"<html><head><title>{name}</title></head><body><table>{rows}</table></body></html>"


def _breaks(text: str) -> str:
    return text.replace("\n", "<br>")


def _markdown_table(_name: str, grid: Grid) -> str:
    width = max(map(len, grid), default=1)
    rows = [[_breaks(str(c)) for c in row] + [""] * (width - len(row)) for row in grid]
    lines = ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join([*lines[:1], "|" + "---|" * width, *lines[1:], ""])


def _workbook(sheets: Sheets, *, formatted: bool = False) -> bytes:
    """A workbook; ``formatted``: it begins lower and further right, with its banner merged."""
    from openpyxl import Workbook

    book, out = Workbook(), io.BytesIO()
    book.remove(book.active)
    for name, grid in sheets.items():
        sheet = book.create_sheet(name[:31])
        if formatted:
            sheet.append([])
        for row in grid:
            sheet.append([None] * formatted + [None if cell == "" else cell for cell in row])
        if formatted and grid and len(grid[0]) == 1:
            sheet.merge_cells(start_row=2, end_row=2, start_column=2, end_column=4)
    book.save(out)
    return out.getvalue()


# --- pages ---------------------------------------------------------------------------------
def page(dish: Dish, shape: Shape, others: Sequence[Dish]) -> str:
    """One page with its recipe in markup for machines."""
    kind = shape["markup"]
    body = f"<h1>{escape(dish.title)}</h1><p>A favourite of ours.</p>"
    body += {
        "crumbs": '<nav><a href="/">Home</a> / <a href="/dinner">Dinner</a></nav>',
        "comments": "<section><h3>Comments</h3><p>Made 2 cups of rice with it!</p></section>",
        "shop": "<aside><h3>Shop</h3><ul><li>Pan 24 cm</li><li>Knife</li></ul></aside>",
        "related": "<ul><li><a href='/a'>Apple pie</a></li><li><a href='/b'>Bread</a></li></ul>",
    }.get(shape["page_noise"], "")
    if kind.startswith("json_ld"):
        data = json.dumps(_ld_container(kind, _ld(dish, shape), others, shape))
        head = f'<script type="application/ld+json">{data}</script>'
        return f"<html><head><title>{escape(dish.title)}</title>{head}</head><body>{body}</body></html>"
    return f"<html><head><title>{escape(dish.title)}</title></head><body>{_micro(dish, shape)}</body></html>"


def _page_facts(dish: Dish, form: str) -> list[tuple[str, Any]]:
    names = ("calories", "proteinContent", "carbohydrateContent", "fatContent")
    told = []
    for n, (name, value) in enumerate(zip(names, dish.stated["per_serving"], strict=True)):
        word = "calories" if n == 0 else "grams" if form == "grams_word" else "g"
        shown: Any = f"{number(value)} {word}"
        if form == "bare":
            shown = value
        elif form == "unit":
            shown = f"{number(value)}{'kcal' if n == 0 else 'g'}"
        elif form == "decimals":
            shown = f"{value:.1f} {word}"
        told.append((name, shown))
    return told


def _page_yield(dish: Dish, form: str) -> Any:
    n = dish.servings
    return {
        "words": f"{n} servings", "listed": [str(n), f"{n} servings"], "serves": f"Serves {n}",
        "quantity": {"@type": "QuantitativeValue", "value": n, "unitText": "servings"},
        "makes": f"Makes {n} servings",
    }.get(form, n)  # fmt: skip


def _ld(dish: Dish, shape: Shape) -> dict[str, Any]:
    form, texts = shape["page_lines"], [line.text for line in dish.lines]
    lines: Any = {
        "one_text": "\n".join(texts),
        "objects": [{"@type": "HowToSupply", "name": t} for t in texts],
        "doubled": [t.replace(" ", "  ", 1) for t in texts],
        "typed": [
            {"@type": "PropertyValue", "name": x.food, "value": x.amount, "unitText": x.unit}
            for x in dish.lines
        ],
        "entities": [escape(t) + "&nbsp;" for t in texts],
    }.get(form, texts)
    steps: Any = {
        "how_to": [{"@type": "HowToStep", "text": s} for s in dish.steps],
        "section": [{"@type": "HowToSection", "name": "Cook",
                     "itemListElement": [{"@type": "HowToStep", "text": s} for s in dish.steps]}],
        "one_text": " ".join(dish.steps),
        "html": "".join(f"<li>{s}</li>" for s in dish.steps),
    }.get(shape["page_steps"], list(dish.steps))  # fmt: skip
    facts: Any = {"@type": "NutritionInformation", "servingSize": "1 serving"}
    facts |= dict(_page_facts(dish, shape["page_numbers"]))
    node: dict[str, Any] = {
        "@type": "Recipe", "name": dish.title,
        "recipeYield": _page_yield(dish, shape["page_yield"]), "recipeIngredient": lines,
        "nutrition": [facts] if shape["page_numbers"] == "listed" else facts,
    }  # fmt: skip
    if shape["page_steps"] != "none":
        node["recipeInstructions"] = steps
    node |= {
        "rating": {"aggregateRating": {"@type": "AggregateRating", "ratingValue": 4.6, "reviewCount": 31}},
        "video": {"video": {"@type": "VideoObject", "name": dish.title, "duration": "PT3M"}},
        "author": {"author": {"@type": "Person", "name": "Wren Castle"}},
    }.get(shape["page_noise"], {})  # fmt: skip
    return node


def _ld_container(kind: str, node: dict[str, Any], _others: Sequence[Dish], _shape: Shape) -> Any:
    whole = {"@context": "https://schema.org"}
    if kind == "json_ld_graph":
        return whole | {"@graph": [{"@type": "WebPage", "name": node["name"]}, node]}
    if kind == "json_ld_list":
        return [whole | {"@type": "Organization", "name": "Castle Kitchen"}, whole | node]
    if kind == "json_ld_main_entity":
        return whole | {"@type": "WebPage", "name": "Castle Kitchen", "mainEntity": node}
    if kind == "json_ld_item_list":
        items = [{"@type": "ListItem", "position": 1, "item": node}]
        return whole | {"@type": "ItemList", "itemListElement": items}
    return whole | node


def _micro(dish: Dish, shape: Shape) -> str:
    meta = shape["markup"] == "microdata_meta"

    def prop(name: str, value: object, tag: str = "span") -> str:
        if meta and tag == "span":
            return f'<meta itemprop="{name}" content="{escape(str(value))}">'
        return f'<{tag} itemprop="{name}">{escape(str(value))}</{tag}>'

    told = _page_yield(dish, shape["page_yield"])
    servings = told if isinstance(told, (str, int)) else f"{dish.servings} servings"
    lines = "".join(prop("recipeIngredient", line.text, "li") for line in dish.lines)
    steps = "".join(prop("recipeInstructions", s, "p") for s in dish.steps)
    facts = "".join(prop(name, value) for name, value in _page_facts(dish, shape["page_numbers"]))
    inner = (
        prop("name", dish.title, "h1") + "<p>Makes "  # a sentence as on a page
        + prop("recipeYield", servings) + f"</p><ul>{lines}</ul>{steps}"
        + f'<div itemprop="nutrition" itemscope itemtype="https://schema.org/NutritionInformation">{facts}</div>'
    )  # fmt: skip
    if shape["markup"] == "microdata_nested":
        inner = f"<article><div><section>{inner}</section></div></article>"
    return f'<div itemscope itemtype="https://schema.org/Recipe">{inner}</div>'


# --- one case ------------------------------------------------------------------------------
def files_of(made: list[Dish], shape: Shape, rng: random.Random) -> dict[str, bytes]:
    """Files by name, in which the recipes are stored in this shape."""
    if shape["family"] == "page":
        return {f"{dish.key}.html": page(dish, shape, made).encode() for dish in made}
    keys = Keys(shape)
    if shape["family"] == "tree":
        trees = tree_files(made, keys, rng)
        return dict(written_tree(_tag(s), t, shape["format"]) for s, t in trees.items())
    sheets = LAYOUTS[shape["layout"]](made, keys, rng)
    sheets = {name: dressed(grid, keys) for name, grid in sheets.items()}
    return dict(written_grids(sheets, shape["grid_format"]))


def case(seed: int, held_back: bool = False) -> tuple[list[Dish], Shape, dict[str, bytes]]:
    """Recipes, the shape they are stored in, and the files."""
    rng = random.Random(f"case {seed} {held_back}")
    shape = shape_of(seed, held_back)
    made = dishes(rng, rng.randint(2, 5))
    return made, shape, files_of(made, shape, rng)
