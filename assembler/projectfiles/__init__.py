"""The files of a project folder: read with readable faults, written in place without losing hand edits.

A shelf: each module answers for its file.

=======================================  =============================================================================
question                                 asked of
=======================================  =============================================================================
where do files lie, who may change them  `folder`, `locking`; `writing`: whole or not at all
how are they read                        `toml` and `jsonfile`: complaints become faults with their place, in the
                                         words and with the lines of `valuewords`
figure.toml                              `figurefile`, first written by `figuretemplate`, explained by `figurekeys`;
                                         `logofile`, `svgcontent`: the logo
joints.toml, surveyed.json               `jointsfile`, `jointrecords`, `jointstext`; edited in place: `jointedit`
what becomes of hand edits               `jointmerge`, `heirs` (of a part cut in two)
ids.toml, built.toml                     `idledger`, `builtlog`
plan.json, the folder of a book          `planfile`, `bookfolder`
has anything changed                     `inputdigest`, `keptmeshes`
=======================================  =============================================================================
"""
