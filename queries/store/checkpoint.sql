-- checkpoint: write what was committed from the log into the file.
-- grain:  one file
-- params:
-- reads:
-- feeds:  store.drafts
checkpoint
