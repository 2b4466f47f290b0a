"""A seeded model of a log, boards sawn from it, and a camera that photographs them.

Everything about a board is known exactly: both faces, its edges, and the
outline, face and depth of every fault, because all are read from one solid.
"""
