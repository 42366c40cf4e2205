-- sql/report_pages.sql: what the pages of some recipes show, as JSON, by the names paged.js reads.
-- in      report_order and the tables of a run sorted by n: sorted_finding, sorted_line, sorted_published,
--         sorted_explanation, sorted_claim, sorted_problem, sorted_check, sorted_advice, sorted_fact
-- out     one row a chunk of $size recipes: chunk, rows (JSON objects, a line each); chunks in order
-- params  $first, $last: of n, whole chunks; $size
with here as (  -- lists are joined as text: JSON in JSON would be read and written once more a level
    select * from report_order where n >= $first and n < $last
),
finding as (
    select n, string_agg(json_array(
        nutrient, stated, computed, low, high,
        case when isinf(allowed) then to_json('inf') else to_json(allowed) end,
        verdict, basis
    )::varchar, ',' order by place) as rows
    from sorted_finding where n >= $first and n < $last group by n
),
line as (
    select n, string_agg(json_array(
        line_no, part_of, text, names_food, food_id, description, food_source, grams,
        grams_low, grams_high, basis, weigh_reason, round(confidence, 6), status,
        if(status <> 'accepted' or not names_food, reason, null), kcal, role,
        if(status <> 'accepted', others, null)
    )::varchar, ',' order by place) as rows
    from sorted_line where n >= $first and n < $last group by n
),
published as (
    select n, string_agg(json_object(
        'basis', basis, 'caption', caption, 'note', note, 'energy_from', energy_from,
        'schema_org', schema_org, 'values', json_object(
            'kcal', kcal, 'protein_g', protein_g, 'carbs_g', carbs_g, 'fat_g', fat_g,
            'fiber_g', fiber_g, 'sugar_g', sugar_g, 'satfat_g', satfat_g, 'sodium_mg', sodium_mg,
            'salt_g', salt_g)
    )::varchar, ',' order by place) as rows
    from sorted_published where n >= $first and n < $last group by n
),
explanation as (
    select n, string_agg(json_array(kind, round(probability, 6), detail)::varchar, ',' order by rank) as rows
    from sorted_explanation where n >= $first and n < $last group by n
),
claim as (
    select n, string_agg(json_array(words, claim, jurisdiction, status, reason)::varchar, ',' order by place) as rows
    from sorted_claim where n >= $first and n < $last group by n
),
problem as (
    select n, string_agg(json_array(what, text, fix)::varchar, ',' order by place) as rows
    from sorted_problem where n >= $first and n < $last group by n
),
checked as (
    select n, string_agg(to_json(message)::varchar, ',' order by place) as rows
    from sorted_check where n >= $first and n < $last group by n
),
advice as (
    select n, list(advice order by share desc)[:3] as rows
    from sorted_advice where n >= $first and n < $last and advice <> '' and share >= 0.1 group by n
)
select
    n // $size as chunk,
    string_agg(
        rtrim(json_object(
            'title', title, 'verdict', verdict, 'accepted', accepted, 'coverage', round(coverage, 6),
            'source', source, 'source_line', source_line, 'creator', creator, 'servings', servings,
            'serving_word', serving_word, 'servings_how', servings_how,
            'weight_g', round(weight_g, 3), 'weight_basis', weight_basis, 'why', why, 'other', other
        )::varchar, '}')
        || ',"findings":[' || coalesce(finding.rows, '') || '],"publish":[' || coalesce(published.rows, '')
        || '],"explanations":[' || coalesce(explanation.rows, '')
        || '],"checks":[' || coalesce(checked.rows, '')
        || '],"advice":' || coalesce(to_json(advice.rows)::varchar, '[]')
        || ',"claims":[' || coalesce(claim.rows, '') || '],"problems":[' || coalesce(problem.rows, '')
        || '],"lines":[' || coalesce(line.rows, '') || ']}',
        ',' || chr(10) order by n
    ) as rows
from here
left join (select * from sorted_fact where n >= $first and n < $last) using (n)
left join finding using (n)
left join line using (n)
left join published using (n)
left join explanation using (n)
left join claim using (n)
left join problem using (n)
left join checked using (n)
left join advice using (n)
group by chunk
order by chunk
