"""One state of a room against another: what changed, by how much, and how sure that is."""
