-- compute_line_wide.sql: what each line brings to its recipe, a column a nutrient.
-- in      counted_line (compute_line.sql); line_value (compute_value.sql, compute_sub_recipe.sql)
-- out     one row a line that names a food, in the order of recipe_id and line_no; rel_var, rel_shift: variance of the
--         grams over their square, mean of the grams over them less one
-- params  $values: any_value(amount) filter (where n = NUMBER) as COLUMN, one a nutrient
with value as (
    select
        value.line,
        max((value.var_grams + case when counted.role = 'recipe' then value.var_match else 0 end)
            / (value.amount * value.amount)) filter (where value.amount > 0) as rel_var,
        max_by(value.shift / value.amount, value.amount) filter (where value.amount > 0)
            as rel_shift,
        $values
    from line_value as value
    join (select line, role from counted_line) as counted using (line)
    group by value.line
)
select line.line, line.line_no, line.grams, line.amount as amount_of_unit, line.confidence,
       line.role, value.* exclude (line)
from counted_line as line
left join value using (line)
order by line.recipe_id, line.line_no
