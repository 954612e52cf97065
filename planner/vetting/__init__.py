"""Files of others, read in a process of their own whose memory and time are limited."""
