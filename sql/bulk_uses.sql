-- sql/bulk_uses.sql: lines that name another recipe of the collection.
-- The rule is that of pipeline/match/titles.py: the whole title is said and one recipe alone has
-- it; or, where the line counts in portions, batches or shares, all words said stand in the title
-- of one recipe alone. A recipe is no ingredient of itself.
-- in      line(recipe_id, line_no, text); recipe(recipe_id, title_key);
--         matched(text, name_key, dish, said_unit, said_amount): keys are words, a space between
-- out     one row a (key, line_no): the recipe used, and how much of it is said
with title as (
    select recipe_id, title_key, string_split(title_key, ' ') as words
    from recipe
    where title_key <> ''
),
whole_title as (
    select title_key, count(*) as recipes, min(recipe_id) as first, max(recipe_id) as last
    from title
    group by title_key
),
asked as (
    select text, name_key, dish, said_unit, said_amount, string_split(name_key, ' ') as words
    from matched
    where name_key <> '' and (dish or name_key in (select title_key from whole_title))
),
said as (
    select line.recipe_id, line.line_no, asked.*
    from line
    join asked using (text)
),
by_whole as (
    select
        said.recipe_id,
        said.line_no,
        case
            when whole_title.recipes = 1 and whole_title.first <> said.recipe_id
                then whole_title.first
            when whole_title.recipes = 2 and said.recipe_id = whole_title.first
                then whole_title.last
            when whole_title.recipes = 2 and said.recipe_id = whole_title.last
                then whole_title.first
        end as used,
        -- other recipes bear the title: whole titles decide, be it that two could be meant
        whole_title.recipes > 1 or whole_title.first <> said.recipe_id as decided
    from said
    join whole_title on whole_title.title_key = said.name_key
),
word_title as (
    select recipe_id, words, unnest(list_distinct(words)) as word
    from title
),
word_count as (
    select word, count(*) as recipes from word_title group by word
),
dish_name as (
    select distinct name_key, words, unnest(list_distinct(words)) as word
    from asked
    where dish
),
rarest as (                                   -- names with a word that no title has fall away
    select name_key, any_value(words) as words, arg_min(word, (coalesce(recipes, 0), word)) as word
    from dish_name
    left join word_count using (word)
    group by name_key
    having min(coalesce(recipes, 0)) > 0
),
part_title as (
    select rarest.name_key, count(*) as recipes, min(recipe_id) as first, max(recipe_id) as last
    from rarest
    join word_title using (word)
    where list_has_all(word_title.words, rarest.words)
    group by rarest.name_key
),
by_part as (
    select
        said.recipe_id,
        said.line_no,
        case
            when part_title.recipes = 1 and part_title.first <> said.recipe_id
                then part_title.first
            when part_title.recipes = 2 and said.recipe_id = part_title.first
                then part_title.last
            when part_title.recipes = 2 and said.recipe_id = part_title.last
                then part_title.first
        end as used
    from said
    join part_title using (name_key)
    where said.dish
)
select
    said.recipe_id as key,
    said.line_no,
    case when by_whole.decided then by_whole.used else by_part.used end as used_key,
    said.said_unit as unit,
    said.said_amount as amount
from said
left join by_whole using (recipe_id, line_no)
left join by_part using (recipe_id, line_no)
where case when by_whole.decided then by_whole.used else by_part.used end is not null
order by key, line_no
