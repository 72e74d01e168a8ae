"""The whole trip on one page: from meshes to a book. Read this first.

====================  ==============================================================  ==========================
stage                 takes                                                           gives
====================  ==============================================================  ==========================
`project`             a project folder: meshes, figure.toml, joints.toml              `Project`
engineering           joints, settings                                                `Stack`, `Bonding` records
planning              parts, meshes, joints, stacks, bondings                         `Plan`
planning.verify       plan.json and meshes, nothing else                              `Finding` records
drawing               plan, meshes                                                    `Picture` records and PNGs
publishing            plan, pictures                                                  build-book.pdf and tables
recut                 two plans                                                       `Changes`
====================  ==============================================================  ==========================
"""

from __future__ import annotations
