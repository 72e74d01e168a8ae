"""Published tables as data files with their sources, and their loader."""
