-- sql/snapshot_profile.sql: food profiles read in Python into lists and columns.
-- in      profile_read: one row a food, lists as text with ";" between, "" when empty
-- out     food_profile, one row a food_id
insert into food_profile by name
select
    profile_read.* exclude (
        head, kind, part, states, derived, treated, "group", also, beside, denied, segments, langual
    ),
    list_filter(string_split(head, ';'), lambda word: word <> '') as head,
    list_filter(string_split(kind, ';'), lambda word: word <> '') as kind,
    list_filter(string_split(part, ';'), lambda word: word <> '') as part,
    list_filter(string_split(states, ';'), lambda word: word <> '') as states,
    list_filter(string_split(derived, ';'), lambda word: word <> '') as derived,
    list_filter(string_split(treated, ';'), lambda word: word <> '') as treated,
    list_filter(string_split("group", ';'), lambda word: word <> '') as "group",
    list_filter(string_split(also, ';'), lambda word: word <> '') as also,
    list_filter(string_split(beside, ';'), lambda word: word <> '') as beside,
    list_filter(string_split(denied, ';'), lambda word: word <> '') as denied,
    list_filter(string_split(segments, ';'), lambda word: word <> '') as segments,
    list_filter(string_split(langual, ';'), lambda word: word <> '') as langual
from profile_read;
