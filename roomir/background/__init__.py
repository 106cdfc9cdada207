"""What is to be heard while nobody claps."""
