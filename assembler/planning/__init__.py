"""An order that can be carried out, and its independent check."""
