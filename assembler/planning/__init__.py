"""An order that can be carried out, and its independent check.

Work passes through from top to bottom; `order` calls it.

==============================  ======================================================================================
question                        asked of
==============================  ======================================================================================
what is the figure              `scene`
what has a way out              `directions`, `obstacles`, `blocking`; in two legs: `twolegs`; turned: `swings`
what can hands and tools reach  `handsizes`, `handgrids`, `handzones`, `handfields`, `handroom`;
                                `boltends`, `toolroom`; both: `access`, `closable`; which step shuts what: `shut`
what carries what               `support`, `onbolts`, `gravity`; the ground and the base: `ground`; `stands`
what travels as one             `division`, which asks `sectionfit` (does it pass), `sectioncuts` (which joints can be
                                closed on site), `sectionsets` (the fewest)
which order                     `search`, with `guide` (the issued order), `candidates`, `pieces`, `joining`,
                                `weights`
on which bench                  `benches`
when                            `calendar` roughly, `wholecost` with it; on the working hours: `buildtime`,
                                which asks by `worknetwork`
what the book says of it        `steps`, with `headings`, `turns`, `trialfits`, `reasons`; findings: `remedies`,
                                `standing`
why a step stands there         `explain`
what wind and people do         `finalstand`
is the plan true                `verify`, `recount`, `carried`, `oncalendar`: they share nothing with the planner but
                                the mesh
==============================  ======================================================================================

Doors, six: `division` finds sections, `order` plans and explains, `buildtime` lays the plan on the working hours,
`standing` has findings that name steps, `finalstand` and `verify` answer alone.
"""

DOORS = ("buildtime", "division", "finalstand", "order", "standing", "verify")
"""Modules that other rooms import; all others are this room's own."""
