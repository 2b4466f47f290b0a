"""Suggesters: one module per kind of defect, independent of each other, and `every` that asks them all."""
