"""Room physics that needs no recording: volumes, distances, statistical formulas."""
