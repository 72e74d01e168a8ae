"""The book: what stands on each page, and the files made of it.

Work passes through from top to bottom.

===============================  =====================================================================================
question                         asked of
===============================  =====================================================================================
what pages draw on               `source`, `words` (every string), `workdays` (hours); `quantities` and `wording`
                                 write numbers and lists
what stands on a page            `pages`, the records; composed by `frontpages`, `hardwarepages`, `days`,
                                 `ordergraph`, `steppages` (with `stepwords`, `cautions`), `endpages`,
                                 `appendixpages`, `changepages`
how large it is set              `sheets`, `steplayout`; `fitting` finds text cut off
how it becomes HTML              `pieces`, filled by `templating` within `bounds`; `bookpictures`: files a page may
                                 show
how it becomes PDF               `pdf` sets, `rasters` and `tagging` put pictures and structure right, `binding` binds
since when it reads so           `printed`
what is written                  `book` and what lies beside it: `labels`, `tables`, `spreadsheet`, `changesheet`; for
                                 a survey: `contactsheet`
do numbers in words have a rule  `wordnumbers`
===============================  =====================================================================================

Doors, six: `book`, `changesheet` and `contactsheet` write; `source`, `words` and `workdays` make what they are handed.
"""

DOORS = ("book", "changesheet", "contactsheet", "source", "words", "workdays")
"""Modules that other rooms import; all others are this room's own."""
