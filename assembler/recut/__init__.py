"""Re-cuts: what differs from an earlier book, what keeps its number, and how to go on from what stands.

============================  ========================================================================================
question                      asked of
============================  ========================================================================================
which file is which part      `identity`: geometry goes before the name; did the whole export slip
what differs                  `compare`, which asks `partfates` (with `regrouping` for splits), `jointfates`,
                              `stepfates` and `supplies`
how is it told                `changes`: the record and its file; `wording`: sentences; `marks`: on pages and in
                              pictures
which numbers stay            `numbering` (steps, benches, times); `stepmatch` says which step is which
what stands, what comes out   `asbuilt`, which asks `standing` and `opening`
may a step be recorded        `recordable`
when are two things the same  `likeness`: the tolerances of this room
============================  ========================================================================================

Doors, nine: each is asked at another moment of a trip; the other modules are asked by these alone.
"""

DOORS = ("asbuilt", "changes", "compare", "identity", "likeness", "marks", "numbering", "recordable", "wording")
"""Modules that other rooms import; all others are this room's own."""
