"""Exercises that mark themselves: an invented item, an answer to commit to, and what would have come of it.

Items are drawn from a seed, answers are marked by the functions that plan real treatments, and the usual
wrong ways are known by name.
"""
