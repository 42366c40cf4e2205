-- sql/bulk_texts.sql: the distinct texts of a collection, like ones together.
-- in      $line: line(text), every part
-- out     one row per text; place counts from 0. Texts are ordered by their letters without the
--         first word (an amount's unit, as a rule), so that one worker meets a food's name again
--         and again and answers it once.
select
    text,
    row_number() over (
        order by regexp_replace(lower(text), '^[^a-z]*[a-z]+[^a-z]+|[^a-z ]', '', 'g'), text
    ) - 1 as place
from (select distinct text from $line) as distinct_text
