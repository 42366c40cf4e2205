-- sql/snapshot_gate_displaced.sql: what the gate looks at, food by food that takes another's place.
-- A food of a release takes the place of the embedded table's food of the same number where it has
-- energy and all macros, or the other lacks them too (food.complete).
-- in      food, food_macros, measure
-- out     one row a food_id that displaces: the food displaced; energy_lost, macros_lost (how many of
--         energy, protein, fat and carbohydrate the other has and this one lacks), kcal_moved (per
--         100 g), kcal_moved_pct (of the other's, which counts as 20 kcal at least), measures_lost
--         (household measures of the other where this one has none; they are borrowed by number)
with weighed as (
    select food_id, count(*) as measures from measure group by food_id
)
select
    food.food_id,
    food.description,
    old.food_id as displaces,
    old_macros.kcal as kcal_before,
    new_macros.kcal as kcal_after,
    (old_macros.kcal is not null and new_macros.kcal is null)::int as energy_lost,
    (old_macros.protein_g is not null and new_macros.protein_g is null)::int
        + (old_macros.fat_g is not null and new_macros.fat_g is null)::int
        + (old_macros.carbs_g is not null and new_macros.carbs_g is null)::int as macros_lost,
    abs(new_macros.kcal - old_macros.kcal) as kcal_moved,
    100 * abs(new_macros.kcal - old_macros.kcal) / greatest(old_macros.kcal, 20) as kcal_moved_pct,
    case when own.measures is null then coalesce(others.measures, 0) else 0 end as measures_lost
from food
join food as old on old.food_id = food.reference_id
join food_macros as new_macros on new_macros.food_id = food.food_id
join food_macros as old_macros on old_macros.food_id = old.food_id
left join weighed as own on own.food_id = food.food_id
left join weighed as others on others.food_id = old.food_id
where not food.reference and (food.complete or not old.complete)
order by food.food_id
