"""Finding claps in a recording and telling them from everything else."""
