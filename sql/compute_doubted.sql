-- compute_doubted.sql: foods chosen for a text that may mean another food.
-- in      counted_line (compute_line.sql); runner_up: RUNNER_UP of pipeline/tables.py
-- out     one row a (text, food): doubt_id, text, food_id, food, doubt (1 less the confidence)
select row_number() over () as doubt_id, *
from (
    select distinct text, food_id, food, 1 - confidence as doubt
    from counted_line
    where role = 'counted'
        and (confidence < 1 or text in (select text from runner_up where left_open > 0))
)
