"""From recordings to a reading with verdicts."""
