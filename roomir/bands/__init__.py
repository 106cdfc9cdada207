"""Octave and third-octave bands and the filters that cut them out."""
