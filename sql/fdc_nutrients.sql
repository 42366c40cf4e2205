-- sql/fdc_nutrients.sql: one amount a food and tagname, for a range of foods at a time, so that
-- memory stays bounded however long the file is.
-- in      fdc_amount, fdc_map, fdc_pick
-- out     rows of food_nutrient; of several nutrients or rows for one tagname the lowest rank,
--         then the smaller amount (so that the outcome never depends on the order of reading)
-- params  $first, $last: the range of fdc_pick.pick, both ends in
insert into food_nutrient by name
with chosen as (
    select
        pick,
        tag,
        arg_min(amount, rank * 1e9 + amount) as amount,
        arg_min(data_points, rank * 1e9 + amount) as n,
        min(rank) as rank
    from fdc_amount
    where pick between $first and $last
    group by pick, tag
),
tagname as (
    select distinct on (tag, rank) tag, rank, nutrient, derivation from fdc_map order by key desc
)
select
    fdc_pick.food_id,
    tagname.nutrient,
    chosen.amount as amount_per_100g,
    null::double as standard_error,       -- the files give least and most, not the error
    chosen.n::integer as n,
    tagname.derivation
from chosen
join fdc_pick using (pick)
join tagname using (tag, rank)
order by chosen.pick, chosen.tag
