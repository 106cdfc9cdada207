"""The page: a small server on the builder's own computer that a phone's browser talks to."""
