-- sql/fdc_derived.sql: what a bundle leaves to be computed, and the wide rows.
-- in      fdc_macro, fdc_pick, fdc_factor, fdc_map
-- out     rows of amount for energy and carbohydrate, marked by their derivation; food_wide; temp
--         table fdc_energy, one row a food_no whose energy is not the published kcal
create temp table fdc_derived as
with carbohydrate as (  -- by difference, where it alone is missing: that is its definition
    select food_no, 100 - water_g - protein_g - fat_g - ash_g - coalesce(alcohol_g, 0) as left_g
    from fdc_macro
    where carbs_g is null
      and water_g is not null and protein_g is not null and fat_g is not null and ash_g is not null
),
part as (
    select
        fdc_macro.food_no,
        protein_g,
        fat_g,
        coalesce(carbs_g, if(left_g > -1, greatest(left_g, 0), null)) as carbs_g,
        coalesce(alcohol_g, 0) as alcohol_g,
        coalesce(water_g, 0) + coalesce(ash_g, 0) as rest_g
    from fdc_macro
    left join carbohydrate using (food_no)
    where kcal is null
),
factored as (
    select
        part.*,
        protein_g is not null and fat_g is not null and carbs_g is not null as complete,
        coalesce(protein_g, 0) as p,
        coalesce(fat_g, 0) as f,
        coalesce(carbs_g, 0) as c,
        protein_factor is not null and fat_factor is not null and carb_factor is not null as own,
        protein_factor,
        fat_factor,
        carb_factor
    from part
    left join fdc_factor using (food_no)
)
select
    food_no,
    'CHOCDF' as nutrient,
    round(greatest(left_g, 0), 4) as amount,
    'by difference of water, protein, fat and ash, computed here' as derivation
from carbohydrate
where left_g > -1
union all
-- Energy of foods that report none: the food's own Atwater factors, else 4-9-4, and 7 for alcohol.
-- A macro that is not reported counts as nothing only when the rest comes to 95 g of 100 g at
-- least (pure oil): it can then be no more than 5 g.
select
    food_no,
    'ENERC_KCAL',
    round(
        if(own,
           p * protein_factor + f * fat_factor + c * carb_factor + 6.93 * alcohol_g,
           4 * p + 9 * f + 4 * c + 7 * alcohol_g),
        2
    ),
    'energy computed from ' || if(own, 'the food''s own Atwater factors', '4-9-4 and 7')
        || if(complete, '', ', unreported macros as nothing')
from factored
where complete or p + f + c + alcohol_g + rest_g >= 95;

insert into derivation from new_derivations('fdc_derived');

create temp table fdc_energy as
select amount.food_no, any_value(derivation.derivation) as derivation
from amount
join derivation using (derivation_no)
where food_no >= getvariable('first_no')
  and nutrient_no = getvariable('no_kcal')
  and derivation.derivation <> ''
group by amount.food_no
union all
select food_no, derivation
from fdc_derived
where nutrient = 'ENERC_KCAL';

insert into amount by name
select
    fdc_derived.food_no,
    nutrient.nutrient_no,
    fdc_derived.amount as amount_per_100g,
    null::integer as n,
    derivation.derivation_no
from fdc_derived
join nutrient using (nutrient)
join derivation using (derivation);

insert into food_wide by name
select
    fdc_pick.food_id,
    coalesce(kcal, energy.amount) as kcal,
    protein_g,
    coalesce(carbs_g, carbohydrate.amount) as carbs_g,
    fat_g, fiber_g, sugar_g, satfat_g, sodium_mg, alcohol_g, water_g
from fdc_pick
left join fdc_macro using (food_no)      -- a food without any nutrient is a row of nulls
left join fdc_derived as energy
    on energy.food_no = fdc_macro.food_no and energy.nutrient = 'ENERC_KCAL'
left join fdc_derived as carbohydrate
    on carbohydrate.food_no = fdc_macro.food_no and carbohydrate.nutrient = 'CHOCDF';
