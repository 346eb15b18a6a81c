"""What any drawing can say, with no file format in it."""
