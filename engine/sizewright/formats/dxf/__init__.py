"""DXF in and out. `ezdxf` is imported only when a file is read."""
