"""How sections travel: beds, crates, the floor of the vehicle.

Work passes through from top to bottom; `consignment` calls it.

=============================  =======================================================================================
question                       asked of
=============================  =======================================================================================
how does a section lie         `bedding`
what is round it               `crates`
where does it stand, what      `loading`
holds it
everything                     `consignment`
=============================  =======================================================================================

Doors: `consignment` alone.
"""

DOORS = ("consignment",)
"""Modules that other rooms import; all others are this room's own."""
