"""Attacks from outside: hostile, broken and careless input must neither harm nor crash."""
