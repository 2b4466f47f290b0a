"""Making faults good: patch, slice, splice, edge strip, filler, and the offcut the wood comes from."""
