-- compute_doubted.sql: foods chosen for a text that may mean another food.
-- in      counted_line (compute_line.sql)
--         runner_up(text, food, probability, left_open): RUNNER_UP of pipeline/tables.py by numbers
-- out     one row per (text, food): doubt_id, text, food, doubt (1 less the confidence), where the
--         doubt widens a range or the words leave a kind open
-- params  $rare: see compute_match_doubt.sql
select row_number() over () as doubt_id, *
from (
    select distinct text, food, 1 - confidence as doubt
    from counted_line
    where role = 'counted'
        and (1 - confidence > $rare or text in (select text from runner_up where left_open > 0))
)
