-- sql/snapshot_schema.sql: the tables of an empty snapshot.
-- out     snapshot        one row: what this file is and where it came from
--         source          one row a composition table loaded, in order of preference
--         nutrient        one row a tagname: its unit and label
--         food            one row a food_id
--         food_wide       one row a food_id: its macros side by side
--         food_nutrient   view, one row a (food_id, nutrient) that the source reports; unknown: no
--                         row. Its rows stand in amount, by number
--         measure         one row a (food_id, seq): `amount` `unit` `qualifier` weighs `grams`
--         food_profile    one row a food_id: what its description and composition say
create table snapshot (
    snapshot_id varchar not null,
    source varchar not null,           -- the sources, preferred first, comma between
    release varchar not null,
    built_at timestamp not null,       -- UTC
    source_sha256 varchar not null,    -- of the file the preferred source was read from
    schema_version integer not null,
    input_sha256 varchar not null      -- of everything the build read: sources, shared tables, SQL
);
create table source (
    source varchar not null,
    preference integer not null,       -- 1 is asked first
    title varchar not null,
    publisher varchar not null,
    release varchar not null,
    licence varchar not null,
    sha256 varchar not null,
    url varchar not null,
    foods bigint not null,
    reference boolean not null,        -- its foods are never an answer, see food.reference
    measures boolean not null          -- the source gives household measures
);
create sequence nutrient_no;
create table nutrient (
    nutrient_no utinyint not null default nextval('nutrient_no'),
    nutrient varchar not null,         -- INFOODS tagname
    unit varchar not null,             -- kcal, g, mg, ug, IU
    label varchar not null,
    nutrient_nbr varchar               -- number in the publisher's own list
);
create table food (
    food_no integer not null,          -- stands for food_id in amount
    food_id varchar not null,
    source varchar not null,
    source_code varchar not null,      -- the publisher's stable code, SR numbers with leading zeros
    description varchar not null,
    category varchar not null,
    survey boolean not null,
    refuse_pct double,                 -- null: not said
    refuse varchar not null,
    nitrogen_factor double,
    protein_factor double,
    fat_factor double,
    carb_factor double,
    common_name varchar not null,
    scientific_name varchar not null,
    manufacturer varchar not null,
    short_description varchar not null,
    preference integer not null,
    per varchar not null,              -- '100 g', or '100 ml' where the label counts by volume
    energy_from varchar not null,      -- "" as published; else how the kcal were computed
    reference boolean not null default false,  -- never an answer to a line: only supplies
                                       -- measures, density, refuse and expected composition
    complete boolean not null default false,   -- has energy, protein, fat and carbohydrate; a food
                                       -- that lacks one is no answer where another table has them
    reference_id varchar               -- food_id of SR28's food of the same NDB number, whose
                                       -- measures fill in; null: none, or the food itself
);
create table food_wide (               -- the macros of a food in one row; see view food_macros
    food_id varchar not null,
    kcal double,
    protein_g double,
    carbs_g double,
    fat_g double,
    fiber_g double,
    sugar_g double,
    satfat_g double,
    sodium_mg double,
    alcohol_g double,
    water_g double
);
create table derivation (
    derivation_no utinyint not null,
    derivation varchar not null        -- "" as published; else how an amount was derived
);
create table amount (                  -- numbers stand for texts: tens of millions of rows fit
    food_no integer not null,
    nutrient_no utinyint not null,
    amount_per_100g double not null,   -- unit: see nutrient
    n integer,
    derivation_no utinyint not null
);
create view food_nutrient as           -- what readers use
select food_id, nutrient, amount_per_100g, null::double as standard_error, n, derivation
from amount                            -- no source loaded so far gives standard errors
join food using (food_no)
join nutrient using (nutrient_no)
join derivation using (derivation_no);

-- Loaders of small tables put their amounts here, by text; sql/snapshot_amounts.sql moves them.
create temp table loaded (
    food_id varchar,
    nutrient varchar,
    amount_per_100g double,
    n integer,
    derivation varchar
);
create table measure (
    food_id varchar not null,
    seq integer not null,
    amount double not null,
    unit varchar not null,
    qualifier varchar not null,
    size varchar not null,
    grams double not null,             -- of `amount` units, edible part
    n integer,
    sd_grams double,                   -- of one piece
    source varchar not null
);
create table food_profile (            -- see pipeline/foods/profile.py; lists are empty when unsaid
    food_id varchar not null,
    head varchar[] not null,           -- what it is, the noun last
    kind varchar[] not null,
    part varchar[] not null,
    states varchar[] not null,         -- vocabulary of shared/states.csv and shared/food_words.csv
    derived varchar[] not null,        -- those of states that only the composition tells
    form varchar not null,             -- "" when unsaid, as in every text column here
    medium varchar not null,
    drained boolean,                   -- null: not said, as in every boolean column here
    fat_pct_low double,                -- stated percentages, equal when one number is stated
    fat_pct_high double,
    lean_pct_low double,
    lean_pct_high double,
    cocoa_pct_low double,
    cocoa_pct_high double,
    salt_added boolean,
    sugar_added boolean,
    vitamins_added boolean,
    fat_added boolean,
    skin boolean,
    bone boolean,
    lean_only boolean,
    maker varchar not null,
    brand boolean not null,
    origin varchar not null,
    treated varchar[] not null,
    "group" varchar[] not null,
    also varchar[] not null,
    beside varchar[] not null,
    denied varchar[] not null,
    segments varchar[] not null,       -- words of each part of the description
    langual varchar[] not null         -- LanguaL codes; the first letter is the facet
);

-- Ways of deriving an amount that a table names and `derivation` lacks, numbered on from there.
create temp macro new_derivations(named) as table
select
    row_number() over (order by derivation)
        + (select coalesce(max(derivation_no), -1) from derivation) as derivation_no,
    derivation
from (
    select distinct derivation from query_table(named)
    except
    select derivation from derivation
)
order by derivation;
