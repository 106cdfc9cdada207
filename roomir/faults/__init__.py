"""What the recorder or the site did to a take, as against what the room does."""
