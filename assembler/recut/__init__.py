"""What differs between two revisions."""
