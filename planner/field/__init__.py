"""From registration to a thriving bin: places, hand-over days, visits, calls and cases."""
