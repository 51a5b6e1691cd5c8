"""The typeface of reports, shipped so that every machine prints the same page."""
