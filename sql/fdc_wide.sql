-- sql/fdc_wide.sql: the macros of a bundle's foods side by side, as a macro over a table of amounts.
-- in      variables no_kcal, no_protein ...: nutrient_no of the macros; first_no, last_no: the range
--         of food_no to look at, both ends in
-- out     table macro fdc_wide(name of a table like amount): one row a food_no that has any amount;
--         several: a nutrient stands twice. Temp table fdc_macro, empty. Taken a range at a time:
--         the groups then stay in the processor's cache, and memory stays bounded
create temp macro fdc_wide(rows_of) as table
select
    food_no,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_kcal')) as kcal,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_protein')) as protein_g,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_carbs')) as carbs_g,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_fat')) as fat_g,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_fiber')) as fiber_g,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_sugar')) as sugar_g,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_satfat')) as satfat_g,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_sodium')) as sodium_mg,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_alcohol')) as alcohol_g,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_water')) as water_g,
    max(amount_per_100g) filter (where nutrient_no = getvariable('no_ash')) as ash_g,
    -- a set bit a nutrient: fewer bits than rows means that one stands twice
    count(*) <> bit_count(bit_or(1::ubigint << (nutrient_no % 64))) as several
from query_table(rows_of)
where food_no between getvariable('first_no') and getvariable('last_no')
group by food_no;

create temp table fdc_macro as
from fdc_wide('amount')
limit 0;
