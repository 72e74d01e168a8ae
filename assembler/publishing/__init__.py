"""Five documents for five readers: what stands on each page, and the files made of it.

Work passes through from top to bottom.

===============================  =====================================================================================
question                         asked of
===============================  =====================================================================================
what pages draw on               `source`; `words` (every string), `workdays` (hours); `supplies` (all that is bought);
                                 `quantities` and `wording` write numbers and lists, `rings` draws the clock of a joint
what the crew book says          `pages`, the records; `frontpages`, `cautions`, `ordergraph`, `days`, `steppages` with
                                 `stepwords`, `nuts` and `closures`, `endpages`, `changepages`
what the other documents say     `engineer`, `shop` with `carpentry` (crates), `cards`; `contactsheet` is also written
                                 by a survey; for the site: `install`, with `installmarks`, `cratedrawings`, `baseplan`
how large it is set              `sheets`, `steplayout`; `fitting` finds text cut off
how it becomes HTML              `pieces` (page numbers, revisions), filled by `templating` within `bounds`;
                                 `bookpictures`: files a page may show
how it becomes PDF               `pdf` sets, `rasters` and `tagging` put pictures and structure right, `binding` binds
what is written                  `book`, all of it; `changesheet`; `tables`: hardware.csv and hardware.xlsx
do numbers in words have a rule  `wordnumbers`
===============================  =====================================================================================

Doors, four: `book`, `changesheet` and `contactsheet` write; `source` makes what they are handed.
"""

DOORS = ("book", "changesheet", "contactsheet", "source")
"""Modules that other rooms import; all others are this room's own."""
