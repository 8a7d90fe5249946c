"""One setup: its frame, the workholding placed on the as-is solid, what each step removes, and the carry."""
