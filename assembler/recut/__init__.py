"""Re-cuts: what differs from an earlier book, what keeps its number, and how to go on from what stands.

=============================  ===================================================================================
question                       asked of
=============================  ===================================================================================
which file is which part       `identity`: geometry goes before the name; `motion`: did the whole export slip
what differs                   `compare`, which asks `partfates` (with `regrouping` for splits), `jointfates`,
                               `stepfates` and `supplies`; `wording` makes JSON and sentences of the answer
which numbers stay             `numbering` (steps), `benches`; `stepmatch` says which step is which
what stands, what comes out    `asbuilt`, which asks `standing` and `opening`; `retiming` makes the calendar anew
when are two things the same   `likeness`: the tolerances of this room
=============================  ===================================================================================
"""
