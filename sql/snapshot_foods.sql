-- sql/snapshot_foods.sql: the columns the match stage reads, in the order of FoodTable.
-- in      food, food_wide
-- out     one row a food_id that may be an answer, ordered by it; macros per 100 g, null where not reported
select
    food.food_id, food.source, food.source_code, food.description, food.category, food.survey,
    food.common_name, food.scientific_name, food.manufacturer, food.refuse, food.refuse_pct,
    food_wide.kcal, food_wide.protein_g, food_wide.carbs_g, food_wide.fat_g, food_wide.fiber_g,
    food_wide.sugar_g, food_wide.satfat_g, food_wide.sodium_mg, food_wide.alcohol_g,
    food_wide.water_g
from food
join food_wide using (food_id)
where not food.reference
order by food.food_id
