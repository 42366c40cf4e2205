-- sql/snapshot_views.sql: the wide form of the nutrients the tool speaks of.
-- in      food, food_nutrient
-- out     view food_macros, one row a food_id, per 100 g; a value the source does not report: null.
--         The rows are stored once, as food_wide, so that opening a snapshot takes milliseconds.
create table food_wide as
select
    food.food_id,
    any_value(amount_per_100g) filter (where nutrient = 'ENERC_KCAL') as kcal,
    any_value(amount_per_100g) filter (where nutrient = 'PROCNT') as protein_g,
    any_value(amount_per_100g) filter (where nutrient = 'CHOCDF') as carbs_g,
    any_value(amount_per_100g) filter (where nutrient = 'FAT') as fat_g,
    any_value(amount_per_100g) filter (where nutrient = 'FIBTG') as fiber_g,
    any_value(amount_per_100g) filter (where nutrient = 'SUGAR') as sugar_g,
    any_value(amount_per_100g) filter (where nutrient = 'FASAT') as satfat_g,
    any_value(amount_per_100g) filter (where nutrient = 'NA') as sodium_mg,
    any_value(amount_per_100g) filter (where nutrient = 'ALC') as alcohol_g,
    any_value(amount_per_100g) filter (where nutrient = 'WATER') as water_g
from food
left join food_nutrient using (food_id)
group by food.food_id
order by food.food_id;

create view food_macros as
select * from food_wide;
