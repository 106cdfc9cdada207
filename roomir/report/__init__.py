"""What a person sees: a reading as plain data for the screen, as a document and as a table."""
