"""Message catalogues, one pair a language: `de.po` is written by people, `de.mo` made of it by `make_catalogues`."""
