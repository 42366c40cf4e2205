-- sql/fdc_amount.sql: the one reading of food_nutrient.csv, narrow and unordered.
-- in      fdc_wanted (rows of food_nutrient.csv that may belong to foods of fdc_pick), fdc_map
-- out     temp table fdc_amount: one row a usable row of the file; a blank amount is unknown
create temp table fdc_amount as
select
    fdc_wanted.fdc_id,
    fdc_map.tag,
    fdc_map.rank,
    fdc_wanted.amount * fdc_map.factor as amount,
    fdc_wanted.data_points::integer as n
from fdc_wanted
join fdc_map on fdc_map.key = fdc_wanted.nutrient_id
where fdc_wanted.amount is not null and isfinite(fdc_wanted.amount);
