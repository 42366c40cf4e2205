-- sql/fdc_pick.sql: which rows of food.csv are the current foods to load.
-- in      fdc_food, fdc_foundation_food, fdc_sr_legacy_food, fdc_survey_fndds_food,
--         fdc_branded_food, fdc_food_category, fdc_wweia_category; food (loaded before);
--         variables kinds: list of foundation | sr_legacy | survey | branded; food_base
-- out     temp table fdc_pick: one row a food_id, with what its pack says. food.csv also holds
--         sub-samples and superseded releases: a food counts when its own table lists it, and the
--         latest release of one stable code wins (fdc_id changes with every revision; NDB number,
--         food code and GTIN do not). SR Legacy keeps the numbers of SR28: its foods are sr28:...
create temp table fdc_coded as
with listed as (
    select fdc_id, 'foundation' as source, trim(NDB_number) as code
    from fdc_foundation_food
    where 'foundation' in getvariable('kinds')
    union all by name
    select fdc_id, 'sr_legacy' as source, trim(NDB_number) as code
    from fdc_sr_legacy_food
    where 'sr_legacy' in getvariable('kinds')
    union all by name
    select fdc_id, 'fndds' as source, trim(food_code) as code
    from fdc_survey_fndds_food
    where 'survey' in getvariable('kinds')
    union all by name
    select
        fdc_id,
        'branded' as source,
        ltrim(trim(gtin_upc), '0') as code,     -- leading zeros come and go between releases
        coalesce(nullif(brand_name, ''), brand_owner) as brand,
        branded_food_category as brand_category,
        lower(serving_size_unit) in ('ml', 'mlt') as by_volume,
        if(lower(serving_size_unit) in ('g', 'grm', 'gm'), serving_size, null) as serving_g,
        trim(household_serving_fulltext) as serving_text
    from fdc_branded_food
    where 'branded' in getvariable('kinds')
)
select
    listed.* exclude (code),
    case
        when coalesce(code, '') = '' then 'fdc' || fdc_id
        -- SR numbers have five digits or six; the CSV drops leading zeros
        when source in ('foundation', 'sr_legacy') and length(code) < 5 then lpad(code, 5, '0')
        when try_cast(code as uhugeint) is not null then code
        else regexp_replace(code, '[^A-Za-z0-9._-]', '-', 'g')
    end as source_code
from listed;

create temp table fdc_twice as
select source, source_code
from fdc_coded
group by source, source_code
having count(*) > 1;

create temp table fdc_pick as
with once as (
    select fdc_coded.*
    from fdc_coded
    anti join fdc_twice using (source, source_code)
    union all
    select fdc_coded.*
    from fdc_coded
    join fdc_twice using (source, source_code)
    join fdc_food using (fdc_id)
    qualify row_number() over (
        partition by source, source_code
        order by try_cast(publication_date as date) desc nulls last, fdc_id desc
    ) = 1
)
select
    once.fdc_id,
    (getvariable('food_base') + once.fdc_id)::integer as food_no,
    case once.source when 'sr_legacy' then 'sr28' else once.source end || ':' || once.source_code
        as food_id,
    once.source,
    once.source_code,
    case
        when contains(fdc_food.description, '  ') or contains(fdc_food.description, chr(10))
            then trim(regexp_replace(fdc_food.description, '\s+', ' ', 'g'))
        else trim(fdc_food.description)
    end as description,
    coalesce(
        fdc_food_category.description, fdc_wweia_category.description, once.brand_category, ''
    ) as category,
    once.brand,
    coalesce(once.by_volume, false) as by_volume,
    once.serving_g,
    once.serving_text
from once
join fdc_food using (fdc_id)
left join fdc_food_category
    on fdc_food_category.id = fdc_food.food_category_id and once.source <> 'fndds'
left join fdc_wweia_category
    on fdc_wweia_category.wweia_food_category = fdc_food.food_category_id
    and once.source = 'fndds'
where trim(fdc_food.description) <> ''
  and case once.source when 'sr_legacy' then 'sr28' else once.source end || ':' || once.source_code
      not in (select food_id from food);        -- a preferred source has it
drop table fdc_coded;
drop table fdc_twice;
