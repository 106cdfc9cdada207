"""Reading many recordings, each by itself, in parallel and over interruptions."""
