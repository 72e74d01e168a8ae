"""The demo: an otter with a lantern for an invented riverside park, generated, surveyed and put into a book."""
