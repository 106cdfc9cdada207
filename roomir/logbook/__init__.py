"""What is kept for years: rooms, their stages, takes with their recordings, and readings."""
