"""Fastening, bonding, lifting, standing: formulas with their sources, no meshes."""
