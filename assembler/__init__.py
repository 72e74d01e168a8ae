"""Assembly instruction generator for figures printed in many parts."""

__version__ = "0.1.0"
