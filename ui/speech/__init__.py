"""A Said, worded in the person's language, units, decimal mark and time zone."""
