"""The steps of the work, one file each."""
