-- sql/fdc_nutrient_map.sql: which FDC nutrient fills which tagname, and by what factor.
-- in      fdc_nutrient(id, unit_name, nutrient_nbr) of the bundle; variable fdc_nutrients_path,
--         shared/fdc_nutrients.csv: several nutrients may fill one tagname, the lowest rank wins
-- out     rows of nutrient and derivation; temp table fdc_map: one row a value that may stand in
--         food_nutrient.nutrient_id.
--         Values below 1000 are publisher's numbers (208), which some releases write there in
--         place of ids (1008). Never joined by name: kcal and kJ are both called "Energy".
create temp table fdc_rule as
select
    nutrient_nbr,
    nutrient_id::integer as nutrient_id,
    nutrient,
    label,
    rank::integer as rank,
    unit,
    coalesce(derivation, '') as derivation
from read_csv(getvariable('fdc_nutrients_path'), header = true, all_varchar = true, nullstr = '\N');

insert into nutrient by name
select nutrient, any_value(unit) as unit, any_value(label) as label,
       any_value(nutrient_nbr) as nutrient_nbr
from fdc_rule
where rank = 1 and nutrient not in (select nutrient from nutrient)
group by nutrient
order by nutrient;

insert into derivation from new_derivations('fdc_rule');

create temp table fdc_map as
with listed as (         -- the bundle's own list says unit and number; ids it lacks keep ours
    select
        coalesce(fdc_nutrient.id, wanted.nutrient_id) as nutrient_id,
        wanted.nutrient_nbr,
        wanted.nutrient,
        wanted.rank,
        wanted.unit,
        wanted.derivation,
        coalesce(
            case upper(fdc_nutrient.unit_name)
                when 'KCAL' then 'kcal' when 'KJ' then 'kJ' when 'G' then 'g' when 'MG' then 'mg'
                when 'UG' then 'ug' when 'IU' then 'IU'
            end,
            wanted.unit
        ) as given_unit
    from fdc_rule as wanted
    left join fdc_nutrient
        on fdc_nutrient.id = wanted.nutrient_id
        or fdc_nutrient.nutrient_nbr = wanted.nutrient_nbr
),
scaled as (
    select
        *,
        case
            when given_unit = 'kJ' then 1 / 4.184
            when given_unit = unit then 1
            when given_unit = 'g' and unit = 'mg' or given_unit = 'mg' and unit = 'ug' then 1e3
            when given_unit = 'g' and unit = 'ug' then 1e6
            when given_unit = 'mg' and unit = 'g' or given_unit = 'ug' and unit = 'mg' then 1e-3
            when given_unit = 'ug' and unit = 'g' then 1e-6
        end as factor       -- null: units that do not convert (IU), the nutrient is left out
    from listed
),
keyed as (
    select nutrient_id as key, * from scaled
    union all
    select try_cast(nutrient_nbr as integer), * from scaled
    where try_cast(nutrient_nbr as integer) < 1000
)
select
    key::integer as key,
    nutrient,
    any_value(nutrient.nutrient_no) as nutrient_no,
    min(rank)::utinyint as rank,
    any_value(factor) as factor,
    any_value(derivation.derivation_no) as derivation_no
from keyed
join nutrient using (nutrient)
join derivation using (derivation)
where factor is not null and key is not null
group by key, nutrient
order by key;
