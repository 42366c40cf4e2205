-- sql/snapshot_density.sql: mass of a volume, where shared/densities.csv gives one for a food.
-- in      variable densities_path; food
-- out     density: one row a (food_id, form); the range is FAO/INFOODS' where it was found
insert into density by name
select
    food.food_id,
    densities.food_plain_name as form,
    densities.g_per_ml::double as g_per_ml,
    nullif(split_part(densities.fao_range, '-', 1), '')::double as low,
    nullif(split_part(densities.fao_range, '-', 2), '')::double as high,
    densities.source
from read_csv(getvariable('densities_path'), header = true, all_varchar = true, nullstr = '\N')
    as densities
join food on food.source_code = densities.ndb_no and food.source in ('sr28', 'sr_legacy')
order by food_id, form;
