"""The drawing surface of the page: a component of our own in plain JavaScript."""
