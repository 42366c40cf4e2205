-- sql/fdc_amount.sql: the one reading of food_nutrient.csv, narrow and unordered.
-- in      fdc_food_nutrient, fdc_map, fdc_pick
-- out     temp table fdc_amount: one row a usable row of the file; a blank amount is unknown
create temp table fdc_amount as
select
    fdc_pick.pick,
    fdc_map.tag,
    fdc_map.rank,
    fdc_food_nutrient.amount * fdc_map.factor as amount,
    fdc_food_nutrient.data_points
from fdc_food_nutrient
join fdc_map on fdc_map.key = fdc_food_nutrient.nutrient_id
join fdc_pick on fdc_pick.fdc_id = fdc_food_nutrient.fdc_id
where fdc_food_nutrient.amount is not null and isfinite(fdc_food_nutrient.amount);
