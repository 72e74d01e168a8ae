"""The nouns of the job: frozen records that every layer above hands around. No logic of its own."""
