"""The built-in plugins of Sizewright."""
