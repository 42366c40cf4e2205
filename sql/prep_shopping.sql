-- sql/prep_shopping.sql: what to buy or weigh out for a chosen set of recipes and servings.
-- in      wanted(recipe_id, factor)                     times of the whole recipe to make
--         line(recipe_id, line_no, text, food_id, description, grams, unit, amount)
--         part(recipe_id, line_no, sub_recipe_id, share)  lines that are a share of another recipe
-- out     one row a food: food_id, description, grams (null when no line could be weighed),
--         lines, unweighed (how many lines had no weight), recipes (titles are joined later)
-- note    sub-recipes are opened level by level; rings were taken out before
with recursive make as (
    select recipe_id, factor, 0 as depth from wanted
    union all
    select part.sub_recipe_id, make.factor * part.share, make.depth + 1
    from make
    join part using (recipe_id)
    where make.depth < 20
),
need as (
    select
        line.food_id,
        line.description,
        line.text,
        line.recipe_id,
        line.grams * make.factor as grams
    from make
    join line using (recipe_id)
    where line.food_id is null or not starts_with(line.food_id, 'recipe:')
)
select
    food_id,
    coalesce(any_value(description), '') as description,
    case when food_id is null then text end as text,
    fsum(grams) as grams,
    count(*) as lines,
    count(*) filter (where grams is null) as unweighed,
    list_sort(list(distinct recipe_id)) as recipes
from need
group by food_id, case when food_id is null then text end
order by food_id is null, grams desc nulls last, description, text
