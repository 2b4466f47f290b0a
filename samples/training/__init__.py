"""Training of the small net behind the suggested marks: made hardwood first, scans as one domain of many."""
