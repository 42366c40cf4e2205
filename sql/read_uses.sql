-- sql/read_uses.sql: lines that name another recipe of the collection.
-- The rule is that of pipeline/match/titles.py: the whole title is said, and one recipe of the same
-- creator has it; or one of the same folder, nobody named, when the line points to a recipe or the
-- table does not know the food; or one of all, when the line points to a recipe. Of a share ("of the
-- sauce") the end of the title is enough within a creator or folder. Or the line counts in portions, batches or shares, and all words said stand in the title of one recipe alone. A
-- recipe is no ingredient of itself.
-- in      line(recipe_id, line_no, text); recipe(recipe_id, title_key, creator, source);
--         matched(text, name_key, dish, said_unit, said_amount, said, known): keys are words, a
--         space between; said: share | recipe | own | ''
-- out     one row a (key, line_no): the recipe used, and how much of it is said
with title as (
    select
        recipe_id,
        title_key,
        string_split(title_key, ' ') as words,
        coalesce(creator, '') as creator,
        case when contains(source, '/') then regexp_replace(source, '/[^/]*$', '') else '' end
            as folder
    from recipe
    where title_key <> ''
),
home as (
    select
        recipe_id,
        title_key,
        coalesce(creator, '') as creator,
        case when contains(source, '/') then regexp_replace(source, '/[^/]*$', '') else '' end
            as folder
    from recipe
),
ending as (                                   -- "sauce" of "tomato sauce"
    select recipe_id, creator, folder, array_to_string(list_slice(words, start, len(words)), ' ') as end_key
    from (select *, unnest(range(2, len(words) + 1)) as start from title)
),
grouped as (                                  -- recipes of one title: of a creator, a folder, all
    select 'own' as range, creator as place, title_key, count(*) as recipes,
           min(recipe_id) as first, max(recipe_id) as last
    from title where creator <> '' group by all
    union all
    select 'near', folder, title_key, count(*), min(recipe_id), max(recipe_id)
    from title where creator = '' group by all
    union all
    select 'all', '', title_key, count(*), min(recipe_id), max(recipe_id)
    from title group by title_key
    union all
    select 'own end', creator, end_key, count(*), min(recipe_id), max(recipe_id)
    from ending where creator <> '' group by all
    union all
    select 'near end', folder, end_key, count(*), min(recipe_id), max(recipe_id)
    from ending where creator = '' group by all
),
asked as (
    select text, name_key, dish, said_unit, said_amount, said as pointed, known,
           string_split(name_key, ' ') as words
    from matched
    where name_key <> '' and (dish or name_key in (select title_key from grouped))
),
said as (
    select line.recipe_id, line.line_no, home.creator, home.folder, home.title_key as own_key,
           asked.*
    from line
    join asked using (text)
    join home using (recipe_id)
),
candidate as (
    select
        said.recipe_id,
        said.line_no,
        list_position(['own', 'near', 'all', 'own end', 'near end'], grouped.range) as step,
        case grouped.range
            when 'own' then true
            when 'near' then said.pointed <> '' or not said.known
            else said.pointed in ('recipe', 'share')
        end as meant,
        grouped.recipes - case
            when ends_with(grouped.range, 'end')
                then (ends_with(said.own_key, ' ' || said.name_key))::integer
            else (said.own_key = said.name_key)::integer
        end as others,
        case when grouped.first <> said.recipe_id then grouped.first else grouped.last end as other
    from said
    join grouped
        on grouped.title_key = said.name_key
        and (grouped.range = 'all'
             or (starts_with(grouped.range, 'own') and said.creator <> ''
                 and grouped.place = said.creator)
             or (starts_with(grouped.range, 'near') and said.creator = ''
                 and grouped.place = said.folder))
        and (not ends_with(grouped.range, 'end') or said.pointed = 'share')
),
by_whole as (                                 -- the nearest range that has one decides
    select
        recipe_id,
        line_no,
        arg_min_null(case when meant and others = 1 then other end, step) filter (where others > 0)
            as used,
        count(*) filter (where others > 0) > 0 as decided
    from candidate
    group by recipe_id, line_no
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
