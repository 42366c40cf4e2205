-- sql/snapshot_gate_food.sql: what the gate looks at, food by food.
-- in      food, food_wide, amount, nutrient
-- out     one row a food_id that may be an answer: the macros, and where they contradict one another (null: not told)
-- params  $one_in: look at one food in so many, drawn by its id, and at every food that breaks a
--         hard range, so that no such food escapes and memory stays bounded; 1 for all
with picked as (
    select *
    from food_wide
    anti join (from food where reference) as reference_food using (food_id)
    where hash(food_id) % $one_in = 0
       or not coalesce(kcal between 0 and 902, true)
       or not coalesce(sodium_mg between 0 and 40000, true)
       or least(protein_g, fat_g, carbs_g, fiber_g, sugar_g, satfat_g, water_g, alcohol_g) < 0
       or greatest(protein_g, fat_g, carbs_g, fiber_g, sugar_g, satfat_g, water_g, alcohol_g) > 100.05
),
ash as (
    select food_no, any_value(amount_per_100g) as ash_g
    from amount
    where nutrient_no = (select nutrient_no from nutrient where nutrient = 'ASH')
      and food_no in (select food_no from food join picked using (food_id))
    group by food_no
)
select
    food.food_id,
    food.source,
    food.description,
    food.category,
    picked.* exclude (food_id),
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
join picked using (food_id)
left join ash using (food_no)
order by food.food_id
