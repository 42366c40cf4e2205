-- sql/read_uses.sql: lines that name another recipe of the collection.
-- The rule is that of pipeline/match/titles.py: the whole title is said, and one recipe of the same
-- creator has it, of the same file before all others; or one of the same file or folder, nobody
-- named, when the line points to a recipe, the table does not know the food, or that recipe says no
-- servings, as a base does, and this one does; or one of all, when the line points to a recipe. Of
-- a share ("of the sauce") the end of the title is enough within a
-- file, creator or folder, unless a section of the recipe itself ends in that word. Or the line
-- counts in portions, batches or shares, or within a file in pieces of no known food ("one box from
-- the tray"), and all words said stand in the title of one recipe alone.
-- A line in what a recipe is portioned into ("2 bags red sauce") points to it. Within a file the end
-- of its title is enough then, or where the line counts pieces of a food that the table does not know
-- ("1 scoop filling (230 g)"), or where that recipe says no servings and the table knows no such food.
-- A recipe is no ingredient of itself. Where a line of its own names the food that it is called by, other
-- lines that say no more mean that food too.
-- in      line(recipe_id, line_no, section, text); recipe(recipe_id, title_key, creator, source, portion,
--         servings);
--         matched(text, name_key, dish, said_unit, said_amount, said_piece, said, known): keys are words, a
--         space between; said: share | recipe | own | ''
-- out     one row per (key, line_no): the recipe used, and how much of it is said
with title as not materialized (
    select
        recipe_id,
        title_key,
        string_split(title_key, ' ') as words,
        coalesce(creator, '') as creator,
        concat_ws(chr(10), coalesce(creator, ''), source) as file,
        case when contains(source, '/') then regexp_replace(source, '/[^/]*$', '') else '' end
            as folder
    from recipe
    where title_key <> ''
),
home as not materialized (
    select
        recipe_id,
        title_key,
        coalesce(creator, '') as creator,
        concat_ws(chr(10), coalesce(creator, ''), source) as file,
        case when contains(source, '/') then regexp_replace(source, '/[^/]*$', '') else '' end
            as folder
    from recipe
),
named as (                                    -- what lines say; titles that none says fall away first
    select distinct name_key from matched where name_key <> ''
),
ending as (                                   -- "sauce" of "tomato sauce"
    select recipe_id, creator, file, folder, end_key
    from (
        select recipe_id, creator, file, folder,
               array_to_string(list_slice(words, start, len(words)), ' ') as end_key
        from (select *, unnest(range(2, len(words) + 1)) as start from title)
    )
    where end_key in (from named)
),
placed as (                                   -- the places in which a title or an ending may be meant
    select recipe_id, title_key, unnest([
               {'range': 'file', 'place': file},
               if(creator <> '', {'range': 'own', 'place': creator}, {'range': 'near', 'place': folder}),
               {'range': 'all', 'place': ''}], recursive := true)
    from title
    where title_key in (from named)
    union all
    select recipe_id, end_key, unnest([
               {'range': 'file end', 'place': file},
               if(creator <> '', {'range': 'own end', 'place': creator},
                  {'range': 'near end', 'place': folder})], recursive := true)
    from ending
),
grouped as (                                  -- recipes of one title: of a file, a creator, a folder, all
    select range, place, title_key, count(*) as recipes, min(recipe_id) as first,
           max(recipe_id) as last
    from placed group by all
),
asked as (
    select text, name_key, dish, said_unit, said_amount, said_piece, said as pointed, known,
           string_split(name_key, ' ') as words
    from matched
    where name_key <> ''
        and (dish or (said_piece <> '' and not known) or name_key in (select title_key from grouped))
),
said as (
    select line.recipe_id, line.line_no, coalesce(line.section, '') as section, home.creator, home.file, home.folder,
           home.title_key as own_key, asked.*
    from line
    join asked using (text)
    join home using (recipe_id)
),
its_food as (                                 -- "Egg" with eggs in it: the food is meant, here and elsewhere
    select distinct recipe_id from said
    where name_key = own_key and known and not dish and pointed = ''
),
portioned as (                                -- "bag" of a recipe that makes "8 freezer bags"
    select recipe_id, portion from recipe where portion <> ''
),
base as (                                     -- what is made to be used says no servings
    select recipe_id from recipe where not coalesce(isfinite(servings), false)
),
made_here as (                                -- an earlier section of the recipe itself makes it
    select distinct said.recipe_id, said.line_no
    from said
    join line as before using (recipe_id)
    where before.line_no < said.line_no and coalesce(before.section, '') <> said.section
        and regexp_matches(
            lower(before.section), '\b' || regexp_escape(said.words[-1]) || '(e?s)?\W*$'
        )
),
candidate as (
    select
        said.recipe_id,
        said.line_no,
        list_position(
            ['file', 'own', 'near', 'all', 'file end', 'own end', 'near end'], grouped.range
        ) as step,
        case grouped.range
            when 'own' then true
            when 'all' then said.pointed in ('recipe', 'share')
            when 'file' then said.creator <> '' or said.pointed <> '' or not said.known
                or (grouped.first, said.said_piece) in (from portioned)
                or (grouped.first in (from base) and said.recipe_id not in (from base))
            when 'near' then said.pointed <> '' or not said.known
                or (grouped.first, said.said_piece) in (from portioned)
                or (grouped.first in (from base) and said.recipe_id not in (from base))
            else true
        end as meant,
        grouped.recipes - case
            when ends_with(grouped.range, 'end')
                then (ends_with(said.own_key, ' ' || said.name_key))::integer
            else (said.own_key = said.name_key)::integer
        end as others,
        case when grouped.first <> said.recipe_id then grouped.first else grouped.last end as other
    from (select * from said anti join made_here using (recipe_id, line_no)) as said
    join grouped
        on grouped.title_key = said.name_key
        and (grouped.range = 'all'
             or (starts_with(grouped.range, 'file') and grouped.place = said.file)
             or (starts_with(grouped.range, 'own') and said.creator <> ''
                 and grouped.place = said.creator)
             or (starts_with(grouped.range, 'near') and said.creator = ''
                 and grouped.place = said.folder))
        and (said.pointed <> '' or said.dish or grouped.first not in (from its_food))
        and (not ends_with(grouped.range, 'end') or said.pointed = 'share' or said.dish
             or (grouped.range = 'file end' and said.said_piece <> '' and (
                 not said.known or (grouped.first, said.said_piece) in (from portioned)))
             or (grouped.range = 'file end' and not said.known and grouped.first in (from base)))
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
dish_name as (                                -- counted in portions, or in pieces of no known food
    select distinct name_key, words, unnest(list_distinct(words)) as word
    from asked
    where dish or (said_piece <> '' and not known)
),
word_title as (
    select recipe_id, words, word
    from (select recipe_id, words, unnest(list_distinct(words)) as word from title)
    where word in (select word from dish_name)
),
word_count as (
    select word, count(*) as recipes from word_title group by word
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
    from (select * from said anti join made_here using (recipe_id, line_no)) as said
    join part_title on part_title.name_key = said.name_key
    join home as other on other.recipe_id = part_title.first
    where said.dish or (said.said_piece <> '' and not said.known and other.file = said.file)
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
