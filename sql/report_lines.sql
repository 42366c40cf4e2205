-- sql/report_lines.sql: the lines of every recipe in the order of a report.
-- in      $lines: of a run; $page_line: role and other foods of some of them; report_order
-- out     one row a line: n, place, columns for report_pages.sql
select
    n, row_number() over (partition by n order by line.line_no) as place, line.line_no, part_of, text,
    names_food, food_id, description, food_source, grams, grams_low, grams_high, basis, weigh_reason,
    confidence, status, reason, kcal, more.role,
    case when more.others <> '' then string_split(more.others, chr(10)) end as others
from $lines as line
join report_order using (recipe_id)
left join $page_line as more using (recipe_id, line_no)
order by n, line.line_no
