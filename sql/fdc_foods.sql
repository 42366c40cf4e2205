-- sql/fdc_foods.sql: the foods of a bundle, and what the bundle leaves to be computed.
-- in      fdc_pick, fdc_branded_food, fdc_conversion, fdc_calorie_factor, fdc_protein_factor,
--         fdc_input_food; food_nutrient (loaded); variables preference, food_des_path
-- out     rows of food, nutrient; carbohydrate and energy of foods that report none, marked; rows
--         of measure_text
-- SR28 says of a food what FoodData Central no longer does: refuse, other names, use in the survey.
create temp table fdc_sr28 as
select *
from read_csv(
    getvariable('food_des_path'),
    delim = '^', quote = '~', escape = '', header = false, auto_detect = false,
    columns = {
        'NDB_No': 'varchar', 'FdGrp_Cd': 'varchar', 'Long_Desc': 'varchar',
        'Shrt_Desc': 'varchar', 'ComName': 'varchar', 'ManufacName': 'varchar',
        'Survey': 'varchar', 'Ref_Desc': 'varchar', 'Refuse': 'double', 'SciName': 'varchar',
        'N_Factor': 'double', 'Pro_Factor': 'double', 'Fat_Factor': 'double',
        'CHO_Factor': 'double'
    }
);

create temp table fdc_factor as
select
    fdc_conversion.fdc_id,
    any_value(fdc_calorie_factor.protein_value) as protein_factor,
    any_value(fdc_calorie_factor.fat_value) as fat_factor,
    any_value(fdc_calorie_factor.carbohydrate_value) as carb_factor,
    any_value(fdc_protein_factor.value) as nitrogen_factor
from fdc_conversion
left join fdc_calorie_factor
    on fdc_calorie_factor.food_nutrient_conversion_factor_id = fdc_conversion.id
left join fdc_protein_factor
    on fdc_protein_factor.food_nutrient_conversion_factor_id = fdc_conversion.id
group by fdc_conversion.fdc_id;

-- Carbohydrate by difference, where it alone is missing: that is its definition.
insert into food_nutrient by name
with known as (
    select
        food_nutrient.food_id,
        sum(amount_per_100g) filter (where nutrient in ('WATER', 'PROCNT', 'FAT', 'ASH')) as four_g,
        count(*) filter (where nutrient in ('WATER', 'PROCNT', 'FAT', 'ASH')) as of_four,
        coalesce(sum(amount_per_100g) filter (where nutrient = 'ALC'), 0) as alcohol_g
    from food_nutrient
    join fdc_pick using (food_id)
    where fdc_pick.source in ('foundation', 'sr_legacy', 'fndds')
    group by food_nutrient.food_id
    having count(*) filter (where nutrient = 'CHOCDF') = 0
)
select
    food_id,
    'CHOCDF' as nutrient,
    round(greatest(100 - four_g - alcohol_g, 0), 4) as amount_per_100g,
    null::double as standard_error,
    null::integer as n,
    'by difference of water, protein, fat and ash, computed here' as derivation
from known
where of_four = 4 and 100 - four_g - alcohol_g > -1
order by food_id;

-- Energy of foods that report none: the food's own Atwater factors, else 4-9-4, and 7 for alcohol.
-- A macro that is not reported counts as nothing only when the rest comes to 95 g of 100 g at
-- least (pure oil): it can then be no more than 5 g.
insert into food_nutrient by name
with part as (
    select
        food_nutrient.food_id,
        any_value(amount_per_100g) filter (where nutrient = 'PROCNT') as protein_g,
        any_value(amount_per_100g) filter (where nutrient = 'FAT') as fat_g,
        any_value(amount_per_100g) filter (where nutrient = 'CHOCDF') as carbs_g,
        any_value(amount_per_100g) filter (where nutrient = 'ALC') as alcohol_g,
        sum(amount_per_100g) filter (
            where nutrient in ('PROCNT', 'FAT', 'CHOCDF', 'ALC', 'WATER', 'ASH')) as known_g
    from food_nutrient
    join fdc_pick using (food_id)
    group by food_nutrient.food_id
    having count(*) filter (where nutrient = 'ENERC_KCAL') = 0
),
weighed as (
    select
        part.*,
        protein_g is not null and fat_g is not null and carbs_g is not null as complete,
        protein_factor is not null and fat_factor is not null and carb_factor is not null as own,
        coalesce(protein_factor, 4) as protein_factor,
        coalesce(fat_factor, 9) as fat_factor,
        coalesce(carb_factor, 4) as carb_factor
    from part
    join fdc_pick using (food_id)
    left join fdc_factor using (fdc_id)
)
select
    food_id,
    'ENERC_KCAL' as nutrient,
    round(
        coalesce(protein_g, 0) * if(own, protein_factor, 4)
        + coalesce(fat_g, 0) * if(own, fat_factor, 9)
        + coalesce(carbs_g, 0) * if(own, carb_factor, 4)
        + coalesce(alcohol_g, 0) * if(own, 6.93, 7),
        2
    ) as amount_per_100g,
    null::double as standard_error,
    null::integer as n,
    'energy computed from ' || if(own, 'the food''s own Atwater factors', '4-9-4 and 7')
        || if(complete, '', ', unreported macros as nothing') as derivation
