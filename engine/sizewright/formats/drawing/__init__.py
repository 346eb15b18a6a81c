"""What any drawing can say, with no file format in it, and the pattern understood from it.

A reader of files hands over a `Drawing`: shapes in mm in the groups and layers that they stand
in. What loose lines, loops in one another, names and words mean is settled here, once for all
formats.
"""
