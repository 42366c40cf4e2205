-- sql/snapshot_amounts.sql: amounts that a loader put down by text, into the table by number.
-- in      temp table loaded(food_id, nutrient, amount_per_100g, n, derivation);
--         food and nutrient hold all that it names
-- out     rows of amount and derivation; loaded is empty again
insert into derivation from new_derivations('loaded');

insert into amount by name
select
    food.food_no,
    nutrient.nutrient_no,
    loaded.amount_per_100g,
    loaded.n,
    derivation.derivation_no
from loaded
join food using (food_id)
join nutrient using (nutrient)
join derivation using (derivation)
order by food.food_no, nutrient.nutrient_no;

delete from loaded;
