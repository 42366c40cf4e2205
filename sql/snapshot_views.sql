-- sql/snapshot_views.sql: the wide form of the nutrients the tool speaks of.
-- in      food, food_nutrient; food_wide, filled for the foods whose loader did it itself
-- out     food_wide complete, one row a food_id; view food_macros over it, per 100 g. A value the
--         source does not report: null. Stored, so that opening a snapshot takes milliseconds.
--         food.complete and food.reference_id
insert into food_wide by name
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
where food.source not in ('foundation', 'sr_legacy', 'fndds', 'branded')
group by food.food_id
order by food.food_id;

create or replace view food_macros as
select * from food_wide;

update food
set complete = kcal is not null and protein_g is not null and fat_g is not null
    and carbs_g is not null
from food_wide
where food_wide.food_id = food.food_id;

-- FoodData Central numbers its foods as SR28 did, where SR28 has them; a few numbers it gave anew,
-- so the first word must be the other's too ("Beans, dry, red" got that of a meatless burger).
update food
set reference_id = sr28.food_id
from food as sr28
where sr28.source = 'sr28'
  and food.source in ('foundation', 'sr_legacy')
  and sr28.source_code = food.source_code
  and contains(
      lower(sr28.description), left(regexp_extract(lower(food.description), '[a-z]+'), 4)
  );
