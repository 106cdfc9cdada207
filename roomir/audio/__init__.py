"""Sound as a value (``recording``) and the one place that opens files (``load``)."""
