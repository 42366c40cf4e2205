-- sql/drift_foods.sql: what changed about the foods that a collection uses.
-- in      attached snapshots before and after; used(food_id, lines, recipes): foods of the
--         collection under either snapshot; line_before, line_after(recipe_id, line_no, food_id, ...)
-- out     one row per (food_id, column) that differs: before, after (null: not reported, or the food
--         is not in that snapshot), change, change_pct; state: changed | replaces | appeared |
--         vanished for the food itself. A food that is new and answers lines that another answered
--         replaces that one: before is the other's value, replaces its id (of several the one of
--         most lines)
-- params  $least: relative changes below this are noise of rounding, e.g. 0.0005
with old as (
    unpivot (
        from before.food_wide
        semi join (from before.food where not reference) as answer using (food_id)
    ) on columns(* exclude (food_id)) into name nutrient value amount
),
new as (
    unpivot (
        from after.food_wide
        semi join (from after.food where not reference) as answer using (food_id)
    ) on columns(* exclude (food_id)) into name nutrient value amount
),
displaced as (
    select
        line_after.food_id,
        mode(line_before.food_id order by line_before.food_id) as replaces
    from line_after
    join line_before using (recipe_id, line_no)
    join (from before.food where not reference) as old_food
        on old_food.food_id = line_before.food_id
    where line_before.food_id <> line_after.food_id
      and line_after.food_id not in (select food_id from before.food where not reference)
    group by line_after.food_id
),
named as (  -- the food, and the one whose values before it is held against
    select used.*, displaced.replaces, coalesce(displaced.replaces, used.food_id) as old_id
    from used
    left join displaced using (food_id)
),
paired as (
    select
        named.food_id,
        named.replaces,
        known.nutrient,
        old.amount as before,
        new.amount as after,
        named.lines,
        named.recipes
    from named
    join (
        select named.food_id, nutrient from named join old on old.food_id = named.old_id
        union
        select food_id, nutrient from new
    ) as known using (food_id)
    left join old on old.food_id = named.old_id and old.nutrient = known.nutrient
    left join new on new.food_id = named.food_id and new.nutrient = known.nutrient
)
select
    paired.food_id,
    coalesce(new_food.description, old_food.description) as description,
    case
        when new_food.food_id is null then 'vanished'
        when paired.replaces is not null then 'replaces'
        when old_food.food_id is null then 'appeared'
        else 'changed'
    end as state,
    coalesce(paired.replaces, '') as replaces,
    nutrient,
    before,
    after,
    after - before as change,
    100 * (after - before) / nullif(abs(before), 0) as change_pct,
    lines,
    recipes
from paired
left join (from before.food where not reference) as old_food using (food_id)
left join (from after.food where not reference) as new_food using (food_id)
where before is distinct from after
  and (before is null or after is null
       or abs(after - before) > $least * greatest(abs(before), abs(after)))
order by lines desc, abs(coalesce(change_pct, 100)) desc, food_id, nutrient
