"""Geometric questions: arrays in, arrays out."""
