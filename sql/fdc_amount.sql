-- sql/fdc_amount.sql: the one reading of food_nutrient.csv, straight into the table by number.
-- in      fdc_wanted: rows of food_nutrient.csv, at least those of the foods picked; fdc_map;
--         variable food_base
-- out     rows of amount, all that the file has of these foods: several for one tagname where
--         several nutrients may fill it or the file repeats itself, see sql/fdc_chosen.sql.
--         A blank amount is unknown: no row.
insert into amount by name
select
    (getvariable('food_base') + fdc_wanted.fdc_id)::integer as food_no,
    fdc_map.nutrient_no,
    fdc_wanted.amount * fdc_map.factor as amount_per_100g,
    fdc_wanted.data_points::integer as n,
    fdc_map.derivation_no
from fdc_wanted
join fdc_map on fdc_map.key = fdc_wanted.nutrient_id
where isfinite(fdc_wanted.amount);
