-- compute_nutrient_value.sql: one value per (food, nutrient), from the snapshot and the pantry.
-- in      food_nutrient(food_id, nutrient, amount_per_100g, standard_error, n); pantry(food_id,
--         nutrient, amount_per_100g), which wins over the snapshot; wanted(n, nutrient)
--         food_in(food, food_id): foods that a line or a runner-up names, numbered
-- out     nutrient_value(food, n, food_id, nutrient, amount_per_100g, relative_se); relative_se is
--         the source's own standard error over its value, else 0
create or replace temp table nutrient_value as
with every as (
    select food_id, nutrient, amount_per_100g, null::double as standard_error
    from pantry
    where amount_per_100g is not null
    union all
    select food_id, nutrient, amount_per_100g, standard_error
    from food_nutrient
    where amount_per_100g is not null
        and food_id not in (select food_id from pantry where amount_per_100g is not null)
)
select
    food_in.food,
    wanted.n,
    food_id,
    nutrient,
    amount_per_100g,
    -- no food's mean is off by more than half of itself
    least(coalesce(standard_error / nullif(amount_per_100g, 0), 0), 0.5) as relative_se
from every
join wanted using (nutrient)
join food_in using (food_id)
