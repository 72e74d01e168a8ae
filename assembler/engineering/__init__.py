"""Fastening, bonding, lifting, standing: formulas with their sources, no meshes.

A shelf: each module answers for itself, and any room above may ask it.

==================================  ==================================================================================
question                            asked of
==================================  ==================================================================================
what goes through a hole            `fastening`, which asks `holes`, `selection`, `lengths`, `decisions` (what no
                                    table decides)
how is it tightened                 `tightening` (how hard), `patterns` (in which order), `spacing`
how is it glued                     `bonding`, `curing`
does a joint carry                  `loads`: what hangs on it; `bondstress`, `boltsalone`, `handling` (not yet cured)
who lifts what, who reaches         `lifting`, `niosh`, `armreach`
does it stand                       `standing`, `exposure` (wind, people), `pushing` (while it is built), `basejoint`,
                                    `transport`, `lashing`; `passing`: doors, corners, vehicle; `crating`
how much, how heavy, how long       `counting`, `finishing`, `weights`, `worktimes`, `schedule`,
                                    `scheduling`, `workhours`
what is wrong, what is open         `checks`, `plausibility`; `questions`: what only the shop knows
how is it shown and how sure is it  `worksheet` with `bondsheet`, `boltsheet`, `calculation`; `provenance`,
                                    `constants`
==================================  ==================================================================================
"""
