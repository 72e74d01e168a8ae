"""The nouns of the job: frozen records that every layer above hands around. No logic of its own.

==========================  ==========================================================================================
question                    asked of
==========================  ==========================================================================================
what is it called           `ids`; `titles`: titles of steps, made of values
what is joined              `parts`, `mesh`, `joints`, `hardware`; `frames`, `sides`: which way is up, where is left
what does the shop decide   `settings`, `tolerances`
what is to be done          `plan`; `division`: what travels as one, `consignment`: in which crates; `calendar`: when,
                            by whom, where; `findings`: what a person has to know
what is shown               `pictures`, `printed` (for the book after it), `exposure`
how do records go to files  `records`
==========================  ==========================================================================================
"""
