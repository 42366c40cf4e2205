-- sql/national_load.sql: any national table given as CSV, by a mapping of its columns.
-- in      national_cell(code, description, category, nutrient, unit, factor, cell): one row a
--         food and mapped column, the cell as written; national_portion(code, text, grams);
--         variables source, preference, food_base, per, decimal, missing_words, trace_words
-- out     rows of food, loaded, nutrient, measure_text; energy and carbohydrate that the table leaves
--         open are computed where the rest allows it, and marked
create temp table national_amount as
with cleaned as (
    select *, trim(cell) as written from national_cell
),
read as (
    select
        *,
        case
            when written is null or written in (select unnest(getvariable('missing_words'))) then null
            when written in (select unnest(getvariable('trace_words'))) then 0
            when written like '<%'
                then try_cast(replace(trim(written[2:]), getvariable('decimal'), '.') as double) / 2
            else try_cast(replace(written, getvariable('decimal'), '.') as double)
        end as amount,
        case
            when written in (select unnest(getvariable('trace_words'))) then 'trace, taken as 0'
            when written like '<%' then 'below ' || trim(written[2:]) || ', half of it taken'
            else ''
        end as derivation,
        written is not null and written not in (select unnest(getvariable('missing_words')))
            as told
    from cleaned
)
select *, told and amount is null as unreadable from read;

insert into food by name
select
    getvariable('food_base') + row_number() over (order by code) as food_no,
    getvariable('source') || ':' || code as food_id,
    getvariable('source') as source,
    code as source_code,
    any_value(description) as description,
    coalesce(any_value(category), '') as category,
    false as survey,
    null::double as refuse_pct,
    '' as refuse,
    null::double as nitrogen_factor,
    null::double as protein_factor,
    null::double as fat_factor,
    null::double as carb_factor,
    '' as common_name,
    '' as scientific_name,
    '' as manufacturer,
    '' as short_description,
    getvariable('preference') as preference,
    getvariable('per') as per,
    '' as energy_from
from national_cell
group by code
order by food_id;

insert into loaded by name
with amount as (
    select
        getvariable('source') || ':' || code as food_id,
        nutrient,
        amount * factor as amount_per_100g,
        case when unit = 'kJ' and derivation = '' then 'from kJ, at 4.184 kJ/kcal' else derivation end
            as derivation
    from national_amount
    where amount is not null
),
whole_carbohydrate as (     -- available carbohydrate and fibre are parts of it
    select
        food_id,
        'CHOCDF' as nutrient,
        sum(amount_per_100g) as amount_per_100g,
        'available carbohydrate and fibre added up' as derivation
    from amount
    where nutrient in ('CHOAVLDF', 'CHOAVL', 'FIBTG')
      and food_id not in (select food_id from amount where nutrient = 'CHOCDF')
    group by food_id
    having count(*) filter (where nutrient = 'FIBTG') = 1 and count(*) = 2
)
select
    food_id, nutrient, amount_per_100g, null::integer as n,
    derivation
from (from amount union all by name from whole_carbohydrate)
order by food_id, nutrient;

create or replace temp view loaded_wide as     -- one row a food_id, one column a tagname
from loaded
pivot (
    any_value(amount_per_100g)
    for nutrient in ('ENERC_KCAL', 'PROCNT', 'CHOCDF', 'CHOAVLDF', 'CHOAVL', 'FAT', 'FIBTG', 'ALC',
                     'WATER', 'ASH')
    group by food_id
);

-- Carbohydrate by difference, where it alone is missing: 100 g less water, protein, fat, ash and
-- alcohol is its definition (INFOODS, CHOCDF). Not of 100 ml, whose weight is not known.
insert into loaded by name
select
    food_id,
    'CHOCDF' as nutrient,
    greatest(100 - WATER - PROCNT - FAT - ASH - coalesce(ALC, 0), 0) as amount_per_100g,
    null::integer as n,
    'by difference of water, protein, fat and ash, computed here' as derivation
from loaded_wide
where CHOCDF is null
  and getvariable('per') = '100 g'
  and 100 - WATER - PROCNT - FAT - ASH - coalesce(ALC, 0) > -1
order by food_id;

-- Energy where the table gives none: general Atwater factors (FAO/INFOODS: protein 4, fat 9,
-- available carbohydrate 4, fibre 2, alcohol 7 kcal/g; carbohydrate by difference 4, fibre in it).
insert into loaded by name
select
    food_id,
    'ENERC_KCAL' as nutrient,
    4 * PROCNT + 9 * FAT + coalesce(4 * coalesce(CHOAVLDF, CHOAVL) + 2 * FIBTG, 4 * CHOCDF)
        + 7 * coalesce(ALC, 0) as amount_per_100g,
    null::integer as n,
    if(coalesce(CHOAVLDF, CHOAVL) + FIBTG is not null,
       'energy computed from 4-9-4, 2 for fibre and 7 for alcohol',
       'energy computed from 4-9-4 and 7') as derivation
from loaded_wide
where ENERC_KCAL is null and PROCNT is not null and FAT is not null and CHOCDF is not null
order by food_id;

update food
set energy_from = loaded.derivation
from loaded
where loaded.food_id = food.food_id and loaded.nutrient = 'ENERC_KCAL';

insert into nutrient by name
select distinct nutrient, national_unit.unit, nutrient as label, '' as nutrient_nbr
from loaded
join (
    select nutrient, any_value(if(unit in ('kJ', 'kcal'), 'kcal', unit)) as unit
    from national_cell group by nutrient
    union all
    select * from (values ('CHOCDF', 'g'), ('ENERC_KCAL', 'kcal'))
) as national_unit using (nutrient)
where nutrient not in (select nutrient from nutrient);

insert into measure_text by name
select
    getvariable('source') || ':' || code as food_id,
    row_number() over (partition by code order by text)::integer as seq,
    trim(text) as text,
    grams,
    getvariable('source') || ' portions' as source
from national_portion
where grams > 0
  and getvariable('source') || ':' || code in (select food_id from food);
