-- sql/fdc_factors.sql: conversion factors of the bundle's foods.
-- in      fdc_pick, fdc_conversion, fdc_calorie_factor, fdc_protein_factor
-- out     temp table fdc_factor, one row a food_no that has any
create temp table fdc_factor as
select
    fdc_pick.food_no,
    any_value(fdc_calorie_factor.protein_value) as protein_factor,
    any_value(fdc_calorie_factor.fat_value) as fat_factor,
    any_value(fdc_calorie_factor.carbohydrate_value) as carb_factor,
    any_value(fdc_protein_factor.value) as nitrogen_factor
from fdc_conversion
join fdc_pick using (fdc_id)
left join fdc_calorie_factor
    on fdc_calorie_factor.food_nutrient_conversion_factor_id = fdc_conversion.id
left join fdc_protein_factor
    on fdc_protein_factor.food_nutrient_conversion_factor_id = fdc_conversion.id
group by fdc_pick.food_no;