from weighed
where complete or known_g >= 95
order by food_id;

insert into nutrient by name
select nutrient, any_value(unit) as unit, any_value(label) as label,
       arg_min(nutrient_nbr, rank::integer) as nutrient_nbr
from read_csv(getvariable('fdc_nutrients_path'), header = true, all_varchar = true, nullstr = '\N')
where rank = '1' and nutrient not in (select nutrient from nutrient)
group by nutrient;

insert into food by name
with energy as (
    select food_nutrient.food_id, food_nutrient.derivation
    from food_nutrient
    join fdc_pick using (food_id)
    where nutrient = 'ENERC_KCAL' and derivation <> ''
),
used_in_survey as (
    select distinct lpad(trim(sr_code), greatest(5, length(trim(sr_code)))::integer, '0') as source_code
    from fdc_input_food
    where sr_code is not null
),
brand as (
    select
        fdc_id,
        any_value(coalesce(nullif(brand_name, ''), brand_owner, '')) as manufacturer,
        any_value(branded_food_category) as category,
        bool_or(lower(serving_size_unit) in ('ml', 'mlt')) as by_volume
    from fdc_branded_food
    join fdc_pick using (fdc_id)
    group by fdc_id
)
select
    fdc_pick.food_id,
    fdc_pick.source,
    fdc_pick.source_code,
    fdc_pick.description,
    coalesce(nullif(fdc_pick.category, ''), brand.category, '') as category,
    fdc_pick.source = 'fndds'
        or used_in_survey.source_code is not null
        or (fdc_pick.source = 'sr_legacy' and coalesce(fdc_sr28.Survey, '') = 'Y') as survey,
    fdc_sr28.Refuse as refuse_pct,
    coalesce(fdc_sr28.Ref_Desc, '') as refuse,
    fdc_factor.nitrogen_factor,
    fdc_factor.protein_factor,
    fdc_factor.fat_factor,
    fdc_factor.carb_factor,
    coalesce(fdc_sr28.ComName, '') as common_name,
    coalesce(fdc_sr28.SciName, '') as scientific_name,
    coalesce(brand.manufacturer, fdc_sr28.ManufacName, '') as manufacturer,
    '' as short_description,
    getvariable('preference') as preference,
    if(coalesce(brand.by_volume, false), '100 ml', '100 g') as per,
    coalesce(energy.derivation, '') as energy_from
from fdc_pick
left join brand using (fdc_id)
left join energy using (food_id)
left join fdc_factor using (fdc_id)
left join fdc_sr28
    on fdc_sr28.NDB_No = fdc_pick.source_code and fdc_pick.source in ('sr_legacy', 'foundation')
left join used_in_survey
    on used_in_survey.source_code = fdc_pick.source_code
    and fdc_pick.source in ('sr_legacy', 'foundation')
order by fdc_pick.pick;

-- Portions: the unit stands in measure_unit, or, under 9999, in the modifier, or, for the survey,
-- whole in portion_description. Branded foods: the serving on the pack.
insert into measure_text by name
select
    fdc_pick.food_id,
    fdc_food_portion.seq_num as seq,
    case
        when nullif(trim(portion_description), '') is not null then trim(portion_description)
        when coalesce(measure_unit_id, 9999) = 9999 then trim(modifier)
        else concat_ws(', ', fdc_measure_unit.name, nullif(trim(modifier), ''))
    end as text,
    if(nullif(trim(portion_description), '') is not null, null, coalesce(fdc_food_portion.amount, 1))
        as amount,
    gram_weight as grams,
    data_points as n,
    'FDC food_portion ' || fdc_food_portion.id as source
from fdc_food_portion
join fdc_pick using (fdc_id)
left join fdc_measure_unit on fdc_measure_unit.id = fdc_food_portion.measure_unit_id
where gram_weight > 0
  and coalesce(portion_description, '') not ilike 'quantity not specified%'
  and not (nullif(trim(coalesce(portion_description, '')), '') is null
           and coalesce(measure_unit_id, 9999) = 9999 and nullif(trim(modifier), '') is null)
union all by name
select
    fdc_pick.food_id,
    1 as seq,
    trim(household_serving_fulltext) as text,
    serving_size as grams,
    'pack: serving of ' || serving_size || ' ' || serving_size_unit as source
from fdc_branded_food
join fdc_pick using (fdc_id)
where serving_size > 0
  and lower(serving_size_unit) in ('g', 'grm', 'gm')
  and regexp_matches(trim(household_serving_fulltext), '^[\d./]+ *[A-Za-z]');
