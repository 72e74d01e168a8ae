"""The demo figure of this project: a 2.1 m otter with a lantern, made by script, cut for the printer.

``python -m demo.figure OUT_DIR`` writes ``parts/*.stl`` and ``truth.json``.
Which module answers which question:

* ``sdf`` - how far is a point from a simple solid, and how are solids blended?
* ``noise`` - which repeatable randomness roughens the fur?
* ``otter`` - what does the figure look like outside, and where is its cavity?
* ``sampling`` - which triangles bound a level set?
* ``frames`` - where is a plane, and how are solids cut and sliced there?
* ``layout`` - where is the figure cut, and with what is each cut closed?
* ``cells`` - which pieces do the cuts leave?
* ``flanges`` - which rings and which bolt places does a cut get?
* ``hatch``, ``lantern``, ``timber`` - the pieces that are drawn rather than grown.
* ``truth`` - what joins what, with areas, seams and bolts?
* ``build`` - all of it in order; ``export`` - the files.
"""
