"""Geometric questions: arrays in, arrays out.

A shelf: each module answers for itself, and any room above may ask it.

=====================================  ===============================================================================
question                               asked of
=====================================  ===============================================================================
which bodies does a file hold          `meshfiles`, which asks `announced` (can it hold that), `foreignfiles` and
                                       `stepfiles`; `meshfault`: what is wrong
can a body be used                     `healing`, `touching` (several solids in one file), `selfcrossings`, `overlaps`
how large, how heavy, seen before      `solids`, `fingerprints`; `orientedboxes`: in many positions
where do bodies meet                   `samples` and `opposed` (near and facing); flat: `flats`, `outlines`, `facing`;
                                       else `curved`, `jagged` (its edge)
how do faces look, where do they end   `facenormals`, `rims`
where are holes, whither do they lead  `circles`, `openings`, `holes`, `walls`, `wallholes`, `holepairs`
what is in the way                     `sweeps`: along a direction, and exactly; `columns`: how far can it slide
what can a hand reach                  `freespace`, `wayin`, `flatpush`
what is seen from outside              `visibility`
=====================================  ===============================================================================
"""
