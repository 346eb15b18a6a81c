"""Photographs of paper patterns: the sheet that is printed, and the reader of JPEG and PNG."""
