-- sql/fdc_chosen.sql: one amount a food and tagname, for a range of foods at a time, so that
-- memory stays bounded however long the file is; and what those foods leave to be computed.
-- in      fdc_amount, fdc_map, fdc_pick, fdc_factor; variables first_id, last_id: the range of
--         fdc_id, both ends in
-- out     temp tables fdc_chosen (of several nutrients or rows for one tagname the lowest rank,
--         then the smaller amount, so that the outcome never depends on the order of reading),
--         fdc_macro (one wide row a food), fdc_derived (energy and carbohydrate, marked)
create or replace temp table fdc_chosen as
select
    fdc_id,
    tag,
    arg_min(amount, rank * 1e9 + amount) as amount,
    arg_min(n, rank * 1e9 + amount) as n,
    min(rank) as rank
from fdc_amount
where fdc_id between getvariable('first_id') and getvariable('last_id')
group by fdc_id, tag;

create or replace temp table fdc_macro as
with coded as (         -- the tags of this bundle by number, one row
    select
        any_value(tag) filter (where nutrient = 'ENERC_KCAL') as kcal,
        any_value(tag) filter (where nutrient = 'PROCNT') as protein,
        any_value(tag) filter (where nutrient = 'CHOCDF') as carbs,
        any_value(tag) filter (where nutrient = 'FAT') as fat,
        any_value(tag) filter (where nutrient = 'FIBTG') as fiber,
        any_value(tag) filter (where nutrient = 'SUGAR') as sugar,
        any_value(tag) filter (where nutrient = 'FASAT') as satfat,
        any_value(tag) filter (where nutrient = 'NA') as sodium,
        any_value(tag) filter (where nutrient = 'ALC') as alcohol,
        any_value(tag) filter (where nutrient = 'WATER') as water,
        any_value(tag) filter (where nutrient = 'ASH') as ash
    from fdc_map
)
select
    fdc_id,
    max(amount) filter (where tag = kcal) as kcal,
    max(amount) filter (where tag = protein) as protein_g,
    max(amount) filter (where tag = carbs) as carbs_g,
    max(amount) filter (where tag = fat) as fat_g,
    max(amount) filter (where tag = fiber) as fiber_g,
    max(amount) filter (where tag = sugar) as sugar_g,
    max(amount) filter (where tag = satfat) as satfat_g,
    max(amount) filter (where tag = sodium) as sodium_mg,
    max(amount) filter (where tag = alcohol) as alcohol_g,
    max(amount) filter (where tag = water) as water_g,
    max(amount) filter (where tag = ash) as ash_g
from fdc_chosen
cross join coded
group by fdc_id;

create or replace temp table fdc_derived as
with carbohydrate as (  -- by difference, where it alone is missing: that is its definition
    select fdc_id, 100 - water_g - protein_g - fat_g - ash_g - coalesce(alcohol_g, 0) as left_g
    from fdc_macro
    where carbs_g is null
      and water_g is not null and protein_g is not null and fat_g is not null and ash_g is not null
),
part as (
    select
        fdc_macro.fdc_id,
        protein_g,
        fat_g,
        coalesce(carbs_g, if(left_g > -1, greatest(left_g, 0), null)) as carbs_g,
        coalesce(alcohol_g, 0) as alcohol_g,
        coalesce(water_g, 0) + coalesce(ash_g, 0) as rest_g
    from fdc_macro
    left join carbohydrate using (fdc_id)
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
    left join fdc_factor using (fdc_id)
)
select
    fdc_id,
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
    fdc_id,
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

insert into derivation
select
    row_number() over (order by derivation)
        + (select coalesce(max(derivation_no), -1) from derivation) as derivation_no,
    derivation
from (
    (select distinct derivation from fdc_map union select distinct derivation from fdc_derived)
    except
    select derivation from derivation
)
order by derivation;

insert into amount by name
with tagname as (
    select distinct on (tag, rank) tag, rank, derivation_no
    from fdc_map
    join derivation using (derivation)
    order by key desc
)
select
    fdc_pick.food_no,
    fdc_chosen.tag as nutrient_no,
    fdc_chosen.amount as amount_per_100g,
    null::double as standard_error,       -- the files give least and most, not the error
    fdc_chosen.n,
    tagname.derivation_no
from fdc_chosen
join fdc_pick using (fdc_id)
join tagname using (tag, rank);

insert into amount by name
select
    fdc_pick.food_no,
    nutrient.nutrient_no,
    fdc_derived.amount as amount_per_100g,
    null::double as standard_error,
    null::integer as n,
    derivation.derivation_no
from fdc_derived
join fdc_pick using (fdc_id)
join nutrient using (nutrient)
join derivation using (derivation);

insert into fdc_energy by name
select fdc_id, derivation
from fdc_derived
where nutrient = 'ENERC_KCAL'
union all by name
select fdc_chosen.fdc_id, fdc_map.derivation
from fdc_chosen
join fdc_map using (tag, rank)
where fdc_map.nutrient = 'ENERC_KCAL' and fdc_map.derivation <> ''
group by fdc_chosen.fdc_id, fdc_map.derivation;

insert into food_wide by name
select
    fdc_pick.food_id,
    coalesce(kcal, energy.amount) as kcal,
    protein_g,
    coalesce(carbs_g, carbohydrate.amount) as carbs_g,
    fat_g, fiber_g, sugar_g, satfat_g, sodium_mg, alcohol_g, water_g
from fdc_pick
left join fdc_macro using (fdc_id)      -- a food without any nutrient is a row of nulls
left join fdc_derived as energy
    on energy.fdc_id = fdc_macro.fdc_id and energy.nutrient = 'ENERC_KCAL'
left join fdc_derived as carbohydrate
    on carbohydrate.fdc_id = fdc_macro.fdc_id and carbohydrate.nutrient = 'CHOCDF'
where fdc_pick.fdc_id between getvariable('first_id') and getvariable('last_id')
order by fdc_pick.fdc_id;
