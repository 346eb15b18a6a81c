"""The open pattern interchange format: ASTM D6673-10, also ANSI/AAMA-292.

A DXF drawing with a block for each piece and size, and a text file of grade rules beside it.
"""
