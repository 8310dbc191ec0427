"""Shapes as arrays: frames, surfaces, unrolled curves, lines and arcs. numpy only."""
