"""Sheets of paper: boards, summary, glue-ups, labels, buying list, true-size tiles."""
