"""What the pages are filled into: data, escaped by the template library; style and script are ours alone."""
