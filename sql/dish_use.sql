-- dish_use.sql: how much of each line is eaten, from the kinds of use.
-- in      line_in(recipe_id, line_no, grams, kcal, watery, line_index)   null: not known; watery: no food to
--         fry; line_index: place of the line in the caller's table. All lines of the recipes with a use
--         use_in(recipe_id, line_no, place, use, of, share, low, high, reason)   place 1 rules
--         stated_in(recipe_id, amount, basis): kcal; recipe_in(recipe_id, servings)
-- out     one row per line with a use: line_index, use, reason, eaten_share, eaten_low, eaten_high
--         of 'food': the shares are of the grams of the other lines of the recipe, at most the line
--         use 'optional' is counted where the stated energy holds the optional lines of the recipe,
--         else it comes out as 'if_added'
-- params  $fits, $better: see pipeline/dish/apply.py; $least: share of the dish that matters
with ruling as (
    select * from use_in
    qualify row_number() over (partition by recipe_id, line_no order by place) = 1
), food as (
    select line_in.recipe_id, fsum(line_in.grams) as grams
    from line_in
    left join ruling using (recipe_id, line_no)
    where not line_in.watery and coalesce(ruling.of, 'line') <> 'food'
      and coalesce(ruling.use, '') not in ('made', 'if_added', 'optional')
    group by line_in.recipe_id
), sized as (
    select
        ruling.*,
        line_in.kcal,
        line_in.line_index,
        case when ruling.of = 'food' then food.grams / nullif(line_in.grams, 0) else 1 end as times
    from ruling
    join line_in using (recipe_id, line_no)
    left join food on food.recipe_id = ruling.recipe_id
), eaten as (
    select
        recipe_id, line_no, line_index, use, reason, kcal,
        least(share * coalesce(times, 1), 1) as eaten_share,
        least(low * coalesce(times, 1), 1) as eaten_low,
        least(high * coalesce(times, 1), 1) as eaten_high
    from sized
), dish as (
    select
        line_in.recipe_id,
        fsum(line_in.kcal * coalesce(eaten.eaten_share, 1)) as plain,
        fsum(line_in.kcal) filter (where eaten.use = 'optional') as optional
    from line_in
    left join eaten using (recipe_id, line_no)
    group by line_in.recipe_id
), said as (
    select
        stated_in.recipe_id,
        any_value(stated_in.amount * case when stated_in.basis = 'per_serving'
            then recipe_in.servings else 1 end) as kcal
    from stated_in
    join recipe_in using (recipe_id)
    where stated_in.amount > 0
    group by stated_in.recipe_id
), holds as (
    select
        dish.recipe_id,
        dish.plain > 0 and dish.optional > $least * dish.plain
            and abs(ln((dish.plain + dish.optional) / said.kcal)) < $fits
            and abs(ln((dish.plain + dish.optional) / said.kcal)) + $better
                < abs(ln(dish.plain / said.kcal)) as them
    from dish
    join said using (recipe_id)
)
select
    eaten.line_index,
    case when eaten.use = 'optional' and not coalesce(holds.them, false) then 'if_added'
         else eaten.use end as use,
    eaten.reason,
    case when eaten.use = 'optional' and holds.them then 1 else eaten.eaten_share end
        as eaten_share,
    eaten.eaten_low,
    eaten.eaten_high
from eaten
left join holds using (recipe_id)
where eaten.eaten_share is not null
order by eaten.line_index
