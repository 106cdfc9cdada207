"""Takes with the faults that phones and building sites put on them, each with its truth.

A clean take is drawn by :mod:`.base`: claps in a room whose decay times are set, over a
background of known level. A fault is a function of a clean take and a :class:`.draw.Draw`; it
models what the recorder, the codec or the neighbour does, and knows nothing of how roomir looks
for it. :data:`.kinds.KINDS` names them all.
"""
