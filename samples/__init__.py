"""Sample jobs, and the wood model that made them."""
