-- sql/bulk_company.sql: recipes of other parts that a part needs to see its creators whole.
-- A habit shows in all recipes of a creator. A creator of up to $most recipes is seen whole by every
-- part that holds some, as long as the part takes in no more than $room recipes for it; a larger one
-- is judged by what each part holds. Recipes that name no creator are one creator's, as elsewhere.
-- in      recipe(recipe_id, creator): keys begin with the six digits of their part
-- out     one row per (part, used_key)
-- params  $most, $room
with owned as (
    select recipe_id, coalesce(creator, '') as creator, recipe_id[1:6]::integer as part from recipe
),
whole as (
    select creator, min(recipe_id) as first
    from owned
    group by creator
    having count(*) <= $most and min(part) <> max(part)
),
held as (
    select whole.creator, whole.first, owned.part
    from whole
    join owned using (creator)
    group by all
),
asked as (
    select held.part, owned.creator, any_value(held.first) as first, count(*) as recipes
    from held
    join owned on owned.creator = held.creator and owned.part <> held.part
    group by held.part, owned.creator
),
let_in as (
    select part, creator
    from asked
    qualify sum(recipes) over (partition by part order by first) <= $room
)
select let_in.part, owned.recipe_id as used_key
from let_in
join owned on owned.creator = let_in.creator and owned.part <> let_in.part
order by all
