-- sql/snapshot_gate_food.sql: what the gate looks at, food by food.
-- in      food, food_wide, food_nutrient
-- out     one row a food_id: the macros, and where they contradict one another (null: not told)
-- params  $limit: when the table is longer, that many foods at random and every food that breaks
--         a hard range, so that no such food escapes and memory stays bounded
with ash as (
    select food_id, any_value(amount_per_100g) as ash_g
    from food_nutrient
    where nutrient = 'ASH'
    group by food_id
),
looked_at as (
    select
        food.food_id,
        food.source,
        food.description,
        food.category,
        food_wide.* exclude (food_id),
        ash.ash_g,
        water_g + protein_g + fat_g + carbs_g + ash_g + coalesce(alcohol_g, 0) as proximates_g,
        kcal - (
            protein_g * protein_factor + fat_g * fat_factor + carbs_g * carb_factor
            + 6.93 * coalesce(alcohol_g, 0)
        ) as energy_gap_kcal,            -- null when the food gives no factors of its own
        kcal - (4 * protein_g + 9 * fat_g + 4 * carbs_g + 7 * coalesce(alcohol_g, 0))
            as general_gap_kcal,         -- the same against 4-9-4-7, for every food
        coalesce(satfat_g, 0) - fat_g as satfat_over_fat_g,
        coalesce(fiber_g, 0) - carbs_g as fiber_over_carbs_g,
        coalesce(sugar_g, 0) - carbs_g as sugar_over_carbs_g
    from food
    join food_wide using (food_id)
    left join ash using (food_id)
),
ranked as (
    select
        *,
        count(*) over () > $limit as too_many,
        kcal not between 0 and 902
            or least(protein_g, fat_g, carbs_g, fiber_g, sugar_g, satfat_g, water_g, alcohol_g) < 0
            or greatest(protein_g, fat_g, carbs_g, fiber_g, sugar_g, satfat_g, water_g, alcohol_g)
               > 100
            or sodium_mg not between 0 and 40000
            or description = '' as broken,
        row_number() over (order by hash(food_id), food_id) as drawn
    from looked_at
)
select * exclude (too_many, broken, drawn)
from ranked
where not too_many or drawn <= $limit or coalesce(broken, false)
order by food_id
