-- detach_file: write an attached file out to its end and let it go.
-- grain:  one file
-- params:
-- reads:
-- feeds:  store.drafts
detach {alias}
