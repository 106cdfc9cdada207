"""Decays, rooms and takes whose truth is known, for tests, demos and benchmarks."""
