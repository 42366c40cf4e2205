-- sql/snapshot_amounts.sql: amounts that a loader put down by text, into the table by number.
-- in      temp table loaded(food_id, nutrient, amount_per_100g, n, derivation);
--         food and nutrient hold all that it names
-- out     rows of amount and derivation; loaded is empty again
insert into derivation
select
    row_number() over (order by derivation)
        + (select coalesce(max(derivation_no), -1) from derivation) as derivation_no,
    derivation
from (
    select distinct derivation from loaded
    except
    select derivation from derivation
)
order by derivation;

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
