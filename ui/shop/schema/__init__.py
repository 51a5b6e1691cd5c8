"""The shop's database, version by version: plain SQL, applied in the order of the files' names, never edited."""
