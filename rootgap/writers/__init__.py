"""Files: DXF, true-size sheets, cut list, manifest, and the folder they stand in."""
