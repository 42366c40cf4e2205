-- sql/report_problems.sql: what could not be read as it stands, by code.
-- in      $problems: of a run
-- out     one row per (severity, code), the gravest and then the commonest first, with the first of
--         them as an example: n, source, source_line, what, why, fix, text
with placed as (
    select *, row_number() over () as place from $problems
)
select
    severity, code, count(*) as n,
    arg_min(coalesce(source, ''), place) as source,
    arg_min(source_line, place) as source_line,
    arg_min(coalesce(what, ''), place) as what,
    arg_min(coalesce(why, ''), place) as why,
    arg_min(coalesce(fix, ''), place) as fix,
    arg_min(coalesce(text, ''), place) as text
from placed
group by severity, code
order by list_position(['error', 'warning'], severity) nulls last, n desc, code
