"""Joints and holes found in meshes."""
