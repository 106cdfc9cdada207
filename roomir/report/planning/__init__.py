"""Predictions, absorbers and proposals as words, tables and documents."""
