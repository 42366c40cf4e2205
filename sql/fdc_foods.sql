-- sql/fdc_foods.sql: the foods of a bundle and their household measures.
-- in      fdc_pick, fdc_factor, fdc_energy, fdc_input_food, fdc_food_portion, fdc_measure_unit;
--         food_des of snapshot_food_des.sql; variable preference
-- out     rows of food and measure_text
-- SR28 says of a food what FoodData Central no longer does: refuse, other names, use in the survey.
insert into food by name
with used_in_survey as (
    select distinct lpad(trim(sr_code), greatest(5, length(trim(sr_code)))::integer, '0')
        as source_code
    from fdc_input_food
    where sr_code is not null
)
select
    fdc_pick.food_no,
    fdc_pick.food_id,
    fdc_pick.source,
    fdc_pick.source_code,
    fdc_pick.description,
    fdc_pick.category,
    fdc_pick.source = 'fndds'
        or used_in_survey.source_code is not null
        or (fdc_pick.source = 'sr_legacy' and coalesce(food_des.Survey, '') = 'Y') as survey,
    food_des.Refuse as refuse_pct,
    coalesce(food_des.Ref_Desc, '') as refuse,
    fdc_factor.nitrogen_factor,
    fdc_factor.protein_factor,
    fdc_factor.fat_factor,
    fdc_factor.carb_factor,
    coalesce(food_des.ComName, '') as common_name,
    coalesce(food_des.SciName, '') as scientific_name,
    coalesce(fdc_pick.brand, food_des.ManufacName, '') as manufacturer,
    '' as short_description,
    getvariable('preference') as preference,
    if(fdc_pick.by_volume, '100 ml', '100 g') as per,
    coalesce(fdc_energy.derivation, '') as energy_from
from fdc_pick
left join fdc_energy using (food_no)
left join fdc_factor using (food_no)
left join food_des
    on food_des.NDB_No = fdc_pick.source_code and fdc_pick.source in ('sr_legacy', 'foundation')
left join used_in_survey
    on used_in_survey.source_code = fdc_pick.source_code
    and fdc_pick.source in ('sr_legacy', 'foundation');

-- Portions: the unit stands in measure_unit, or, under 9999, in the modifier, or, for the survey,
-- whole in portion_description.
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
           and coalesce(measure_unit_id, 9999) = 9999 and nullif(trim(modifier), '') is null);

-- Branded foods: the serving on the pack, one a food.
insert into measure_text by name
select
    food_id,
    1 as seq,
    serving_text as text,
    serving_g as grams,
    'serving on the pack' as source,
    true as alone
from fdc_pick
where serving_g > 0
  and serving_text <> ''
  and regexp_matches(serving_text, '^[\d./]+ *[A-Za-z]');
