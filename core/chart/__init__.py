"""One patient's record: the documents of a chart and the chain they form. Pure."""
