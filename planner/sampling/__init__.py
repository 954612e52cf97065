"""Draw a survey round from the register and write who is to be asked."""
