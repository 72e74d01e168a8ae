"""An order that can be carried out, and its independent check.

Work passes through from top to bottom; `order` calls it.

==============================  ======================================================================================
question                        asked of
==============================  ======================================================================================
what is the figure              `scene`
what has a way out              `directions`, `obstacles`, `blocking`; in two legs: `twolegs`; turned: `swings`
what can hands and tools reach  `handsizes`, `handgrids`, `handzones`, `handroom`; `boltends`, `toolroom`; both:
                                `access`, `closable`
what carries what               `support`, `onbolts`, `gravity`; the ground and the base: `ground`; `stands`
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

Doors, six: `order` plans, `buildtime` lays it on the working hours, `standing` has findings that name steps,
`finalstand`, `verify` and `explain` answer alone.
"""

DOORS = ("buildtime", "explain", "finalstand", "order", "standing", "verify")
"""Modules that other rooms import; all others are this room's own."""
