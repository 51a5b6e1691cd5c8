"""JSON schemas of the documents that Cornerwise writes."""
