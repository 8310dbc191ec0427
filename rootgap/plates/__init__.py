"""What flange plates are measured and held against: other plates, caliper distances, drawn outlines, pipe."""
