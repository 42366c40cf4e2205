-- sql/prep_shopping.sql: what to buy or weigh out for a chosen set of recipes and servings.
-- in      make(recipe_id, factor)                       times of each recipe to make, those that
--                                                       others use among them
--         line(recipe_id, line_no, text, name, food_id, description, grams, unit, amount, basis)
-- out     one row per food (its food_id, else the text): food_id, description, name (the cook's
--         word, the one most lines say), text, grams (null when no line could be weighed), lines,
--         unweighed (how many lines had no weight), recipes (titles are joined later),
--         unit, each_g: the unit people buy or measure it in and the grams of one, null when it is
--         only ever weighed. Things counted and packs go before spoons and cups.
with need as (
    select
        coalesce(line.food_id, line.text) as food_key,
        line.*,
        line.grams * make.factor as needed
    from make
    join line using (recipe_id)
    where line.food_id is null or not starts_with(line.food_id, 'recipe:')
),
measured as (
    select
        food_key,
        unit,
        fsum(grams) / nullif(fsum(amount), 0) as each_g,
        row_number() over (
            partition by food_key
            order by basis not in ('count_weight', 'package', 'pantry'), count(*) desc, unit
        ) as choice
    from need
    where basis in ('count_weight', 'package', 'pantry', 'household_measure', 'density')
      and grams > 0 and amount > 0
      and unit not in ('g', 'kg', 'oz', 'lb')
    group by food_key, unit, basis
),
named as (
    select
        food_key,
        name,
        row_number() over (partition by food_key order by count(*) desc, length(name), name) as choice
    from need
    where name <> ''
    group by food_key, name
)
select
    any_value(need.food_id) as food_id,
    coalesce(any_value(need.description), '') as description,
    coalesce(any_value(named.name), '') as name,
    case when any_value(need.food_id) is null then any_value(need.text) end as text,
    fsum(needed) as grams,
    count(*) as lines,
    count(*) filter (where needed is null) as unweighed,
    list_sort(list(distinct need.recipe_id)) as recipes,
    any_value(measured.unit) as unit,
    any_value(measured.each_g) as each_g
from need
left join measured on measured.food_key = need.food_key and measured.choice = 1
left join named on named.food_key = need.food_key and named.choice = 1
group by need.food_key
order by any_value(need.food_id) is null, grams desc nulls last, description, text
