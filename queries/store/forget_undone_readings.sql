-- forget_undone_readings: drop how cells of a load that is taken back were read.
-- grain:  load_id, table_name, sheet, column_name, kind
-- params: load_id
-- reads:  load_readings
-- feeds:  store.undoing
delete from load_readings
where load_id = $load_id
