-- compute_nutrient_value.sql: one value a (food, nutrient), from the snapshot and the pantry.
-- in      food(food_id, category); food_nutrient(food_id, nutrient, amount_per_100g,
--         standard_error, n); pantry_frame (FOOD_NUTRIENT, wins over the snapshot)
--         wanted(nutrient); group_spread(category, nutrient, relative_se), category '' for any; may
--         be empty
-- out     nutrient_value(food_id, nutrient, amount_per_100g, relative_se), for the foods that a
--         line or a runner-up names; relative_se is the source's own standard error over its
--         value, else the median of the food group, else that of all foods, else 0
create or replace temp table nutrient_value as
with named as (
    select food_id from line_result where food_id is not null
    union
    select food_id from runner_up
), pantry as (
    select food_id::varchar as food_id, nutrient::varchar as nutrient,
           amount_per_100g::double as amount_per_100g, null::double as standard_error
    from pantry_frame
    where amount_per_100g is not null
), every as (
    select food_id, nutrient, amount_per_100g, standard_error from pantry
    union all
    select food_id, nutrient, amount_per_100g, standard_error
    from food_nutrient
    where food_id in (from named) and food_id not in (select food_id from pantry)
)
select
    every.food_id,
    every.nutrient,
    every.amount_per_100g,
    -- no food's mean is off by more than half of itself
    least(coalesce(
        every.standard_error / nullif(every.amount_per_100g, 0),
        own_group.relative_se,
        any_group.relative_se,
        0), 0.5) as relative_se
from every
join wanted using (nutrient)
left join food using (food_id)
left join group_spread as own_group
    on own_group.category = food.category and own_group.nutrient = every.nutrient
left join group_spread as any_group
    on any_group.category = '' and any_group.nutrient = every.nutrient
where every.food_id in (from named) and every.amount_per_100g is not null
