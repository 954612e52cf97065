-- read_whole: one mark over every value of a table: each of its blocks is read.
-- grain:  one row
-- params:
-- reads:  {table}
-- feeds:  store.sealing
select
    count(*)::bigint as rows_count,
    bit_xor(hash(whole))::varchar as mark,
from {table} as whole
