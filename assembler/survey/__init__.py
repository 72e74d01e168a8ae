"""Joints and holes found in meshes.

Work passes through from top to bottom.

======================  ==============================================================================================
question                asked of
======================  ==============================================================================================
which parts came        `intake`: healed bodies (`intakebody`), sizes that fit one figure (`partsizes`)
can they be used        `partcheck`; `crossings`: which pass through themselves, not asked on a quick survey
which parts meet        `nearness`: which faces are close; `contacts`: over which areas they touch
which holes are bolts   `bolting`, by joint; `boltchains`: one bolt through several joints
which joints are there  `joints`, which gathers the answers; `seams`: how much of an edge is seen
what is left open       `jointfindings`; `groundholes`: holes to the ground that no joint explains
how does a joint look   `jointfaces`: face-on, with numbered holes
======================  ==============================================================================================

Doors, six, in the order in which a project asks: `intake`, `partcheck`, `crossings`, `joints`, `groundholes`,
`jointfaces`.
"""

DOORS = ("crossings", "groundholes", "intake", "jointfaces", "joints", "partcheck")
"""Modules that other rooms import; all others are this room's own."""
