"""From a plan and its meshes to pictures.

Work passes through from top to bottom.

================================  ====================================================================================
question                          asked of
================================  ====================================================================================
what is drawn, by whom, kept how  `pictures`; a step as it is handed over: `drawnstep`; full and light meshes:
                                  `bodies`; another axis up: `upright`
what stands where                 `stage`, with `scenes`, `hardwaremodels`, `explode` (how far apart), `carriers`
                                  (a base without a mesh, stands) and `mating` (where two parts face each other)
from where it is seen             `viewpoints`, `camera`; `parting` measures how far apart in that view
what the camera sees              `studio` (bodies uploaded once), `raster` (the renderer), `shot` (what came of it)
how it becomes a drawing          `linework`, `style`, `image`
what lies over it                 `annotations`, `callouts`, `turning`, as SVG by `overlay`
which pictures there are          `stepview`, cut to its sheet by `composition` with `keyfigure`; `details`:
                                  `faceview` with `beads`, `cutview`, `stacksection`; the whole: `overview`
can two prints be told apart      `sameness`
================================  ====================================================================================

Doors: `pictures` draws; `drawnstep` has the notes it is handed; `style` the print sizes; `sameness` compares prints.
"""

DOORS = ("drawnstep", "pictures", "sameness", "style")
"""Modules that other rooms import; all others are this room's own."""
