"""Published tables as data files with their sources. `tables` looks up, `records` are the rows it gives back."""
