"""The book: what stands on each page, and the files made of it."""
