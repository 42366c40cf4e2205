-- sql/bulk_needed.sql: recipes that a part needs because its recipes use them, however far down.
-- in      uses(key, used_key): keys begin with the six digits of their part
--         company(part, used_key): recipes it needs besides, see bulk_company.sql
-- out     one row per (part, used_key); used_part is the part it is read from
with recursive needed as (
    select key[1:6]::integer as part, used_key from uses
    union
    select part, used_key from company
    union
    select needed.part, uses.used_key
    from needed
    join uses on uses.key = needed.used_key
)
select part, used_key, used_key[1:6]::integer as used_part
from needed
order by all
