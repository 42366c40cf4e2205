-- sql/report_pages.sql: what the pages of a stretch of recipes show, as JSON, a piece a row.
-- in      tables of a run and of its pages; report_stretch, some rows of report_order
-- out     one row per piece, those of a recipe together and in order: n of the recipe, kind, place, row:
--         an array of the place in its file, the kind of piece and its cells, as paged.PIECES names them
-- params  $size: recipes a file; $least: probability of an explanation that is shown
with published as (  -- some columns are only there where a recipe has a row
    select null as caption, null as note, null as energy_from, null as schema_org, null as kcal,
           null as protein_g, null as carbs_g, null as fat_g, null as fiber_g, null as sugar_g,
           null as satfat_g, null as sodium_mg, null as salt_g, null as basis
    where false
    union all by name
    select * from $corrected
),
claim as (
    select null as words, null as claim, null as jurisdiction, null as status, null as reason where false
    union all by name
    select * from $claims
),
piece as (
    select recipe_id, 0 as kind, 0 as place, json_array(
        'recipe', title, verdict, accepted, round(coverage, 6), source, source_line, creator, servings,
        serving_word, servings_how, round(weight_g, 3), weight_basis, why, other
    )::varchar as cells
    from report_stretch left join $page_fact using (recipe_id)
    union all
    select recipe_id, 1, row_number() over (), json_array(
        'findings', nutrient, stated, computed, low, high,
        case when isinf(allowed) then to_json('inf') else to_json(allowed) end, verdict, basis
    )::varchar
    from $page_finding
    union all
    select recipe_id, 2, row_number() over (), json_array(
        'publish', basis, caption, note, energy_from, schema_org, kcal, protein_g, carbs_g, fat_g,
        fiber_g, sugar_g, satfat_g, sodium_mg, salt_g
    )::varchar
    from published
    union all
    select recipe_id, 3, rank, json_array('explanations', kind, round(probability, 6), detail)::varchar
    from $explanations where rank = 1 or probability >= $least
    union all
    select recipe_id, 4, row_number() over (), json_array('checks', message)::varchar
    from $page_check
    union all
    select recipe_id, 5, row_number() over (), json_array('advice', advice)::varchar
    from $page_doubt where advice <> '' and share >= 0.1
    union all
    select recipe_id, 6, row_number() over (), json_array(
        'claims', words, claim, jurisdiction, status, reason
    )::varchar
    from claim
    union all
    select recipe_id, 7, row_number() over (), json_array('problems', what, text, fix)::varchar
    from $problems
    union all
    select recipe_id, 8, line_no, json_array(
        'lines', line_no, part_of, text, names_food, food_id, description, food_source, grams,
        grams_low, grams_high, basis, weigh_reason, round(confidence, 6), status,
        if(status <> 'accepted' or not names_food, reason, null), kcal, more.role,
        if(status <> 'accepted' and more.others <> '', string_split(more.others, chr(10)), null)
    )::varchar
    from $lines left join $page_line as more using (recipe_id, line_no)
)
select n, kind, place, '[' || n % $size || ',' || cells[2:] as row
from piece join report_stretch using (recipe_id)
order by n, kind, place
