"""From a plan and its meshes to pictures."""
