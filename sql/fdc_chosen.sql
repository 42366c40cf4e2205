-- sql/fdc_chosen.sql: one amount a food and tagname.
-- in      amount, as sql/fdc_amount.sql left it; fdc_macro, from all of it; fdc_map, fdc_pick;
--         variables first_no, last_no: food_no of all of the bundle
-- out     amount and fdc_macro without foods that are not loaded, and amount with one row a
--         (food_no, nutrient_no): the lowest rank, then the smaller amount, so that the outcome
--         never depends on the order of reading
create temp table fdc_stray as          -- rows of foods that are not loaded
select food_no
from fdc_macro
anti join fdc_pick using (food_no);
delete from amount where food_no in (select food_no from fdc_stray);
delete from fdc_macro where food_no in (select food_no from fdc_stray);

create temp table fdc_chosen as
select
    amount.food_no,
    amount.nutrient_no,
    arg_min(amount_per_100g, fdc_rank.rank * 1e9 + amount_per_100g) as amount_per_100g,
    arg_min(n, fdc_rank.rank * 1e9 + amount_per_100g) as n,
    arg_min(amount.derivation_no, fdc_rank.rank * 1e9 + amount_per_100g) as derivation_no
from amount
join (from fdc_macro where several) as several using (food_no)
join (
    select nutrient_no, derivation_no, min(rank) as rank
    from fdc_map
    group by nutrient_no, derivation_no
) as fdc_rank using (nutrient_no, derivation_no)
group by amount.food_no, amount.nutrient_no;

delete from amount where food_no in (select food_no from fdc_macro where several);
insert into amount by name
from fdc_chosen
order by food_no, nutrient_no;

delete from fdc_macro where several;
insert into fdc_macro
from fdc_wide('fdc_chosen');
