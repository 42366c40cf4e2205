-- sql/bulk_runner.sql: the runners-up of the texts that each part holds.
-- in      joined(part, text): of bulk_join
--         $runner: runner_up(text, rank, ...) of the whole collection
-- out     one row per (part, text, rank)
select wanted.part, runner.*
from (select distinct part, text from joined) as wanted
join $runner as runner using (text)
