-- reconcile_band.sql: the rows of shared/tolerances.csv with NULL for what they leave open.
-- in      band_frame(profile, nutrient, lower, upper, upper_included, minus, plus, kind, floor, per_100g)
-- out     band, the same columns
create or replace temp table band as
select * replace (
    case when isnan(lower) then null else lower end as lower,
    case when isnan(upper) then null else upper end as upper,
    case when isnan(minus) then null else minus end as minus,
    case when isnan(plus) then null else plus end as plus,
    case when isnan(floor) then null else floor end as floor
)
from band_frame
