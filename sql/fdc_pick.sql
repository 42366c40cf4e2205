-- sql/fdc_pick.sql: which rows of food.csv are the current foods to load.
-- in      fdc_food, fdc_foundation_food, fdc_sr_legacy_food, fdc_survey_fndds_food,
--         fdc_branded_food, fdc_food_category, fdc_wweia_category; food (loaded before);
--         variable kinds: list of foundation | sr_legacy | survey | branded
-- out     temp table fdc_pick: one row a food_id. food.csv also holds sub-samples and superseded
--         releases: a food counts when its own table lists it, and the latest release of one
--         stable code wins (fdc_id changes with every revision, NDB number, food code and GTIN do
--         not). SR Legacy keeps the numbers of SR28, so its foods are sr28:...
create temp table fdc_pick as
with listed as (
    select
        fdc_id,
        'foundation' as source,
        coalesce(nullif(trim(NDB_number), ''), 'fdc' || fdc_id) as code
    from fdc_foundation_food
    where 'foundation' in getvariable('kinds')
    union all
    select fdc_id, 'sr_legacy', coalesce(nullif(trim(NDB_number), ''), 'fdc' || fdc_id)
    from fdc_sr_legacy_food
    where 'sr_legacy' in getvariable('kinds')
    union all
    select fdc_id, 'fndds', coalesce(nullif(trim(food_code), ''), 'fdc' || fdc_id)
    from fdc_survey_fndds_food
    where 'survey' in getvariable('kinds')
    union all
    select fdc_id, 'branded', coalesce(nullif(ltrim(trim(gtin_upc), '0'), ''), 'fdc' || fdc_id)
    from fdc_branded_food
    where 'branded' in getvariable('kinds')
),
coded as (
    select
        fdc_id,
        source,
        case        -- SR numbers have five digits or six; the CSV drops leading zeros
            when source in ('foundation', 'sr_legacy') and length(code) < 5
                then lpad(code, 5, '0')
            else regexp_replace(code, '[^A-Za-z0-9._-]', '', 'g')
        end as source_code
    from listed
),
named as (
    select
        coded.fdc_id,
        coded.source,
        coded.source_code,
        case coded.source when 'sr_legacy' then 'sr28' else coded.source end
            || ':' || coded.source_code as food_id,
        trim(regexp_replace(fdc_food.description, '\s+', ' ', 'g')) as description,
        fdc_food.food_category_id,
        try_cast(fdc_food.publication_date as date) as published
    from coded
    join fdc_food using (fdc_id)
    where coded.source_code <> ''
),
latest as (
    select *
    from named
    where description <> ''
    qualify row_number() over (partition by food_id order by published desc nulls last, fdc_id desc) = 1
)
select
    row_number() over (order by latest.fdc_id)::integer as pick,
    latest.fdc_id,
    latest.food_id,
    latest.source,
    latest.source_code,
    latest.description,
    coalesce(fdc_food_category.description, fdc_wweia_category.description, '') as category,
    latest.published
from latest
left join fdc_food_category
    on fdc_food_category.id = latest.food_category_id and latest.source <> 'fndds'
left join fdc_wweia_category
    on fdc_wweia_category.wweia_food_category = latest.food_category_id
    and latest.source = 'fndds'
where latest.food_id not in (select food_id from food);   -- a preferred source has it
